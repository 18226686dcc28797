"""The tillering board on paper: the bow at brace and at some draws, to scale, on a grid."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import SmoothCurve
from bowfem.design import Side
from bowfem.findings import DrawLength, Findings, Tillering
from bowfem.show.page.paper import FOOT, Size, heading, new_page, plane
from bowfem.show.plot.bow import BLUE, GREY, INK, OCHRE
from bowfem.units import INCH, System

if TYPE_CHECKING:
    from bowfem.bow import Walk

Array = NDArray[np.float64]

#: Scales that a board is drawn to: so many of its own lengths make one of the bow's.
SCALES = (2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0)


def board_page(findings: Findings, found: Tillering, size: Size, system: System) -> Any:
    """Draw both limbs and the string at the draws of `found`."""
    walk = findings.walk
    figure = new_page(size)
    ax, wide, high = plane(figure, size, 0.5 * FOOT)
    lines = [_at(walk.draw, draw, walk) for draw in found.draw]
    every = np.concatenate([np.concatenate(limbs) for limbs, _ in lines] + [s for _, s in lines])
    low, reach = np.min(every, axis=0), np.ptp(every, axis=0)
    pad = 2.0 * INCH
    scale = next((n for n in SCALES if np.all((reach + 2 * pad) / n <= [wide, high])), SCALES[-1])
    corner = low - 0.5 * (np.array([wide, high]) * scale - reach)
    ax.set_xlim(corner[0], corner[0] + wide * scale)
    ax.set_ylim(corner[1], corner[1] + high * scale)
    step, name = (INCH, "1 in") if system == "us" else (0.02, "20 mm")
    for axis, start, many in ((ax.axvline, corner[0], wide), (ax.axhline, corner[1], high)):
        for n in range(int(np.ceil(start / step)), int((start + many * scale) / step) + 1):
            axis(n * step, color=GREY, lw=0.6 if n % 5 == 0 else 0.25, alpha=0.5)
    for number, ((limbs, string), draw) in enumerate(zip(lines, found.draw, strict=True)):
        for limb in limbs:
            ax.plot(*limb.T, color=BLUE, lw=1.4, gid=f"belly {number}")
        ax.plot(*string.T, color=OCHRE, lw=0.6)
        nock = string[len(string) // 2]
        text = "brace" if number == 0 else DrawLength.of(walk, float(draw)).text(system)
        ax.text(
            nock[0] - 0.002 * scale,
            nock[1],
            text,
            fontsize=7,
            color=INK,
            rotation=90,
            ha="right",
            va="center",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )
    heading(
        figure,
        size,
        walk.design,
        f"tillering board, 1 : {scale:g}; bellies and string, squares of {name}",
    )
    return figure


def _at(draws: Array, draw: float, walk: Walk) -> tuple[list[Array], Array]:
    """Return bellies of upper and lower limb and the string at a draw, (k, 2), x to the archer."""

    def read(values: Array) -> Array:
        return np.array([SmoothCurve.through(draws, one).at(draw) for one in values.T])

    bellies, strings = [], []
    for side in Side:
        limb = walk.limb(side)
        own, turned = (1.0, side.sign) if walk.is_symmetric else (side.sign, 1.0)
        half, angle = 0.5 * limb.thickness, read(limb.angle)
        x = read(limb.x) + half * np.cos(angle)
        y = read(limb.y) - own * half * np.sin(angle)
        bellies.append(np.stack([x, turned * y], axis=-1))
        strings.append(np.stack([read(limb.string_x), turned * read(limb.string_y)], axis=-1))
    return bellies, np.concatenate([strings[0], strings[1][::-1]])
