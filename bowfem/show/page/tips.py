"""The nocks from the front, in true size."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import sections_at
from bowfem.show.page.paper import Size, bars, heading, limb_name, new_page, plane
from bowfem.show.page.steps import GROOVE
from bowfem.show.plot.bow import BLUE, GREY, INK
from bowfem.units import System, as_marked, show

if TYPE_CHECKING:
    from bowfem.design import Design, Side
    from bowfem.findings import Findings

Array = NDArray[np.float64]

#: Limb shown from its end in, m, and points along it.
SHOWN, POINTS = 0.1, 401
#: Room beside the limb for text, m.
BESIDE = 0.035


def front(design: Design, side: Side | None) -> tuple[Array, Array]:
    """Return distances from the end of the pipe, and half the width there, grooves filed, m.

    Two arrays of shape (n,), from the end in.
    """
    shape = design.shape(side)
    inset, nock = shape.length - shape.nock_station, design.nock
    to = np.linspace(0.0, SHOWN, POINTS)
    half = 0.5 * sections_at(design, shape, shape.length - to).width
    if nock.width is not None:
        share = np.clip((to - inset) / nock.filed, 0.0, 1.0)
        half = np.minimum(half, 0.5 * nock.width + share * np.maximum(half - 0.5 * nock.width, 0.0))
    groove = max(0.75 * design.string.thickness, 0.4 * GROOVE)  # half its width
    inside = np.abs(to - inset) < groove
    depth = np.minimum(GROOVE, 0.3 * half) * np.sqrt(
        np.clip(1.0 - ((to - inset) / groove) ** 2, 0.0, None)
    )
    return to, half - np.where(inside, depth, 0.0)


def nock_page(findings: Findings, label: list[str], size: Size, system: System) -> Any:
    """Draw the ends of the limbs that differ, seen from the belly, and the bow's label."""
    design = findings.walk.design
    figure = new_page(size)
    ax, wide, high = plane(figure, size)
    ax.axis("off")
    sides = design.distinct_sides
    for number, side in enumerate(sides):
        shape = design.shape(side)
        to, half = front(design, side)
        middle = wide * (number + 0.5) / len(sides) - 0.5 * BESIDE
        top = high - 0.02
        outline = np.concatenate([half[::-1], -half])
        along = top - np.concatenate([to[::-1], to])
        ax.plot(middle + outline, along, color=BLUE, lw=1.0, gid=f"nock {number + 1}")
        ax.plot([middle] * 2, [top, top - SHOWN], color=GREY, lw=0.5, ls="-.")
        inset = shape.length - shape.nock_station
        edge = middle + float(np.max(half)) + 0.003
        for at, text in (
            (0.0, "end of the pipe"),
            (
                inset,
                f"groove, {as_marked(inset, system)} from it,\n{as_marked(GROOVE, system)} deep",
            ),
        ):
            ax.plot([middle, edge], [top - at] * 2, color=GREY, lw=0.5)
            ax.text(edge + 0.001, top - at, text, va="center", fontsize=7.5, color=INK)
        wide_there = show(2.0 * float(np.max(half)), "length", system, 3)
        ax.text(
            middle,
            top - SHOWN - 0.005,
            f"{limb_name(side)}, seen from the belly; {wide_there} at the widest",
            ha="center",
            va="top",
            fontsize=8,
            color=INK,
        )
    low = high - 0.02 - SHOWN - 0.045
    step = 0.0062
    corners = [0.01, low + step], [0.13, low - step * len(label)]
    (left, up), (right, down) = corners
    ax.plot([left, right, right, left, left], [up, up, down, down, up], color=INK, lw=0.8, ls="--")
    for number, line in enumerate(label):
        bold = "bold" if number == 0 else "normal"
        place = left + 0.004, low - number * step
        ax.text(*place, line, fontsize=8, fontweight=bold, color=INK, parse_math=False)
    heading(figure, size, design, "the nocks in true size, and a label")
    bars(figure, size)
    return figure
