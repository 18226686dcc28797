"""Pictures of a bow out of its plane: how far from flipping, and in which shape it would.

As in `bowfem.show.plot.bow`: each takes and returns axes, and opens no window.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.findings import DrawLength
from bowfem.show.plot.bow import BLUE, GREY, INK, OCHRE, PALE, new_axes
from bowfem.show.plot.limb import HEIGHT, WIDTH, _below, _grid, _head
from bowfem.units import System, convert, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.findings import SideStability

#: Factor above which a point is drawn at the upper edge, and factors marked.
FAR, FLIPS, WARNED = 10.0, 1.0, 1.5
#: Largest shift drawn, as a share of the limb's length.
AMOUNT = 0.12


def sideways_over_draw(
    walk: Walk, stable: SideStability, ax: Any = None, system: System = "us"
) -> Any:
    """Plot how many times the string's pull a limb bears sideways, strung, braced and drawn.

    Parameters
    ----------
    walk : Walk
        The walk.
    stable : SideStability
        What was found of it sideways.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        Left of the brace height the bow as it is strung, its nock point free; from there on the
        nock point held by the fingers. What is above 10 is drawn at 10.
    """
    ax = new_axes(ax, WIDTH, HEIGHT, (1.0, 0.5, 1.0, 0.6))
    held = np.minimum(stable.held, FAR)
    ax.plot(
        DrawLength.of(walk, walk.draw).number(system),
        held,
        color=BLUE,
        lw=2.0,
        label="nock point held by the fingers",
    )
    ax.plot(
        DrawLength.of(walk, stable.strung[:, 0]).number(system),
        np.minimum(stable.strung[:, 1], FAR),
        color=OCHRE,
        lw=1.4,
        marker="o",
        label="free: being strung, and braced",
    )
    for level, style, text in ((FLIPS, "-", "it flips"), (WARNED, "--", "too near")):
        ax.axhline(level, color=INK, lw=1.0, ls=style)
        ax.annotate(
            text,
            (0.995, level),
            xycoords=("axes fraction", "data"),
            xytext=(0, 2),
            textcoords="offset points",
            ha="right",
            color=INK,
            fontsize=9,
        )
    most = max(float(np.max(held)), float(np.max(np.minimum(stable.strung[:, 1], FAR))), 2.0)
    ax.set_ylim(0.0, 1.08 * most)
    kind = "AMO" if walk.design.draw.measure == "amo" else "to the pivot"
    ax.set_xlabel(f"nock point, {kind} ({shown_unit('length', system)})")
    ax.set_ylabel("times the string's pull\nthat rolls a limb over")
    _grid(ax)
    _below(ax, 2)
    _head(ax, walk, "how far from flipping sideways", None, 6)
    return ax


def flipping_shape(walk: Walk, stable: SideStability, ax: Any = None, system: System = "us") -> Any:
    """Plot the weaker limb as the archer sees it, straight and in the shape in which it gives way.

    Parameters and return as of `sideways_over_draw`. How far it goes is not to scale.
    """
    ax = new_axes(ax, WIDTH, 0.6 * HEIGHT, (1.0, 0.5, 1.0, 0.6))
    limb = walk.limb(stable.side)
    s = np.asarray(convert(limb.s, "length", system))
    half = 0.5 * np.asarray(convert(limb.width, "length", system))
    amount = AMOUNT * s[-1]
    shift = np.interp(limb.s, stable.shape.s, stable.shape.shift)
    shift = amount * shift / np.max(np.abs(shift))
    ax.fill_between(s, -half, half, color=PALE, label="straight", lw=0)
    ax.fill_between(
        s, shift - half, shift + half, color=OCHRE, alpha=0.55, lw=0, label="as it gives way"
    )
    ax.plot(s, shift, color=INK, lw=1.0)
    ax.axhline(0.0, color=GREY, lw=0.8, ls=":")
    ax.set_aspect("equal", adjustable="datalim")
    unit = shown_unit("length", system)
    ax.set_xlabel(f"distance from the bow's centre ({unit})")
    ax.set_ylabel(f"sideways ({unit}),\nnot to scale")
    _grid(ax)
    _below(ax, 2)
    _head(ax, walk, "its weakest shape, seen by the archer", stable.side, 6)
    return ax
