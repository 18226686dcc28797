"""The bow as a body: its flattened tube swept along both limbs, at any state of a walk.

Axes are those of the walk, x toward the archer and y up along the bow; z runs across the limbs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import InputError
from bowfem.section import SectionFamily, SectionResponse, blend
from bowfem.show.swept_outline import outlines

if TYPE_CHECKING:
    from bowfem.bow.design_shape import LimbShape
    from bowfem.bow.limb_states import LimbStates
    from bowfem.bow.walk import Walk

Array = NDArray[np.float64]
Cells = NDArray[np.int64]

#: Points round the wall, a multiple of four so that the middles of both faces are among them.
AROUND = 48
#: Longest step between sections, m.
SPACING = 6e-3
#: The state before stringing.
UNSTRUNG = -1


class Quantity(NamedTuple):
    """One field of the swept bow: what it is, its dimension, whether it has two signs."""

    label: str
    kind: str
    signed: bool


#: Fields on the points of the body, by the names that commands take.
QUANTITIES: dict[str, Quantity] = {
    "yield": Quantity("strain, share of yield strain", "share", False),
    "stress": Quantity("stress along the limb, tension positive", "stress", True),
    "fold": Quantity("bending, share of that at the fold", "share", False),
    "bending": Quantity("change of curvature, positive toward the archer", "curvature", True),
    "crosswise": Quantity("largest crosswise strain of the wall", "share", False),
    "pressure": Quantity("pressure of the string on the belly", "spring_rate", False),
}


def check_quantity(name: str, key: str = "quantity") -> str:
    """Return the name of a quantity.

    Raises
    ------
    InputError
        There is no such quantity.
    """
    if name not in QUANTITIES:
        raise InputError(key, name, "one of " + ", ".join(QUANTITIES))
    return name


@dataclass(frozen=True, eq=False)
class SweptState:
    """Hold the body in one state.

    Attributes
    ----------
    points : ndarray, shape (n_sections, n_around, 2, 3)
        Inner and outer surface of the wall, m, from the lower to the upper tip.
    fields : dict of str to ndarray, shape (n_sections, n_around, 2)
        By the names of `QUANTITIES`, SI units.
    string : ndarray, shape (k, 3)
        Centre-line of the string from the lower to the upper groove, m; empty before stringing.
    contact : tuple of ndarray, shape (k, 3)
        Lines on the belly where the string lies, m.
    """

    points: Array
    fields: dict[str, Array]
    string: Array
    contact: tuple[Array, ...]


@dataclass(frozen=True, eq=False)
class _Side:
    """Hold what stays the same in all states of one limb, at m sections from the centre out."""

    limb: LimbStates
    shape: LimbShape
    s: Array  # every station of the walk is among them
    inside: int  # sections up to the groove
    thickness: Array  # of the bow's pipe as pressed
    turn: Array  # of the section, rad
    sections: SectionResponse  # at the sections up to the groove


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
    around : int
        Points round the wall.

    Notes
    -----
    A section is the outline of the bow's pipe pressed to the thickness it has under load, as the
    section's table gives it at the state's curvature: so wall and perimeter are kept, but a face
    that caves in is shown flat. Edge-on sections keep the outline they were formed with. Between
    flat and edge-on the outline is turned as it is. Sleeves, strips and wraps are left out of the
    body, not out of the walk. Pipe beyond a groove carries nothing: it follows as formed.
    """

    walk: Walk
    s: Array
    around: int
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
        upper = _side(walk, limbs[0], shapes[0], spacing)
        same = walk.is_symmetric and shapes[0] is shapes[1]
        lower = upper if same else _side(walk, limbs[1], shapes[1], spacing)
        return cls(walk, np.concatenate([-lower.s[:0:-1], upper.s]), around, (upper, lower))

    @property
    def n_states(self) -> int:
        """States of the walk; state `UNSTRUNG` comes on top."""
        return self.walk.draw.size

    def at(self, state: int) -> SweptState:
        """Return the body in a state of the walk, or `UNSTRUNG`.

        Raises
        ------
        InputError
            The walk has no such state.

        Notes
        -----
        Strain is linear from back to belly, between the outer fibres' strains of the walk; stress
        follows by the law. Between stations of the walk all is interpolated linearly but the axis,
        which is a cubic with the section's own direction.
        """
        if not UNSTRUNG <= state < self.n_states:
            raise InputError("state", state, f"between {UNSTRUNG} and {self.n_states - 1}")
        walk, (upper, lower) = self.walk, self._sides
        parts = []
        for side, number in ((lower, 1), (upper, 0)):
            # the lower limb is swept upright, then turned down
            flip = 1.0 if number == 0 or side is upper else -1.0
            points, fields = self._swept(side, state, flip)
            if number == 1:
                points = points[:0:-1] * np.array([1.0, -1.0, 1.0])
                fields = {name: values[:0:-1] for name, values in fields.items()}
            parts.append((points, fields))
        points = np.concatenate([points for points, _ in parts])
        fields = {name: np.concatenate([f[name] for _, f in parts]) for name in QUANTITIES}
        contact = _contact(walk, self.s, points, state) if state != UNSTRUNG else ()
        return SweptState(points, fields, _string(walk, state), contact)

    def _swept(self, side: _Side, state: int, flip: float) -> tuple[Array, dict[str, Array]]:
        """Sweep one limb upright; points (m, n_around, 2, 3) and fields (m, n_around, 2)."""
        limb, m, zero = side.limb, side.inside, np.zeros(side.limb.s.size)
        loaded = state != UNSTRUNG

        def here(values: Array, beyond: float = 0.0) -> Array:
            """Read stations of the walk at the sections; beyond the groove nothing is loaded."""
            found = np.full(side.s.size, beyond)
            found[:m] = np.interp(side.s[:m], limb.s, values[state] if loaded else zero)
            return found

        bending = here(limb.curvature_change)
        rest = side.sections
        thin = _at_curvature(rest, rest.loaded_thickness, bending[:m]) / rest.thickness
        thickness = side.thickness.copy()
        flat = np.cos(side.turn[:m]) ** 2
        thickness[:m] *= 1.0 + flat * (thin - 1.0)
        pipe = self.walk.design.pipe
        across, high = outlines(pipe, self.around, thickness)
        cos, sin = (f(side.turn)[:, None, None] for f in (np.cos, np.sin))
        across, high = cos * across - sin * high, sin * across + cos * high
        axis, angle = _axis(side, state, flip)
        belly = np.stack([np.cos(angle), -np.sin(angle)], axis=-1)[:, None, None]
        points = np.empty((*high.shape, 3))
        points[..., :2] = axis[:, None, None] + high[..., None] * belly
        points[..., 2] = across

        half = np.max(np.abs(high), axis=(1, 2), keepdims=True)
        share = 0.5 * (1.0 + high / half)
        back, front = (here(v)[:, None, None] for v in (limb.strain_back, limb.strain_belly))
        strain = back + (front - back) * share
        material = self.walk.design.material
        tension, compression = material.yield_strains()
        crosswise = np.zeros(side.s.size)
        crosswise[:m] = _at_curvature(rest, rest.crosswise_strain, bending[:m])
        stress = np.zeros_like(strain)
        stress[:m] = material.stress(strain[:m])
        along = {"fold": here(limb.fold_share), "bending": bending, "crosswise": crosswise,
                 "pressure": here(limb.pressure)}  # fmt: skip
        fields = {
            name: np.broadcast_to(values[:, None, None], strain.shape)
            for name, values in along.items()
        }
        fields["stress"] = stress
        fields["yield"] = np.where(strain >= 0.0, strain / tension, -strain / compression)
        return points, fields

    @property
    def hexahedra(self) -> Cells:
        """The wall as cells of eight points, shape (n, 8), numbering `SweptState.points` flat.

        First the four of a section, then those of the next; all volumes are positive.
        """
        i = np.arange(self.s.size - 1)[:, None]
        j = np.arange(self.around)[None]
        after = (j + 1) % self.around

        def number(i: Cells, j: Cells, layer: int) -> Cells:
            return (i * self.around + j) * 2 + layer

        corners = [(j, 0), (j, 1), (after, 1), (after, 0)]
        both = [number(i + up, at, layer) for up in (0, 1) for at, layer in corners]
        return np.stack(np.broadcast_arrays(*both), axis=-1).reshape(-1, 8)

    def skin(self, first: int = 0, last: int | None = None, *, cut: bool = False) -> Cells:
        """Return the surface of the wall as cells of four points, shape (n, 4), normals outward.

        Parameters
        ----------
        first, last : int, optional
            Sections it begins and ends with; by default all. The ends of the wall belong to it.
        cut : bool, optional
            Take the half of the tube on the side of positive z, the cut faces with it.
        """
        last = self.s.size - 1 if last is None else last
        quarter = self.around // 4
        j = np.arange(-quarter, quarter) if cut else np.arange(self.around)
        i = np.arange(first, last)

        def number(i: Cells, j: Cells, layer: int) -> Cells:
            return (i * self.around + j % self.around) * 2 + layer

        def quads(*corners: Cells) -> Cells:
            return np.stack(np.broadcast_arrays(*corners), axis=-1).reshape(-1, 4)

        a, b, below, above = j[None], j[None] + 1, i[:, None], i[:, None] + 1
        parts = [
            quads(number(below, a, 1), number(above, a, 1), number(above, b, 1),
                  number(below, b, 1)),
            quads(number(below, a, 0), number(below, b, 0), number(above, b, 0),
                  number(above, a, 0)),
        ]  # fmt: skip
        for at, way in ((np.array([first]), 1), (np.array([last]), -1)):
            ring = quads(number(at, j, 0), number(at, j, 1), number(at, j + 1, 1),
                         number(at, j + 1, 0))  # fmt: skip
            parts.append(ring[:, ::way])
        if cut:
            for at, way in ((np.array([-quarter]), 1), (np.array([quarter]), -1)):
                face = quads(number(i, at, 0), number(i + 1, at, 0), number(i + 1, at, 1),
                             number(i, at, 1))  # fmt: skip
                parts.append(face[:, ::way])
        return np.concatenate(parts)[:, ::-1]


def _side(walk: Walk, limb: LimbStates, shape: LimbShape, spacing: float) -> _Side:
    stations = limb.s
    count = np.maximum(np.ceil(np.diff(stations) / spacing - 1e-9), 1.0).astype(int)
    steps = [np.linspace(a, b, n, endpoint=False)
             for a, b, n in zip(stations[:-1], stations[1:], count, strict=True)]  # fmt: skip
    inner = np.append(np.concatenate(steps), stations[-1])
    left = shape.length - stations[-1]
    beyond = stations[-1] + left * np.linspace(0.0, 1.0, 1 + max(1, int(np.ceil(left / spacing))))
    s = np.concatenate([inner, beyond[1:]])
    s[-1] = shape.length
    thickness, share = shape.thickness_at(s), shape.edge_on_share(s)
    pipe, material = walk.design.pipe, walk.design.material
    sections = SectionFamily.from_pipe(pipe, material).at(thickness[: inner.size])
    if np.any(share > 0.0):
        edge = SectionFamily.from_pipe(pipe, material, turned=True).at(thickness[: inner.size])
        sections = blend(sections, edge, share[: inner.size])
    return _Side(limb, shape, s, inner.size, thickness, 0.5 * np.pi * share, sections)


def _at_curvature(sections: SectionResponse, values: Array, bending: Array) -> Array:
    """Read knots (m, n_k), evenly spaced in curvature, at one curvature a section."""
    last, n = sections.curvature[:, -1], sections.curvature.shape[1]
    place = np.clip(0.5 * (n - 1) * (1.0 + bending / last), 0.0, n - 1)
    low = np.minimum(place.astype(int), n - 2)
    rows, part = np.arange(len(values)), place - low
    return (1.0 - part) * values[rows, low] + part * values[rows, low + 1]


def _axis(side: _Side, state: int, flip: float) -> tuple[Array, Array]:
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
    axis = (v * v * (1.0 + 2.0 * u) * at[cell] + u * u * (1.0 + 2.0 * v) * at[cell + 1]
            + u * v * h * (v * way[cell] - u * way[cell + 1]))  # fmt: skip
    outside = side.s[m - 1 :]
    formed = shape.natural_angle(outside)
    turned = angle[-1] + formed - formed[0]
    middle = 0.5 * (turned[1:] + turned[:-1])
    steps = np.stack([np.sin(middle), np.cos(middle)], axis=-1) * np.diff(outside)[:, None]
    axis = np.concatenate([axis, axis[-1] + np.cumsum(steps, axis=0)])
    return axis, np.concatenate([np.interp(inner, knots, angle), turned[1:]])


def _string(walk: Walk, state: int) -> Array:
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


def _contact(walk: Walk, s: Array, points: Array, state: int) -> tuple[Array, ...]:
    """Return lines on the belly's surface where the string lies."""
    belly = points[:, points.shape[1] // 4, 1]
    lines = []
    for limb, sign in ((walk.limbs[1], -1.0), (walk.limbs[0], 1.0)):
        for outer, inner in limb.contact[state]:
            if not outer - inner > 1e-4:  # unused, or the loop in its groove
                continue
            ends = np.sort(sign * np.array([inner, outer]))
            at = np.concatenate([ends[:1], s[(s > ends[0]) & (s < ends[1])], ends[1:]])
            lines.append(np.stack([np.interp(at, s, part) for part in belly.T], axis=-1))
    return tuple(lines)
