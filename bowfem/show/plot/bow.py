"""Pictures of a walk, drawn on the axes given, or on new ones, which are returned.

matplotlib is imported inside the functions; no window is opened and no global state is touched.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.findings import DrawLength
from bowfem.show.text.tables import printable
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk

# Neutral darks beside cividis, a colour map that reads alike with and without colour vision.
INK, GREY, PALE = "#1a1a1a", "#8a8a8a", "#c9d2dc"
BLUE, OCHRE = "#00336f", "#b8860b"
#: Reads alike with and without colour vision, and in grey.
MAP = "cividis"


#: Room around the axes of a new figure, in: left, right, bottom, top.
ROOM = (0.85, 0.85, 0.65, 0.7)
#: Longest part, in letters, of a bow's name in a title.
NAME = 30


def new_axes(ax: Any, width: float, height: float, room: tuple[float, ...] = ROOM) -> Any:
    """Return the axes given, or new ones of that size, in, with room for their labels."""
    if ax is not None:
        return ax
    from matplotlib.figure import Figure

    left, right, bottom, top = room
    wide, high = left + width + right, bottom + height + top
    place = (left / wide, bottom / high, width / wide, height / high)
    return Figure(figsize=(wide, high)).add_axes(place)


def _title(ax: Any, walk: Walk, text: str) -> None:
    """Write the bow's name above the axes, and below it what is shown."""
    name = printable(walk.design.name)
    name = name if len(name) <= NAME else f"{name[: NAME - 3]}..."
    name = name.replace("$", r"\$")  # a dollar sign would start mathematics
    ax.set_title(
        f"{name}\n{text}{' (stopped early)' if walk.message else ''}", color=INK, fontsize=11
    )


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
    ax = new_axes(ax, 6.0, 3.8)
    draw = DrawLength.of(walk, walk.draw).number(system)
    weight = convert(walk.force, "force", system)
    energy = convert(walk.energy, "energy", system)
    ax.fill_between(draw, weight, color=PALE, lw=0)
    (line,) = ax.plot(draw, weight, color=BLUE, lw=2.2, label="weight")
    right = ax.twinx()
    (stored,) = right.plot(draw, energy, color=OCHRE, lw=1.6, ls="--", label="energy since brace")
    handles = [line, stored]
    if walk.message:
        (cross,) = ax.plot(
            draw[-1],
            weight[-1],
            "x",
            color=INK,
            ms=9,
            mew=2.2,
            clip_on=False,
            zorder=5,
            label=f"stopped: {walk.ending.key.replace('_', ' ')}",
        )
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
    at = DrawLength.of(walk, walk.draw[-1]).text(system)
    _title(ax, walk, f"{show(walk.force[-1], 'force', system, 3)} at {at}")
    return ax


def _mirrored(walk: Walk) -> tuple[tuple[LimbStates, float], ...]:
    """Return both limbs, with -1 where the upper one is to be shown as its mirror image."""
    upper, lower = walk.limbs
    return (upper, 1.0), (lower, -1.0 if walk.is_symmetric else 1.0)


def _tip_to_tip(upper: np.ndarray, lower: np.ndarray) -> np.ndarray:
    """Join two limbs, each given from the bow's centre out; from lower to upper tip."""
    return np.concatenate([lower[::-1], upper[1:]])


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

    upper, lower = walk.limbs
    every_x = np.concatenate(
        [
            part.ravel()
            for limb in walk.limbs
            for part in (limb.unbraced_x, limb.x[[0, -1]], limb.string_x[[0, -1]])
        ]
    )
    every_y = np.concatenate(
        [
            side * part.ravel()
            for limb, side in _mirrored(walk)
            for part in (limb.unbraced_y, limb.y[[0, -1]])
        ]
    )
    margin = 0.04 * float(np.max(np.abs(every_y)))
    low, high = float(np.min(every_x)) - 2 * margin, float(np.max(every_x)) + 2 * margin
    bottom, top_end = float(np.min(every_y)) - 2 * margin, float(np.max(every_y)) + 2 * margin
    tall = 6.8
    wide = float(np.clip(tall * (high - low) / (top_end - bottom), 3.4, 9.0))
    ax = new_axes(ax, wide, tall, (0.85, 1.35, 1.35, 0.7))
    length = shown_unit("length", system)
    # one scale for all bows within yield
    top = max(float(convert(np.max(walk.yield_share), "share", system)), 100.0)
    below = -1.0 if walk.is_symmetric else 1.0

    def line(x: Sequence[np.ndarray], y: Sequence[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
        xs, ys = _tip_to_tip(*x), _tip_to_tip(y[0], below * y[1])
        return convert(xs, "length", system), convert(ys, "length", system)

    ax.plot(
        *line((upper.unbraced_x, lower.unbraced_x), (upper.unbraced_y, lower.unbraced_y)),
        color=GREY,
        lw=3.0,
        ls=(0, (2, 1.2)),
        label="unbraced",
    )
    limbs = None
    last = walk.draw.size - 1
    states: list[tuple[int, Any, str]] = [(0, (0, (5, 2)), "string at brace")]
    if last > 0:
        end = "full draw" if not walk.message else "last draw"
        at = DrawLength.of(walk, walk.draw[-1]).text(system)
        states.append((last, "-", f"string at {end}, {at}"))
    for state, style, label in states:
        # from the nock point to the groove, and on to the axis of the limb
        string_x = [np.append(one.string_x[state, ::-1], one.x[state, -1]) for one in walk.limbs]
        string_y = [np.append(one.string_y[state, ::-1], one.y[state, -1]) for one in walk.limbs]
        ax.plot(*line(string_x, string_y), color=INK, lw=1.1, ls=style, label=label, zorder=2)
        xs, ys = line([one.x[state] for one in walk.limbs], [one.y[state] for one in walk.limbs])
        points = np.stack([xs, ys], axis=-1)
        share = [convert(one.yield_share[state], "share", system) for one in walk.limbs]
        whole = _tip_to_tip(share[0], share[1])
        limbs = LineCollection(
            list(np.stack([points[:-1], points[1:]], axis=1)),
            array=0.5 * (whole[:-1] + whole[1:]),
            cmap=MAP,
            clim=(0.0, top),
            linewidths=5.0,
            capstyle="round",
            zorder=3,
        )
        ax.add_collection(limbs)
    # the archer on the left: x grows to the left
    ax.set_xlim(*convert(np.array([high, low]), "length", system))
    ax.set_ylim(*convert(np.array([bottom, top_end]), "length", system))
    ax.set_aspect("equal", adjustable="box")
    ax.set_xlabel(f"toward the archer ({length})")
    ax.set_ylabel(f"along the bow ({length})")
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    bar = ax.inset_axes((1.06, 0.2, 0.045, 0.6))
    ax.figure.colorbar(limbs, cax=bar, label="limb (its axis): strain, % of yield strain")
    if top > 100.0:  # where a set begins
        bar.axhline(100.0, color="white", lw=2.5)
        bar.axhline(100.0, color=INK, lw=1.0, gid="yield")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.08), frameon=False)
    _title(ax, walk, "unbraced, braced, drawn")
    return ax


def png(ax: Any) -> bytes:
    """Return the figure of some axes as the content of a PNG file."""
    with io.BytesIO() as buffer:
        ax.figure.savefig(buffer, format="png", dpi=130, facecolor="white")
        return buffer.getvalue()
