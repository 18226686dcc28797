"""Plots of levers and studies."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.show.plot.bow import BLUE, GREY, INK, OCHRE, PALE, new_axes
from bowfem.show.text.orders import amount_text
from bowfem.show.text.studies import BARS, LITTLE, ranked_causes, scaled
from bowfem.show.text.tables import printable
from bowfem.units import System, convert, shown_unit

if TYPE_CHECKING:
    from bowfem.orders import Learned, Levers, Study


def _short(name: str) -> str:
    """Return a bow's name as a title has room for it."""
    name = printable(name)
    return (name if len(name) <= 30 else f"{name[:27]}...").replace("$", r"\$")


def levers_picture(found: Levers, ax: Any = None, system: System = "us") -> Any:
    """Draw a bar for what each move does to weight and to the peak share of yield.

    Parameters
    ----------
    found : Levers
        The effects.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        One pair of bars a move, the first on top.
    """
    effects = found.effects[::-1]
    ax = new_axes(ax, 5.4, 0.62 * len(effects) + 0.4, (2.9, 0.4, 0.75, 0.95))
    weight = [float(convert(each.weight, "force", system)) for each in effects]
    strain = [100.0 * each.yield_share for each in effects]
    rows = range(len(effects))
    unit = shown_unit("force", system)
    ax.barh([r + 0.2 for r in rows], weight, 0.36, color=BLUE, label=f"weight ({unit})")
    ax.barh([r - 0.2 for r in rows], strain, 0.36, color=OCHRE, label="peak strain (% of yield)")
    names = [
        textwrap.fill(f"{each.move.name}, {amount_text(each, system)}", 30).replace("$", r"\$")
        for each in effects
    ]
    ax.set_yticks(list(rows), names)
    ax.axvline(0.0, color=INK, lw=0.9)
    far = 1.28 * max(*(abs(x) for x in weight), *(abs(x) for x in strain), 1e-6)
    ax.set_xlim(-far, far)
    for values, shift in ((weight, 0.2), (strain, -0.2)):
        for row, value in zip(rows, values, strict=True):
            ax.annotate(
                f"{round(value, 1) + 0.0:+.1f}",
                (value, row + shift),
                (4 if value >= 0 else -4, 0),
                textcoords="offset points",
                va="center",
                ha="left" if value >= 0 else "right",
                fontsize=8,
                color=INK,
            )
    ax.set_xlabel("change by the move")
    ax.grid(True, axis="x", color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    ax.legend(loc="lower center", bbox_to_anchor=(0.35, 1.0), ncols=2, frameon=False)
    name = _short(found.design.name)
    ax.set_title(f"{name}: what each move does", color=INK, fontsize=11, pad=26)
    return ax


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
    causes = [(key, share) for key, share in ranked_causes(found) if share > LITTLE][:BARS][::-1]
    new = ax is None
    ax = new_axes(ax, 4.6, 3.6, (0.75, 6.1 if causes else 0.4, 0.65, 0.75))
    weight, unit = scaled(found.figure("weight"), "force", system)
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
    name = _short(found.plan.design.name)
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


def learned_picture(
    found: Learned, order: float | None = None, ax: Any = None, system: System = "us"
) -> Any:
    """Draw what is known of a bow's weight, before and after it was measured.

    Parameters
    ----------
    found : Learned
        What was learned.
    order : float, optional
        Weight ordered, N.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure, with the estimates beside them.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        The axes of the weight.
    """
    new = ax is None
    ax = new_axes(ax, 4.6, 3.6, (0.4, 4.8, 0.65, 0.75))
    one, unit = (scaled(np.ones(1), "force", system)[0][0], shown_unit("force", system))
    reach = found.before_weight + np.linspace(-3.5, 3.5, 400) * found.before_error
    close = found.weight + np.linspace(-4.0, 4.0, 400) * found.weight_error
    at = np.union1d(reach, close)
    for mean, error, colour, text in (
        (found.before_weight, found.before_error, OCHRE, "before"),
        (found.weight, found.weight_error, BLUE, "measured"),
    ):
        density = np.exp(-0.5 * ((at - mean) / error) ** 2) / (error * np.sqrt(2.0 * np.pi))
        ax.fill_between(one * at, density / one, color=colour, alpha=0.35, lw=0)
        ax.plot(one * at, density / one, color=colour, lw=1.4, label=text)
    if order is not None:
        ax.axvline(one * order, color=INK, lw=1.0, ls="--", label="ordered")
    ax.set_yticks([])
    ax.set_ylim(0.0, None)
    ax.set_xlabel(f"weight at full draw ({unit})")
    ax.legend(loc="lower center", bbox_to_anchor=(0.5, 0.99), ncols=3, frameon=False)
    name = _short(found.design.name)
    ax.set_title(f"{name}: learned", color=INK, fontsize=11, pad=24)
    if new:
        wide, high = ax.figure.get_size_inches()
        bars = ax.figure.add_axes((6.8 / wide, 0.65 / high, 2.9 / wide, 3.6 / high))
        rows = np.arange(len(found.names))[::-1]
        bars.barh(rows, 2.0 * np.ones(rows.size), 0.5, left=-1.0, color=OCHRE, alpha=0.35)
        z, half = found.estimate / found.before, found.error / found.before
        bars.errorbar(z, rows, xerr=half, fmt="o", color=BLUE, capsize=3)
        bars.axvline(0.0, color=GREY, lw=0.8)
        bars.set_yticks(rows, found.names)
        bars.set_xlabel("in standard deviations known before")
    return ax
