"""Pictures of a walk, drawn on the axes given, or on new ones, which are returned.

matplotlib is imported inside the functions; no window is opened and no global state is touched.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.show.summary import allowance, summarize
from bowfem.show.tables import draw_text, printable
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow.walk import Walk

# Neutral darks beside cividis, a colour map that reads alike with and without colour vision.
INK, GREY, PALE = "#1a1a1a", "#8a8a8a", "#c9d2dc"
BLUE, OCHRE = "#00336f", "#b8860b"
MAP = "cividis"


def _axes(ax: Any, width: float, height: float) -> Any:
    """Return the axes given, or those of a new figure of that size, in."""
    if ax is not None:
        return ax
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained").add_subplot()


def _title(walk: Walk, text: str) -> str:
    # a dollar sign would start mathematics
    name = printable(walk.design.name).replace("$", r"\$")
    return f"{name}: {text}" if not walk.message else f"{name}: {text} (stopped early)"


def _draw_label(walk: Walk, system: System) -> str:
    kind = "AMO" if walk.design.draw.measure == "amo" else "to the pivot"
    return f"draw length, {kind} ({shown_unit('length', system)})"


def draw_curve(walk: Walk, ax: Any = None, system: System = "us") -> Any:
    """Plot weight over draw length; the area below is the energy, also as a curve of its own.

    Parameters
    ----------
    walk : Walk
        The walk.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        The axes of the weight; the energy's share their draw axis.
    """
    ax = _axes(ax, 7.0, 4.6)
    summary = summarize(walk)
    draw = convert(walk.draw + allowance(walk), "length", system)
    weight = convert(walk.force, "force", system)
    energy = convert(walk.energy, "energy", system)
    ax.fill_between(draw, weight, color=PALE, lw=0)
    (line,) = ax.plot(draw, weight, color=BLUE, lw=2.2, label="weight")
    right = ax.twinx()
    (stored,) = right.plot(draw, energy, color=OCHRE, lw=1.6, ls="--", label="energy since brace")
    handles = [line, stored]
    if walk.message:
        (cross,) = ax.plot(
            draw[-1], weight[-1], "x", color=INK, ms=9, mew=2.2, clip_on=False, zorder=5,
            label=f"stopped: {walk.stop.name.lower().replace('_', ' ')}",
        )  # fmt: skip
        handles.append(cross)
    room = 1.08
    ax.set_ylim(0.0, room * max(float(np.max(weight)), 1e-6))
    right.set_ylim(0.0, room * max(float(np.max(energy)), 1e-6))
    if draw[-1] > draw[0]:
        ax.set_xlim(draw[0], draw[-1] + 0.02 * (draw[-1] - draw[0]))
    ax.set_xlabel(_draw_label(walk, system))
    ax.set_ylabel(f"weight ({shown_unit('force', system)})", color=BLUE)
    right.set_ylabel(f"energy since brace ({shown_unit('energy', system)})", color=OCHRE)
    for side, colour in ((ax, BLUE), (right, OCHRE)):
        side.tick_params(axis="y", colors=colour)
        side.spines["top"].set_visible(False)
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    ax.legend(handles=handles, loc="upper left", frameon=False)
    reached = f"{show(summary.weight, 'force', system, 3)} at "
    ax.set_title(_title(walk, reached + draw_text(walk, summary.draw, system)), color=INK)
    return ax


def _whole(half: np.ndarray, sign: float) -> np.ndarray:
    """Join the lower limb, the mirror image, to the upper one; from tip to tip."""
    return np.concatenate([sign * half[::-1], half[1:]])


def shapes(walk: Walk, ax: Any = None, system: System = "us") -> Any:
    """Plot both limbs unbraced, at brace and at the last draw, coloured by the share of yield.

    Parameters
    ----------
    walk : Walk
        The walk.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        Equal scales; the archer is on the left.
    """
    from matplotlib.collections import LineCollection

    tall = float(np.ptp(walk.unbraced_y)) / max(
        float(max(np.max(walk.string_x), np.max(walk.x)) - np.min(walk.unbraced_x)), 0.2
    )
    ax = _axes(ax, float(np.clip(12.0 / max(tall, 0.5) / 2.0, 6.2, 9.0)), 8.0)
    length = shown_unit("length", system)
    share = convert(walk.yield_share, "share", system)
    top = max(float(np.max(share)), 1e-3)
    shown: list[tuple[np.ndarray, np.ndarray]] = []

    def line(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        xs = convert(_whole(x, 1.0), "length", system)
        ys = convert(_whole(y, -1.0), "length", system)
        shown.append((xs, ys))
        return xs, ys

    ax.plot(*line(walk.unbraced_x, walk.unbraced_y), color=GREY, lw=3.0, ls=(0, (2, 1.2)),
            label="unbraced")  # fmt: skip
    limbs = None
    last = walk.draw.size - 1
    states: list[tuple[int, Any, str]] = [(0, (0, (5, 2)), "string at brace")]
    if last > 0:
        end = "full draw" if not walk.message else "last draw"
        states.append((last, "-", f"string at {end}, {draw_text(walk, walk.draw[-1], system)}"))
    for state, style, label in states:
        # the string runs tip to nock point; reversed it starts at the nock point, as `_whole` asks
        ax.plot(*line(walk.string_x[state, ::-1], walk.string_y[state, ::-1]), color=INK, lw=1.1,
                ls=style, label=label, zorder=2)  # fmt: skip
        xs, ys = line(walk.x[state], walk.y[state])
        points = np.stack([xs, ys], axis=-1)
        whole = _whole(share[state], 1.0)
        limbs = LineCollection(
            list(np.stack([points[:-1], points[1:]], axis=1)), array=0.5 * (whole[:-1] + whole[1:]),
            cmap=MAP, clim=(0.0, top), linewidths=5.0, capstyle="round", zorder=3,
        )  # fmt: skip
        ax.add_collection(limbs)
    every_x, every_y = (np.concatenate(parts) for parts in zip(*shown, strict=True))
    margin = 0.04 * float(np.ptp(every_y))
    # the archer on the left: x grows to the left
    ax.set_xlim(float(np.max(every_x)) + margin, float(np.min(every_x)) - margin)
    ax.set_ylim(float(np.min(every_y)) - margin, float(np.max(every_y)) + margin)
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlabel(f"toward the archer ({length})")
    ax.set_ylabel(f"along the bow ({length})")
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    ax.figure.colorbar(limbs, ax=ax, shrink=0.6, label="strain, % of yield strain")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.09), frameon=False)
    ax.set_title(_title(walk, "shape from unbraced to drawn"), color=INK)
    return ax


def strain_along(walk: Walk, ax: Any = None, system: System = "us") -> Any:
    """Plot the strain of belly and back along the limb, at brace and at the last draw.

    Parameters
    ----------
    walk : Walk
        The walk.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        Tension is positive; level lines are the yield strains, where the material has any.
    """
    ax = _axes(ax, 7.0, 4.6)
    s = convert(walk.s, "length", system)
    for state, style, when in ((0, "--", "at brace"), (-1, "-", "at the last draw")):
        for values, colour, side in (
            (walk.strain_back, BLUE, "back"), (walk.strain_belly, OCHRE, "belly"),
        ):  # fmt: skip
            ax.plot(s, convert(values[state], "share", system), color=colour, ls=style,
                    lw=1.8, label=f"{side} {when}")  # fmt: skip
    tension, compression = walk.design.material.yield_strains()
    levels = [level for level in (tension, -compression) if np.isfinite(level)]
    for level in levels:
        ax.axhline(convert(level, "share", system), color=INK, lw=0.9, ls=":",
                   label="yield" if level == levels[0] else None)  # fmt: skip
    ax.set_xlim(0.0, float(s[-1]))
    ax.set_xlabel(f"distance from the bow's centre ({shown_unit('length', system)})")
    ax.set_ylabel("strain along the limb (%), tension positive")
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.16), ncols=3, frameon=False)
    ax.set_title(_title(walk, "strain along the limb"), color=INK)
    return ax


def png(ax: Any) -> bytes:
    """Return the figure of some axes as the content of a PNG file."""
    with io.BytesIO() as buffer:
        ax.figure.savefig(buffer, format="png", dpi=130, facecolor="white")
        return buffer.getvalue()
