"""Picture of a section: its outline as formed, and loaded with the stress of its wall."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np

from bowfem.bow import SmoothCurve
from bowfem.findings import SectionState
from bowfem.show.plot.bow import GREY, INK, MAP, new_axes
from bowfem.show.text.tables import printable
from bowfem.units import System, convert, shown_unit

#: Longest line of a title, letters.
TITLE = 44
#: Points drawn along the wall.
WALL_POINTS = 121


def section_picture(state: SectionState, ax: Any = None, system: System = "us") -> Any:
    """Draw a section from the tip, belly up, with the stress along the limb in colour.

    Parameters
    ----------
    state : SectionState
        The section and its bending.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        Tension is positive. The outline as formed is dashed.
    """
    stress, outline = state.stress, state.outline
    tall = 4.2 * max(outline.thickness / outline.width, 0.55)
    ax = new_axes(ax, 4.2, tall, (0.8, 1.4, 1.0, 0.5))
    knots, first = np.unique(stress.arc, return_index=True)
    arc = np.linspace(0.0, knots[-1], WALL_POINTS)
    x, y, level = (
        np.stack([SmoothCurve.through(knots, v[first]).at(arc) for v in values.T], axis=1)
        for values in (stress.x, stress.y, stress.longitudinal)
    )
    x, y = convert(x, "length", system), convert(y, "length", system)
    level = convert(level, "stress", system)
    top = float(np.max(np.abs(level))) or 1.0
    mesh = None
    for side in (1.0, -1.0):
        mesh = ax.pcolormesh(
            side * x, y, level, shading="gouraud", cmap=MAP, vmin=-top, vmax=top, zorder=2
        )
        for j in (0, -1):
            ax.plot(side * x[:, j], y[:, j], color=INK, lw=0.8, zorder=3)
    for offset in (-0.5, 0.5):
        x = outline.x + offset * outline.wall * outline.normal_x
        y = outline.y + offset * outline.wall * outline.normal_y
        x, y = np.append(x, x[0]), np.append(y, y[0])
        ax.plot(
            convert(x, "length", system),
            convert(y, "length", system),
            color=GREY,
            lw=1.0,
            ls=(0, (4, 2)),
            zorder=1,
            label="as formed" if offset > 0 else None,
        )
    length = shown_unit("length", system)
    ax.set_aspect("equal", adjustable="datalim")
    ax.set_xlabel(f"across the limb ({length})")
    ax.set_ylabel(f"belly up ({length})")
    bar = ax.inset_axes((1.05, 0.0, 0.04, 1.0))
    unit = shown_unit("stress", system)
    ax.figure.colorbar(mesh, cax=bar, label=f"stress along the limb ({unit})")
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.22), frameon=False)
    title = textwrap.fill(printable(f"section, {state.title}"), TITLE).replace("$", r"\$")
    ax.set_title(title, color=INK, fontsize=11)
    return ax
