"""The pipe to scale with its marks and what to heat, and below it the jig's profile."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.show.page.board import SCALES
from bowfem.show.page.paper import MARGIN, Size, heading, limb_name, new_page
from bowfem.show.page.sheet_parts import stations
from bowfem.show.plot.bow import BLUE, GREY, INK, OCHRE
from bowfem.show.text.tables import fixed
from bowfem.units import System, as_marked, convert, shown_unit

if TYPE_CHECKING:
    from bowfem.design import Design, LimbShape, Side

#: Half the width of a mark's text on the jig's profile, as a share of the limb.
TEXT_ROOM = 0.085


#: Room left of both pictures, above the pipe for its marks, and below it for what to heat, m.
LEFT, ABOVE, BELOW = 0.024, 0.045, 0.018
#: Between the pipe's picture and the jig's, m.
GAP = 0.008
#: Least distance between two marks' texts, m.
APART = 0.0034


def jig_page(design: Design, size: Size, system: System) -> Any:
    """Draw each limb that differs: its half of the pipe as cut, and the jig under it."""
    figure = new_page(size)
    sides = design.distinct_sides
    longest = max(design.shape(side).length for side in sides)
    room = size[0] - MARGIN - LEFT - 0.008
    scale = next((n for n in SCALES if 1.02 * longest / n <= room), SCALES[-1])
    each = (size[1] - 2 * MARGIN - 0.012) / len(sides)
    for number, side in enumerate(sides):
        top = size[1] - MARGIN - 0.012 - number * each
        shape = design.shape(side)
        wide, pipe = 1.02 * shape.length / scale, design.pipe.outer_diameter / scale
        high = ABOVE + pipe + BELOW
        spot = (LEFT / size[0], (top - high) / size[1], wide / size[0], high / size[1])
        ax = figure.add_axes(spot)
        ax.set_xlim(0.0, wide)
        ax.set_ylim(-0.5 * pipe - BELOW, 0.5 * pipe + ABOVE)
        ax.axis("off")
        _pipe(ax, design, side, scale, system)
        ax.text(
            shape.length / scale,
            -0.5 * pipe - BELOW,
            f"{limb_name(side)} on the pipe as cut, 1 : {scale:g}; from centre | from this end",
            fontsize=8,
            color=INK,
            ha="right",
            va="bottom",
        )
        roof = top - high - GAP
        low = roof - min(0.105, each - high - GAP - 0.016)
        spot = (LEFT / size[0], low / size[1], wide / size[0], (roof - low) / size[1])
        _profile(figure.add_axes(spot), design, shape, limb_name(side), system)
    heading(figure, size, design, "the pipe and the jig")
    return figure


def _pipe(ax: Any, design: Design, side: Side | None, scale: float, system: System) -> None:
    """Draw half the pipe, true in both directions to the scale."""
    shape = design.shape(side)
    half, end = 0.5 * design.pipe.outer_diameter / scale, shape.length / scale
    ax.plot([0.0, end, end, 0.0], [half, half, -half, -half], color=INK, lw=1.0)
    ax.plot([0.0, 0.0], [-1.4 * half, 1.4 * half], color=INK, lw=0.8, ls="-.")
    before = -np.inf
    for each in stations(design, side):
        x = each.s / scale
        at = max(x, before + APART)
        before = at
        ax.plot([x, x], [-half, half], color=BLUE, lw=0.8)
        ax.plot([x, at], [half, half + 0.004], color=GREY, lw=0.5)
        places = " | ".join(as_marked(s, system, digits=True) for s in (each.s, each.near_end))
        ax.text(
            at,
            half + 0.005,
            f"{each.what}  {places}",
            rotation=90,
            fontsize=5.5,
            color=INK,
            ha="center",
            va="bottom",
        )
    for row, (begin, stop, text) in enumerate(_heated(shape)):
        y = -half - 0.003 - 0.0036 * min(row, 3)
        ax.plot([begin / scale, stop / scale], [y, y], color=OCHRE, lw=2.5, solid_capstyle="butt")
        ax.text(begin / scale - 0.001, y, text, fontsize=5.5, color=INK, ha="right", va="center")


def _heated(shape: LimbShape) -> list[tuple[float, float, str]]:
    """Return what is heated, from and to, m from the bow's centre, and for what."""
    limb = shape.limb
    found = [(shape.fade.start, shape.length, "press")]
    found += [(bend.start, bend.stop, f"bend {n}") for n, bend in enumerate(limb.bends, 1)]
    if limb.tip is not None:
        begin = limb.tip.edge_on_from
        found.append((begin, begin + limb.tip.transition, "turn"))
    return found


def _profile(ax: Any, design: Design, shape: LimbShape, name: str, system: System) -> None:
    """Draw the thickness to press against the distance from the centre; not in true size."""
    length = shown_unit("length", system)
    s = np.unique(np.concatenate([np.linspace(0.0, shape.length, 400), shape.breaks]))
    thickness = shape.thickness_at(s)
    ax.plot(*(convert(v, "length", system) for v in (s, thickness)), color=BLUE, lw=2.0)
    top = float(convert(design.pipe.outer_diameter, "length", system))
    level, before = 0, -1.0
    room = TEXT_ROOM * shape.length
    for n, mark in enumerate(shape.limb.marks, 1):
        near = np.linspace(mark.at - room, mark.at + room, 41)
        above = float(np.max(shape.thickness_at(np.clip(near, 0.0, shape.length))))
        level = level + 1 if before >= 0.0 and mark.at - before < 2 * room else 0
        before = mark.at
        x, y, over = (
            float(convert(v, "length", system))
            for v in (mark.at, float(shape.thickness_at(mark.at)), above)
        )
        ax.plot([x, x], [0.0, y], color=GREY, lw=0.8, ls="--")
        text = (
            f"mark {n}\n{as_marked(mark.at, system, digits=True)} out\n"
            f"{fixed(y, 3 if system == 'us' else 1)} thick"
        )
        ax.text(
            x,
            over + (0.03 + 0.3 * level) * top,
            text,
            ha="center",
            va="bottom",
            fontsize=7,
            color=INK,
            zorder=3,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )
    groove = float(convert(shape.nock_station, "length", system))
    ax.axvline(groove, color=INK, lw=0.8, ls=":")
    ax.text(groove, 1.48 * top, "groove ", rotation=90, ha="right", va="top", fontsize=7)
    ax.set_xlim(0.0, 1.02 * float(convert(shape.length, "length", system)))
    ax.set_ylim(0.0, 1.5 * top)
    ax.tick_params(labelsize=7)
    ax.set_xlabel(f"from the bow's centre along the pipe ({length})", fontsize=8)
    ax.set_ylabel(f"thickness to press ({length})", fontsize=8)
    ax.set_title(f"jig, {name} (thickness not in true size)", fontsize=8, color=INK, loc="left")
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
