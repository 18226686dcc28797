"""Pictures of a shot: where the energy is over time, and what arrows from light to heavy get.

As in `bowfem.show.plot.bow`: each takes and returns axes, and opens no window.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.show.plot.bow import BLUE, GREY, INK, OCHRE, PALE, new_axes
from bowfem.show.plot.limb import HEIGHT, WIDTH, _below, _grid, _head
from bowfem.units import System, convert, shown_unit

if TYPE_CHECKING:
    from bowfem.findings import Shots


def energy_in_time(shots: Shots, ax: Any = None, system: System = "us") -> Any:
    """Plot where the work of the draw is, from the fingers on.

    Parameters
    ----------
    shots : Shots
        The shot.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        Shares one above the other, in per cent of the work; what the arrow has taken along stays
        its own. A line marks where it leaves.
    """
    ax = new_axes(ax, WIDTH, HEIGHT, (1.0, 1.0, 1.1, 0.6))
    shot, motion = shots.shot, shots.shot.motion
    scale = 100.0 * (3.0 - len(motion.nodes)) / shot.work
    limbs, end, _, lost, air = scale * motion.energy[:, 2:].T
    gone = motion.time > shot.time
    arrow = 50.0 * shot.arrow * np.sum(motion.speed**2, axis=1) / shot.work
    arrow[gone] = 100.0 * shot.efficiency
    on = np.where(gone, end, np.maximum(end - arrow, 0.0))
    parts = {
        "arrow": (arrow, BLUE),
        "lost in plastic and air": (lost + air, GREY),
        "moving limbs and string": (limbs + on, OCHRE),
        "bent and stretched, above the braced bow": (
            np.maximum(100.0 - arrow - lost - air - limbs - on, 0.0),
            PALE,
        ),
    }
    ax.stackplot(
        1e3 * motion.time,
        *(values for values, _ in parts.values()),
        labels=tuple(parts),
        colors=[colour for _, colour in parts.values()],
    )
    ax.axvline(1e3 * shot.time, color=INK, lw=1.0)
    ax.set_xlim(0.0, float(1e3 * motion.time[-1]))
    ax.set_ylim(0.0, 100.0)
    ax.set_xlabel("time since the fingers let go (ms); the line: the arrow leaves")
    ax.set_ylabel("share of the work (%)")
    _below(ax, 2)
    _head(ax, shots.walk, "where the work goes in the shot", None, 6, both=True)
    return ax


def tension_in_time(shots: Shots, ax: Any = None, system: System = "us") -> Any:
    """Plot the string's tension in and after the shot; parameters as of `energy_in_time`."""
    ax = new_axes(ax, WIDTH, HEIGHT, (1.0, 1.0, 1.1, 0.6))
    shot, motion = shots.shot, shots.shot.motion
    names = ("string",) if len(motion.nodes) == 1 else ("upper half", "lower half")
    for name, tension, colour in zip(names, motion.tension.T, (BLUE, OCHRE), strict=False):
        values = convert(tension, "force", system)
        ax.plot(1e3 * motion.time, values, color=colour, lw=1.6, label=name)
    rest = float(convert(shots.walk.brace_tension, "force", system))
    ax.axhline(rest, color=GREY, lw=1.2, ls="--", label="at brace")
    ax.axvline(1e3 * shot.time, color=INK, lw=1.0)
    ax.set_xlim(0.0, float(1e3 * motion.time[-1]))
    ax.set_ylim(0.0, None)
    ax.set_xlabel("time since the fingers let go (ms); the line: the arrow leaves")
    ax.set_ylabel(f"tension ({shown_unit('force', system)})")
    _grid(ax)
    _below(ax, 3)
    _head(ax, shots.walk, "the string in and after the shot", None, 6, both=True)
    return ax


def shapes_in_time(shots: Shots, ax: Any = None, system: System = "us") -> Any:
    """Plot the limbs at some instants of the shot; parameters as of `energy_in_time`.

    Drawn, three on the way, where the arrow leaves, and where limbs are bent most after that.
    """
    ax = new_axes(ax, WIDTH, 1.1 * HEIGHT, (1.0, 1.0, 1.1, 0.6))
    shot, motion = shots.shot, shots.shot.motion
    times = [0.0, *(shot.time * np.array([0.4, 0.7, 0.9, 1.0]))]
    if shot.after is not None:
        times.append(shot.after.fold.time)
    colours = [PALE, PALE, PALE, PALE, BLUE, OCHRE]
    labels = ["drawn, and on the way", None, None, None, "the arrow leaves", "bent most after it"]
    for time, colour, label in zip(times, colours, labels, strict=False):
        at = int(np.argmin(np.abs(motion.time - time)))
        for side, y in ((1.0, 0), (-1.0, len(motion.nodes) - 1)):
            nodes = convert(motion.nodes[y][at], "length", system)
            ax.plot(
                side * nodes[:, 0],
                nodes[:, 1],
                color=colour,
                lw=2.0,
                label=label if side > 0 else None,
            )
    ax.set_aspect("equal")
    ax.set_xlabel(f"along the bow ({shown_unit('length', system)})")
    ax.set_ylabel(f"toward the archer ({shown_unit('length', system)})")
    _grid(ax)
    _below(ax, 3)
    _head(ax, shots.walk, "the limbs in and after the shot", None, 6, both=True)
    return ax


def speed_over_mass(shots: Shots, ax: Any = None, system: System = "us") -> Any:
    """Plot speed and efficiency over the arrow's mass; parameters as of `energy_in_time`."""
    ax = new_axes(ax, WIDTH, HEIGHT, (1.0, 1.0, 1.1, 0.6))
    mass = convert(np.array([each.arrow for each in shots.others]), "mass", system)
    speed = convert(np.array([each.speed for each in shots.others]), "speed", system)
    share = 100.0 * np.array([each.efficiency for each in shots.others])
    ax.plot(mass, speed, color=BLUE, lw=2.0, marker="o", ms=4, label="speed")
    ax.plot([], [], color=OCHRE, lw=2.0, ls="--", label="share of the work (right)")
    now = shots.shot
    ax.plot(
        convert(now.arrow, "mass", system),
        convert(now.speed, "speed", system),
        "o",
        ms=9,
        mfc="none",
        color=INK,
        label="this arrow",
    )
    ax.set_xlabel(f"mass of the arrow ({shown_unit('mass', system)})")
    ax.set_ylabel(f"speed ({shown_unit('speed', system)})")
    ax.set_ylim(0.0, None)
    right = ax.twinx()
    right.plot(mass, share, color=OCHRE, lw=2.0, ls="--")
    right.set_ylim(0.0, 100.0)
    right.set_ylabel("share of the work (%)")
    right.tick_params(colors=GREY)
    _grid(ax)
    _below(ax, 3)
    _head(ax, shots.walk, "arrows from light to heavy", None, 6, both=True)
    return ax
