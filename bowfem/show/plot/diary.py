"""A picture of a diary: weight when drawn, tension when strung, set when at rest, over time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.show.plot.bow import BLUE, INK, OCHRE, new_axes
from bowfem.show.plot.limb import HEIGHT, WIDTH, _below, _grid, _head
from bowfem.units import System, convert, shown_unit

if TYPE_CHECKING:
    from bowfem.findings import Diary


def diary_picture(found: Diary, ax: Any = None, system: System = "us") -> Any:
    """Plot weight and tension, and on the right the set of the tips, over time.

    Parameters
    ----------
    found : Diary
        The diary.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        Time in hours, evenly in its logarithm; bars are the band.
    """
    ax = new_axes(ax, WIDTH, HEIGHT, (1.0, 1.0, 1.1, 0.6))
    right = ax.twinx()
    time = np.array([each.time for each in found.states]) / 3600.0
    force, length = shown_unit("force", system), shown_unit("length", system)

    def band(name: str, kind: str) -> list[Any]:
        made = []
        for states in (found.states, found.low, found.high):
            values = [getattr(each, name) for each in states]
            if name == "tips":
                values = [max(each, key=abs) for each in values]
            made.append(convert(np.array(values), kind, system))
        return made

    for name, kind, label, colour, mark, axes in (
        ("weight", "force", "weight at full draw", BLUE, "o", ax),
        ("tension", "force", "tension when strung", INK, "s", ax),
        ("tips", "length", "set of the tips (right)", OCHRE, "^", right),
    ):
        middle, one, other = band(name, kind)
        known = np.isfinite(middle)
        ends = np.sort([one[known], other[known]], axis=0)
        error = np.abs(ends - middle[known])
        axes.errorbar(
            time[known], middle[known], error, color=colour, marker=mark, ms=5, lw=0.8, capsize=3
        )
        ax.plot([], [], color=colour, marker=mark, ms=5, lw=0.8, label=label)
    ax.set_xscale("log")
    ax.set_ylim(0.0, None)
    right.set_ylim(0.0, None)
    ax.set_xlabel("hours since it was first strung")
    ax.set_ylabel(f"weight, tension ({force})")
    right.set_ylabel(f"set ({length})")
    _grid(ax)
    _below(ax, 3)
    _head(ax, found.walk, "what time does to it", None, 6, both=True)
    return ax
