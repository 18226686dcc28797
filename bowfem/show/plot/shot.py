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
    """Plot where the work of the draw is, from the fingers to where the arrow leaves.

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
        Shares one above the other, in per cent of the work; the line is the string's tension, on
        the right.
    """
    ax = new_axes(ax, WIDTH, HEIGHT, (1.0, 1.0, 1.1, 0.6))
    shot, motion = shots.shot, shots.shot.motion
    time = 1e3 * motion.time
    limbs = 200.0 * motion.energy[:, 2] / shot.work
    arrow = 50.0 * shot.arrow * motion.speed**2 / shot.work
    rest = 100.0 - arrow - limbs
    ax.stackplot(
        time,
        arrow,
        limbs,
        np.maximum(rest, 0.0),
        labels=("arrow", "moving limbs", "bend and string"),
        colors=(BLUE, OCHRE, PALE),
    )
    ax.set_xlim(0.0, float(time[-1]))
    ax.set_ylim(0.0, 100.0)
    ax.set_xlabel("time since the fingers let go (ms)")
    ax.set_ylabel("share of the work (%)")
    force = ax.twinx()
    force.plot(time, convert(motion.tension, "force", system), color=INK, lw=1.2)
    force.set_ylim(0.0, None)
    force.set_ylabel(f"tension of the string ({shown_unit('force', system)}), line")
    _grid(ax)
    _below(ax, 3)
    _head(ax, shots.walk, "where the work goes in the shot", None, 6)
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
    _head(ax, shots.walk, "arrows from light to heavy", None, 6)
    return ax
