"""What a study came to: table, ranking of causes, picture, columns for other programs."""

from __future__ import annotations

import csv
import io
from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.bow.design_fields import Quantity
from bowfem.bow.study import FIGURES
from bowfem.show.plots import BLUE, GREY, INK, OCHRE, PALE, new_axes
from bowfem.show.tables import labelled, printable, ruled, wrapped
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow.study import Study

#: Names of the figures as printed.
NAMES = {
    "weight": "weight",
    "energy": "energy",
    "yield_share": "of yield",
    "fold_share": "of folding",
    "clearance": "clearance",
    "string_length": "string",
    "brace_height": "brace",
}
#: Causes shown at most in the picture, and share of the variance that is still told.
BARS, LITTLE = 10, 0.0005


def _scaled(values: Any, kind: str, system: System) -> tuple[Any, str]:
    """Return values as shown, with their unit; shares in per cent."""
    if kind == "share":
        return 100.0 * np.asarray(values), "%"
    return convert(values, kind, system), shown_unit(kind, system)


def _causes(found: Study) -> list[tuple[str, float]]:
    """Return causes with their share of the weight's variance, the largest first."""
    shares = found.variance_shares()
    if not np.all(np.isfinite(shares)):
        return []
    pairs = zip(found.plan.keys, shares.tolist(), strict=True)
    return sorted(pairs, key=lambda pair: -pair[1])


def study_report(found: Study, band: tuple[float, float] | None, system: System) -> str:
    """Return the printed outcome of a study.

    Parameters
    ----------
    found : Study
        The study.
    band : tuple of float, optional
        Least and greatest weight that is sold as ordered, N.
    system : {"us", "metric"}
        Units.
    """
    plan, count = found.plan, len(found.reasons)
    solved = int(np.sum(found.solved))
    how = "a grid" if plan.is_grid else f"seed {plan.seed}"
    parts = [
        f"{printable(plan.design.name)}: {count} bows ({how}), {solved} of them drawn to full draw"
    ]
    if solved:
        rows = []
        for name, kind in FIGURES.items():
            values, unit = _scaled(found.figure(name), kind, system)
            low, middle, high = np.percentile(values, (5, 50, 95))
            numbers = (np.mean(values), np.std(values), low, middle, high)
            rows.append([NAMES[name], unit, *(f"{number:.4g}" for number in numbers)])
        heads = [["at full draw", "unit", "mean", "spread", "5 %", "half", "95 %"]]
        parts.append(ruled(heads, rows, left=2))
    lines = []
    if band is not None:
        share = 100.0 * found.share_within(*band)
        low, high = (show(each, "force", system, 4) for each in band)
        lines.append(("in the band", f"{share:.1f} % of all bows draw {low} to {high}"))
    if solved and np.isfinite(found.error):
        lines.append(
            (
                "checked",
                "bows made again from scratch, every section solved, differ in weight by "
                f"at most {100.0 * found.error:.1g} %",
            )
        )
    for reason, number in Counter(reason for reason in found.reasons if reason).most_common(8):
        lines.append(("failed", f"{number}: {printable(reason)}"))
    if lines:
        parts.append(labelled(lines))
    causes = _causes(found)
    if causes:
        rows = [[key, f"{100.0 * share:.1f}"] for key, share in causes if share > LITTLE]
        left = 1.0 - sum(share for _, share in causes)
        rows.append(["together, or bent", f"{100.0 * max(left, 0.0):.1f}"])
        parts.append(ruled([["cause", "% of the variance of the weight"]], rows, left=1))
        parts.append(wrapped("By linear regression on ranks."))
    return "\n\n".join(parts)


def study_columns(found: Study, system: System) -> dict[str, Any]:
    """Return the bows as columns named with their unit, in the order of their numbers."""
    kinds = dict(FIGURES)
    for key in found.plan.keys:
        spec = found.plan.written.spec(key)
        kinds[key] = spec.kind if isinstance(spec, Quantity) else ""
    columns: dict[str, Any] = {}
    for name, values in found.columns().items():
        if kinds.get(name):
            shown, unit = _scaled(values, kinds[name], system)
            columns[f"{name} ({unit})"] = shown
        else:
            columns[name] = values
    return columns


def study_file(found: Study, name: str, system: System) -> bytes:
    """Return the columns as a file: CSV, or where the name ends in .npz a numpy archive.

    Notes
    -----
    An empty cell, or nan, is a figure of a bow that failed; why is in the last column.
    """
    columns = study_columns(found, system)
    if name.lower().endswith(".npz"):
        archive = io.BytesIO()
        np.savez_compressed(archive, **columns)
        return archive.getvalue()
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    for row in zip(*(column.tolist() for column in columns.values()), strict=True):
        writer.writerow("" if each != each else each for each in row)
    return text.getvalue().encode()


def study_picture(
    found: Study, band: tuple[float, float] | None = None, ax: Any = None, system: System = "us"
) -> Any:
    """Draw how the weights are spread; on a new figure also what spreads them.

    Parameters
    ----------
    found : Study
        The study.
    band : tuple of float, optional
        Least and greatest weight that is sold as ordered, N.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        The axes of the weights.
    """
    causes = [(key, share) for key, share in _causes(found) if share > LITTLE][:BARS][::-1]
    new = ax is None
    ax = new_axes(ax, 4.6, 3.6, (0.75, 6.1 if causes else 0.4, 0.65, 0.75))
    weight, unit = _scaled(found.figure("weight"), "force", system)
    if band is not None:
        low, high = (float(convert(each, "force", system)) for each in band)
        text = f"the order: {100.0 * found.share_within(*band):.0f} % of all bows"
        ax.axvspan(low, high, color=PALE, lw=0, label=text)
        ax.legend(loc="lower center", bbox_to_anchor=(0.5, 0.99), frameon=False)
    if weight.size:
        bins = int(np.clip(np.sqrt(weight.size), 5, 60))
        ax.hist(weight, bins=bins, color=BLUE, edgecolor="white", lw=0.4)
    ax.set_xlabel(f"weight at full draw ({unit})")
    ax.set_ylabel("bows")
    name = printable(found.plan.design.name).replace("$", r"\$")
    name = name if len(name) <= 30 else f"{name[:27]}..."
    ax.set_title(f"{name}: {len(found.reasons)} bows", color=INK, fontsize=11, pad=24)
    if new and causes:
        figure = ax.figure
        wide, high = figure.get_size_inches()
        bars = figure.add_axes((8.2 / wide, 0.65 / high, 2.9 / wide, 3.6 / high))
        keys, shares = zip(*causes, strict=True)
        bars.barh(range(len(keys)), [100.0 * share for share in shares], 0.6, color=OCHRE)
        bars.set_yticks(range(len(keys)), keys)
        bars.set_xlim(0.0, 109.0)
        for row, share in enumerate(shares):
            bars.annotate(
                f"{100.0 * share:.1f}",
                (100.0 * share, row),
                (3, 0),
                textcoords="offset points",
                va="center",
                fontsize=8,
                color=INK,
            )
        bars.set_xlabel("% of the variance of the weight")
        bars.set_title("what spreads it", color=INK, fontsize=11, pad=24)
        bars.grid(True, axis="x", color=GREY, alpha=0.25, lw=0.6)
        bars.set_axisbelow(True)
    return ax
