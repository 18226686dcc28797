"""What a study came to: table, ranking of causes, picture, columns for other programs."""

from __future__ import annotations

import csv
import io
from collections import Counter
from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.design import Quantity
from bowfem.orders import FIGURES
from bowfem.show.text.tables import band_text, labelled, printable, ruled, wrapped
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.orders import Study, WeightBand

#: Names of the figures as printed.
NAMES = {
    "weight": "weight",
    "energy": "energy",
    "yield_share": "of yield",
    "fold_share": "of folding",
    "sideways_share": "of flipping",
    "clearance": "clearance",
    "string_length": "string",
    "brace_height": "brace",
    "arrow_speed": "arrow speed",
}
#: Causes shown at most in the picture, and the smallest share of the variance shown.
BARS, LITTLE = 10, 0.0005


def scaled(values: Any, kind: str, system: System) -> tuple[Any, str]:
    """Return values as shown, with their unit; shares in per cent."""
    if kind == "share":
        return 100.0 * np.asarray(values), "%"
    return convert(values, kind, system), shown_unit(kind, system)


def ranked_causes(found: Study) -> list[tuple[str, float]]:
    """Return causes with their share of the weight's variance, the largest first."""
    shares = found.variance_shares()
    if not np.all(np.isfinite(shares)):
        return []
    pairs = zip(found.plan.keys, shares.tolist(), strict=True)
    return sorted(pairs, key=lambda pair: -pair[1])


def study_report(
    found: Study,
    band: tuple[float, float] | None,
    system: System,
    predicted: WeightBand | None = None,
) -> str:
    """Return the printed outcome of a study.

    Parameters
    ----------
    found : Study
        The study.
    band : tuple of float, optional
        Least and greatest weight that is sold as ordered, N.
    system : {"us", "metric"}
        Units.
    predicted : WeightBand, optional
        The band of the design's weight, for what measuring the pipe would narrow it to.
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
            values, unit = scaled(found.figure(name), kind, system)
            values = values[np.isfinite(values)]
            if not values.size:  # of no bow, such as speeds where none was asked for
                continue
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
    if predicted is not None:
        lines.append(("band", band_text(predicted, system)))
    for reason, number in Counter(reason for reason in found.reasons if reason).most_common(8):
        lines.append(("failed", f"{number}: {printable(reason)}"))
    if lines:
        parts.append(labelled(lines))
    causes = ranked_causes(found)
    if causes:
        rows = [[key, f"{100.0 * share:.1f}"] for key, share in causes if share > LITTLE]
        left = 1.0 - sum(share for _, share in causes)
        rows.append(["interactions and nonlinearity", f"{100.0 * max(left, 0.0):.1f}"])
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
            shown, unit = scaled(values, kinds[name], system)
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
