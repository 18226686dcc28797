"""What a limb is made of, layer by layer: its pipe, sleeves over and in it, strips on its back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import sleeve_law, sleeve_thickness
from bowfem.design import Design, LimbShape
from bowfem.section import Law, Linear, Pipe, SectionResponse
from bowfem.show.body.outline import outlines, plate, rod

Array = NDArray[np.float64]
Cells = NDArray[np.int64]

#: Points across a strip, odd.
ACROSS = 9


@dataclass(frozen=True)
class Part:
    """Number the points and cells of one body, swept through sections of the bow.

    Points are numbered section by section from `first`, in each round the wall, at each place
    the inner one, then the outer.

    Attributes
    ----------
    name : {"pipe", "sleeve", "rod", "strip"}
        What it is.
    first, last : int
        Sections of the bow it begins and ends with.
    around : int
        Places round the wall of a tube, or across a strip.
    closed : bool
        Whether it is a tube.
    """

    name: str
    first: int
    last: int
    around: int
    closed: bool = True

    @property
    def hexahedra(self) -> Cells:
        """The body as cells of eight points, shape (n, 8), in this part's own numbers.

        First the four of a section, then those of the next; all volumes are positive.
        """
        i = np.arange(self.last - self.first)[:, None]
        j = np.arange(self.around if self.closed else self.around - 1)[None]
        corners = [(j, 0), (j, 1), (j + 1, 1), (j + 1, 0)]
        both = [self._number(i + up, at, layer) for up in (0, 1) for at, layer in corners]
        return np.stack(np.broadcast_arrays(*both), axis=-1).reshape(-1, 8)

    def skin(self, first: int = 0, last: int | None = None, *, cut: bool = False) -> Cells:
        """Return its surface as cells of four points, shape (n, 4), normals outward.

        Parameters
        ----------
        first, last : int, optional
            Sections of the bow between which it is wanted; by default all. Its ends belong to it.
        cut : bool, optional
            Take the half on the side of positive z, the cut faces with it.
        """
        first = max(first, self.first) - self.first
        last = (self.last if last is None else min(last, self.last)) - self.first
        if last <= first:
            return np.zeros((0, 4), dtype=np.int64)
        low, high = 0, self.around - (not self.closed)
        if cut:
            quarter = self.around // 4
            low, high = (-quarter, quarter) if self.closed else (self.around // 2, high)
        j, i = np.arange(low, high), np.arange(first, last)

        def quads(*corners: Cells) -> Cells:
            return np.stack(np.broadcast_arrays(*corners), axis=-1).reshape(-1, 4)

        number = self._number
        a, b, below, above = j[None], j[None] + 1, i[:, None], i[:, None] + 1
        parts = [
            quads(
                number(below, a, 1), number(below, b, 1), number(above, b, 1), number(above, a, 1)
            ),
            quads(
                number(below, a, 0), number(above, a, 0), number(above, b, 0), number(below, b, 0)
            ),
        ]
        for at, way in ((np.array([first]), -1), (np.array([last]), 1)):
            ring = quads(
                number(at, j, 0), number(at, j, 1), number(at, j + 1, 1), number(at, j + 1, 0)
            )
            parts.append(ring[:, ::way])
        if cut or not self.closed:
            for at, way in ((low, -1), (high, 1)):
                edge = np.array([at])
                face = quads(
                    number(i, edge, 0),
                    number(i + 1, edge, 0),
                    number(i + 1, edge, 1),
                    number(i, edge, 1),
                )
                parts.append(face[:, ::way])
        return np.concatenate(parts)

    def _number(self, i: Cells, j: Cells, layer: int) -> Cells:
        return (i * self.around + (j % self.around if self.closed else j)) * 2 + layer


@dataclass(frozen=True, eq=False)
class Layer:
    """Hold one layer of one limb, at k of the limb's sections.

    Attributes
    ----------
    part : Part
        Its cells; `first` and `last` number sections of the limb, from the bow's centre out.
    law : Law
        Its material.
    own : bool
        Whether that is the bow's own, so that its yield strain is known.
    over : bool
        Whether it lies outside the bow's pipe.
    turns : bool
        Whether it is turned edge-on with the pipe.
    outline : callable
        From thickness under load over that as formed, (k,), to places across the width and
        through the thickness, both (k, n_around, 2), m; before turning.
    """

    part: Part
    law: Law
    own: bool
    over: bool
    turns: bool
    outline: Callable[[Array], tuple[Array, Array]]


def layers(
    design: Design, shape: LimbShape, s: Array, sections: SectionResponse, around: int
) -> tuple[Layer, ...]:
    """Return the layers of a limb, its pipe first.

    Parameters
    ----------
    design : Design
        The bow.
    shape : LimbShape
        The limb.
    s : ndarray, shape (m,)
        Its sections, m from the bow's centre; ends of sleeves and strips are among them.
    sections : SectionResponse
        What they are made of, (m,).
    around : int
        Points round a wall.

    Notes
    -----
    A wrap adds mass alone and has no thickness: it is no layer.
    """
    own, thickness = design.pipe, shape.thickness_at(s)
    found = [_tube("pipe", own, thickness, 0, around, design.material)]
    for sleeve in shape.limb.sleeves:
        first, last = span(s, sleeve.start, sleeve.end)
        law, pipe, alike = sleeve_law(sleeve, design.material), sleeve.pipe, sleeve.modulus is None
        if pipe is not None:
            pressed = sleeve_thickness(pipe, own, thickness[first : last + 1])
            over = sleeve.is_over(own)
            found.append(_tube("sleeve", pipe, pressed, first, around, law, alike, over))
            continue

        def round_rod(thin: Array, radius: float = 0.5 * sleeve.diameter) -> tuple[Array, Array]:
            return rod(radius, around, thin.size)

        part = Part("rod", first, last, around)
        found.append(Layer(part, law, alike, False, True, round_rod))
    for overlay in shape.limb.overlays:
        if overlay.thickness is None or overlay.modulus is None:
            continue
        first, last = span(s, overlay.start, overlay.end)
        here = slice(first, last + 1)
        width, half = sections.width[here], 0.5 * sections.thickness[here]

        def glued(
            thin: Array, width: Array = width, half: Array = half, deep: float = overlay.thickness
        ) -> tuple[Array, Array]:
            return plate(width, half * thin, deep, ACROSS)

        part = Part("strip", first, last, ACROSS, closed=False)
        found.append(Layer(part, Linear(overlay.modulus), False, True, False, glued))
    return tuple(found)


def _tube(
    name: str,
    pipe: Pipe,
    thickness: Array,
    first: int,
    around: int,
    law: Law,
    own: bool = True,
    over: bool = False,
) -> Layer:
    def pressed(thin: Array) -> tuple[Array, Array]:
        return outlines(pipe, around, thickness * thin)

    part = Part(name, first, first + thickness.size - 1, around)
    return Layer(part, law, own, over, True, pressed)


def span(s: Array, start: float, end: float) -> tuple[int, int]:
    """Return the sections nearest to two stations."""
    return int(np.argmin(np.abs(s - start))), int(np.argmin(np.abs(s - end)))
