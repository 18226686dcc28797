"""The bow as a body: its flattened tube swept along both limbs, at any state of a walk.

Axes are those of the walk, x toward the archer and y up along the bow; z runs across the limbs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import sections_at
from bowfem.errors import InputError
from bowfem.section import SectionResponse
from bowfem.show.body.layers import Layer, Part, layers, span
from bowfem.show.body.quantities import QUANTITIES

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk
    from bowfem.design import LimbShape

Array = NDArray[np.float64]
Cells = NDArray[np.int64]

#: Points round the wall, a multiple of four so that the middles of both faces are among them.
AROUND = 48
#: Longest step between sections, m.
SPACING = 6e-3
#: A wrap's surface is shown this far off what it is wound round, m.
WRAP = 0.4e-3
#: Stations no farther apart than this are one, m.
SAME_STATION = 1e-6
#: A state of a walk, or that before stringing.
State = int | Literal["unstrung"]
UNSTRUNG: Literal["unstrung"] = "unstrung"


@dataclass(frozen=True, eq=False)
class Swept:
    """Hold one part of the body in one state.

    Attributes
    ----------
    points : ndarray, shape (n_sections, n_around, 2, 3)
        Inner and outer surface of its wall, m, from its lower to its upper end.
    fields : dict of str to ndarray, shape (n_sections, n_around, 2)
        By the names of `QUANTITIES`, SI units; nan where it is not known: the yield strain of
        another material than the bow's, the crosswise strain of all but the bow's pipe.
    """

    points: Array
    fields: dict[str, Array]


@dataclass(frozen=True, eq=False)
class SweptState:
    """Hold the body in one state.

    Attributes
    ----------
    parts : tuple of Swept
        The bow's pipe first, in the order of `SweptBow.parts`.
    string : ndarray, shape (k, 3)
        Centre-line of the string from the lower to the upper groove, m; empty before stringing.
    contact : tuple of ndarray, shape (k, 3)
        Lines on the belly where the string lies, m.
    wraps : tuple of ndarray, shape (k, n_around, 3)
        Surfaces of wraps, m.
    """

    parts: tuple[Swept, ...]
    string: Array
    contact: tuple[Array, ...]
    wraps: tuple[Array, ...]

    @property
    def points(self) -> Array:
        """Points of all parts, one after the other, (n_points, 3), m."""
        return np.concatenate([part.points.reshape(-1, 3) for part in self.parts])

    def field(self, name: str) -> Array:
        """Return a quantity at the points, (n_points,)."""
        return np.concatenate([part.fields[name].ravel() for part in self.parts])


@dataclass(frozen=True, eq=False)
class _Side:
    """Hold what stays the same in all states of one limb, at m sections from the centre out."""

    limb: LimbStates
    shape: LimbShape
    s: Array  # every station of the walk is among them
    inside: int  # sections up to the groove
    turn: Array  # of the section, rad
    sections: SectionResponse
    layers: tuple[Layer, ...]
    wraps: tuple[tuple[int, int], ...]


@dataclass(frozen=True, eq=False)
class SweptBow:
    """Hold a bow as sections of its pipe, swept along the limbs of a walk.

    Attributes
    ----------
    walk : Walk
        The walk.
    s : ndarray, shape (n_sections,)
        Distance of each section from the bow's centre along the pipe, m; negative on the lower
        limb.
    parts : tuple of Part
        The bow's pipe, then sleeves, rods and strips, lower limb first.

    Notes
    -----
    A section is the outline of a pipe pressed to the thickness it has under load, as the
    section's table gives it at the state's curvature: so wall and perimeter are kept, but a face
    that caves in is shown flat. A sleeve thins by the same share, a rod not at all. Edge-on
    sections keep the outline they were formed with. Between flat and edge-on the outline is turned
    as it is. A strip lies on the back, as wide as the section. A wrap has no thickness: its surface
    lies a little off what it is wound round, and it counts nowhere. Pipe beyond a groove carries
    nothing: it follows as formed.
    """

    walk: Walk
    s: Array
    parts: tuple[Part, ...]
    _sides: tuple[_Side, _Side]

    @classmethod
    def from_walk(cls, walk: Walk, around: int = AROUND, spacing: float = SPACING) -> SweptBow:
        """Prepare the sections of a walk.

        Parameters
        ----------
        walk : Walk
            The walk.
        around : int
            Points round the wall, a multiple of four, at least 12.
        spacing : float
            Longest step between sections, m. The stations of the walk are always among them.

        Raises
        ------
        InputError
            One of the numbers cannot be used.
        """
        if around % 4 or around < 12:
            raise InputError("around", around, "a multiple of four, at least 12")
        if not 1e-4 <= spacing <= 1.0:
            raise InputError("spacing", f"{spacing:g} m", "between 0.1 mm and 1 m")
        limbs, shapes = walk.limbs, walk.design.limbs
        upper = _side(walk, limbs[0], shapes[0], spacing, around)
        same = walk.is_symmetric and shapes[0] is shapes[1]
        lower = upper if same else _side(walk, limbs[1], shapes[1], spacing, around)
        middle = lower.s.size - 1
        parts = [Part("pipe", 0, middle + upper.s.size - 1, around)]
        for layer in lower.layers[1:]:
            part = layer.part
            parts.append(replace(part, first=middle - part.last, last=middle - part.first))
        for layer in upper.layers[1:]:
            part = layer.part
            parts.append(replace(part, first=middle + part.first, last=middle + part.last))
        s = np.concatenate([-lower.s[:0:-1], upper.s])
        return cls(walk, s, tuple(parts), (upper, lower))

    @property
    def n_states(self) -> int:
        """States of the walk; state `UNSTRUNG` comes on top."""
        return self.walk.draw.size

    @property
    def states(self) -> tuple[State, ...]:
        """All of them, from unstrung to the last."""
        return UNSTRUNG, *range(self.n_states)

    @property
    def hexahedra(self) -> Cells:
        """All parts as cells of eight points, shape (n, 8), by the numbers of `SweptState.points`.

        First the four of a section, then those of the next; all volumes are positive.
        """
        return self._numbered([part.hexahedra for part in self.parts])

    def skin(self, first: int = 0, last: int | None = None, *, cut: bool = False) -> Cells:
        """Return the surface of all parts as cells of four points; see `Part.skin`."""
        return self._numbered([part.skin(first, last, cut=cut) for part in self.parts])

    def _numbered(self, cells: list[Cells]) -> Cells:
        sizes = [2 * part.around * (part.last - part.first + 1) for part in self.parts]
        starts = np.cumsum([0, *sizes[:-1]])
        return np.concatenate([each + start for each, start in zip(cells, starts, strict=True)])

    def at(self, state: State) -> SweptState:
        """Return the body in a state of the walk, from the end if negative, or `UNSTRUNG`.

        Raises
        ------
        InputError
            The walk has no such state.

        Notes
        -----
        Strain is linear through the thickness, between the outer fibres' strains of the walk and
        beyond them; stress follows by each layer's law. Between stations of the walk all is
        interpolated linearly but the axis, which is a cubic with the section's own direction.
        """
        n = self.n_states
        if state != UNSTRUNG:
            whole = isinstance(state, int | np.integer) and not isinstance(state, bool)
            if not whole or not -n <= state < n:
                allowed = f'"{UNSTRUNG}", or a whole number of -{n} to {n - 1}'
                raise InputError("state", state, allowed)
            state = int(state) % n
        walk, (upper, lower) = self.walk, self._sides
        # the lower limb is swept upright, then turned down
        above = _swept(walk, upper, state, 1.0)
        below = above if lower is upper else _swept(walk, lower, state, -1.0)
        down = np.array([1.0, -1.0, 1.0])
        turned = [
            Swept(part.points[::-1] * down, {k: v[::-1] for k, v in part.fields.items()})
            for part in below.parts
        ]
        one, two = turned[0], above.parts[0]  # they share the section in the middle
        fields = {
            name: np.concatenate([values[:-1], two.fields[name]])
            for name, values in one.fields.items()
        }
        pipe = Swept(np.concatenate([one.points[:-1], two.points]), fields)
        parts = (pipe, *turned[1:], *above.parts[1:])
        contact: list[Array] = []
        if state != UNSTRUNG:
            contact += [line[::-1] * down for line in _contact(lower, below.belly, state)]
            contact += _contact(upper, above.belly, state)
        wraps = (*(wrap[::-1] * down for wrap in below.wraps), *above.wraps)
        return SweptState(parts, _string(walk, state), tuple(contact), wraps)


class _Limb(NamedTuple):
    """One limb swept upright."""

    parts: list[Swept]
    wraps: list[Array]
    belly: Array  # line on the outermost layer, (m, 3)


def _swept(walk: Walk, side: _Side, state: State, flip: float) -> _Limb:
    """Sweep one limb upright, its sections from the centre out."""
    limb, m = side.limb, side.inside
    zero = np.zeros(limb.s.size)

    def here(values: Array) -> Array:
        """Read stations of the walk at the sections; beyond the groove nothing is loaded."""
        found = np.zeros(side.s.size)
        found[:m] = np.interp(side.s[:m], limb.s, zero if state == UNSTRUNG else values[state])
        return found

    bending, rest = here(limb.curvature_change), side.sections
    thin = _at_curvature(rest, rest.loaded_thickness, bending) / rest.thickness
    thin = 1.0 + np.cos(side.turn) ** 2 * (thin - 1.0)
    axis, angle = _axis(side, state, flip)
    belly = np.stack([np.cos(angle), -np.sin(angle), np.zeros_like(angle)], axis=-1)
    axis = np.column_stack([axis, np.zeros_like(angle)])
    cos, sin = (f(side.turn)[:, None, None] for f in (np.cos, np.sin))
    shapes = []
    for layer in side.layers:
        at = slice(layer.part.first, layer.part.last + 1)
        across, high = layer.outline(thin[at])
        if layer.turns:
            across, high = cos[at] * across - sin[at] * high, sin[at] * across + cos[at] * high
        shapes.append((at, across, high))

    # the walk's fibres are those of the outermost layer of the bow's own material
    half = np.zeros(side.s.size)
    for layer, (at, _, high) in zip(side.layers, shapes, strict=True):
        if layer.own and (layer.over or layer is side.layers[0]):
            half[at] = np.max(np.abs(high), axis=(1, 2))
    back, front = here(limb.strain_back), here(limb.strain_belly)
    tension, compression = walk.design.material.yield_strains()
    along = {"fold": here(limb.fold_share), "bending": bending, "pressure": here(limb.pressure)}
    along |= {name: here(each.of(limb)) for name, each in QUANTITIES.items() if each.of is not None}
    crosswise = _at_curvature(rest, rest.crosswise_strain, bending)
    parts = []
    for layer, (at, across, high) in zip(side.layers, shapes, strict=True):
        points = axis[at, None, None] + high[..., None] * belly[at, None, None]
        points[..., 2] += across
        share = 0.5 * (1.0 + high / half[at, None, None])
        strain = back[at, None, None] + (front - back)[at, None, None] * share
        fields = {
            name: np.broadcast_to(values[at, None, None], strain.shape)
            for name, values in along.items()
        }
        unknown = np.full_like(strain, np.nan)
        fields["crosswise"] = unknown
        if layer is side.layers[0]:
            fields["crosswise"] = np.broadcast_to(crosswise[:, None, None], strain.shape)
        fields["stress"] = layer.law.stress(strain)
        fields["yield"] = unknown
        if layer.own:
            fields["yield"] = np.where(strain >= 0.0, strain / tension, -strain / compression)
        parts.append(Swept(points, fields))

    wraps = []
    for first, last in side.wraps:
        # wound round the sleeve that lies over the pipe there, if one does
        under = next(
            (
                k
                for k, layer in enumerate(side.layers)
                if layer.over
                and layer.turns
                and layer.part.first <= first
                and last <= layer.part.last
            ),
            0,
        )
        start = side.layers[under].part.first
        wall = parts[under].points[first - start : last - start + 1]
        out = wall[:, :, 1] - wall[:, :, 0]
        wraps.append(wall[:, :, 1] + WRAP * out / np.linalg.norm(out, axis=-1, keepdims=True))
    outside = 0.5 * (rest.thickness * thin)[:, None]
    return _Limb(parts, wraps, axis + outside * belly)


def _side(walk: Walk, limb: LimbStates, shape: LimbShape, spacing: float, around: int) -> _Side:
    own = shape.limb
    ends = [end for each in (*own.sleeves, *own.overlays) for end in (each.start, each.end)]
    stations, groove = limb.s[limb.single], limb.s[-1]
    # an end at a station of the walk, but for round-off, is that station
    ends = [
        end for end in ends if np.min(np.abs(stations - end)) > SAME_STATION and end < shape.length
    ]
    inner = _spaced(np.union1d(stations, [end for end in ends if end < groove]), spacing)
    beyond = np.union1d([groove, shape.length], [end for end in ends if end > groove])
    s = np.concatenate([inner, _spaced(beyond, spacing)[1:]])
    sections = sections_at(walk.design, shape, s)
    turn = 0.5 * np.pi * shape.edge_on_share(s)
    wraps = tuple(span(s, each.start, each.end) for each in own.overlays if each.thickness is None)
    return _Side(
        limb,
        shape,
        s,
        inner.size,
        turn,
        sections,
        layers(walk.design, shape, s, sections, around),
        wraps,
    )


def _spaced(stops: Array, spacing: float) -> Array:
    """Return stations with the stops among them and no longer steps than the spacing."""
    count = np.maximum(np.ceil(np.diff(stops) / spacing - 1e-9), 1.0).astype(int)
    steps = [
        np.linspace(a, b, n, endpoint=False)
        for a, b, n in zip(stops[:-1], stops[1:], count, strict=True)
    ]
    return np.append(np.concatenate(steps), stops[-1])


def _at_curvature(sections: SectionResponse, values: Array, bending: Array) -> Array:
    """Read knots (m, n_k), evenly spaced in curvature, at one curvature a section."""
    last, n = sections.curvature[:, -1], sections.curvature.shape[1]
    place = np.clip(0.5 * (n - 1) * (1.0 + bending / last), 0.0, n - 1)
    low = np.minimum(place.astype(int), n - 2)
    rows, part = np.arange(len(values)), place - low
    return (1.0 - part) * values[rows, low] + part * values[rows, low + 1]


def _axis(side: _Side, state: State, flip: float) -> tuple[Array, Array]:
    """Return the limb's axis, upright, (m, 2), and the angle of its sections, (m,)."""
    limb, shape, m = side.limb, side.shape, side.inside
    if state == UNSTRUNG:
        x, y, angle = limb.unbraced_x, flip * limb.unbraced_y, limb.unbraced_angle
    else:
        x, y, angle = limb.x[state], flip * limb.y[state], limb.angle[state]
    knots, inner = limb.s, side.s[:m]
    cell = np.clip(np.searchsorted(knots, inner, side="right") - 1, 0, knots.size - 2)
    h = np.diff(knots)[cell]
    u = (inner - knots[cell]) / h
    v = 1.0 - u
    at = np.stack([x, y], axis=-1)
    way = np.stack([np.sin(angle), np.cos(angle)], axis=-1)
    u, v, h = u[:, None], v[:, None], h[:, None]
    axis = (
        v * v * (1.0 + 2.0 * u) * at[cell]
        + u * u * (1.0 + 2.0 * v) * at[cell + 1]
        + u * v * h * (v * way[cell] - u * way[cell + 1])
    )
    outside = side.s[m - 1 :]
    formed = shape.natural_angle(outside)
    turned = angle[-1] + formed - formed[0]
    middle = 0.5 * (turned[1:] + turned[:-1])
    steps = np.stack([np.sin(middle), np.cos(middle)], axis=-1) * np.diff(outside)[:, None]
    axis = np.concatenate([axis, axis[-1] + np.cumsum(steps, axis=0)])
    return axis, np.concatenate([np.interp(inner, knots, angle), turned[1:]])


def _string(walk: Walk, state: State) -> Array:
    """Return the string's centre-line from groove to groove, (k, 3), without repeated points."""
    if state == UNSTRUNG:
        return np.zeros((0, 3))
    upper, lower = walk.limbs
    down = -1.0 if walk.is_symmetric else 1.0
    x = np.concatenate([lower.string_x[state], upper.string_x[state, ::-1]])
    y = np.concatenate([down * lower.string_y[state], upper.string_y[state, ::-1]])
    line = np.stack([x, y, np.zeros_like(x)], axis=-1)
    new = np.linalg.norm(np.diff(line, axis=0), axis=1) > 1e-7
    return line[np.concatenate([[True], new])]


def _contact(side: _Side, belly: Array, state: int) -> list[Array]:
    """Return lines on the belly of an upright limb where the string lies."""
    lines = []
    for outer, inner in side.limb.contact[state]:
        if not outer - inner > 1e-4:  # unused, or the loop in its groove
            continue
        s = side.s
        at = np.concatenate([[inner], s[(s > inner) & (s < outer)], [outer]])
        lines.append(np.stack([np.interp(at, s, part) for part in belly.T], axis=-1))
    return lines
