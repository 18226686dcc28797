"""Sections that flatten as they bend, tabulated for the rod."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels.crosswise import thick_wall
from bowfem.errors import BowfemError
from bowfem.section._numerics import FourPoint, osculating
from bowfem.section.material import Law
from bowfem.section.outline import Outline, onset_thickness
from bowfem.section.pipe import Pipe
from bowfem.section.plane_stress import plane_stress
from bowfem.section.response import SectionResponse, at_rest, curvature_knots
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import March, RingPath, follow_bending
from bowfem.section.wall import sampled

Array = NDArray[np.float64]

#: Collocation points on flats that may touch: the edge of what touches moves along the wall.
TOUCHING_POINTS = 12
#: Intervals of curvature solved for a family, of which the first HALF end where faces touch.
STEPS, HALF = 32, 16
#: Share of its moment that a section may lose before its faces touch and it bears more, without
#: being told to fold: less is beyond what this model knows of it; and its slope then, over that at
#: rest.
DENT, LEVEL = 0.01, 1e-3
#: Steps of the search for the curvature where faces touch.
FREE_STEPS = 9


class LostWallError(BowfemError):
    """A wall was followed to where it gives way altogether, beyond its fold."""


def ovalising_response(
    outline: Outline, material: Law, max_strain: float = 0.08, n: int = 65
) -> SectionResponse:
    """Tabulate a section whose outline gives way under load.

    Parameters
    ----------
    outline : Outline
        The cross-section as formed, whole: from `pressed`, `circle` or the like, lying or turned.
    material : Law
        Stress-strain law.
    max_strain : float, optional
        Strain of the outer fibre at the last knot, if the outline stayed as it is.
    n : int, optional
        Number of knots, odd, at least 5.

    Raises
    ------
    InputError
        When the range, the number of knots or the outline cannot be used.
    BowfemError
        When the wall finds no equilibrium at a knot.

    Notes
    -----
    Least energy of the wall as a thin rod under the limb's curvature, see `Ring`. Belly, back and
    axial strain count from the mean height of the mid-wall, at rest the middle of the thickness.
    Past the moment's peak the curvature is still prescribed: those states exist in a section held
    so, not in a limb. The wall yields along and across, see `bowfem.section.plane_stress`.
    Simplifications: it keeps its thickness; the sideways (anticlastic) bow that both faces share is
    left out; the limb is straight before it is bent (for curls see `curled_response`). Faces of
    flats stop at each other with a give of a few thousandths of the wall, which moves moments by up
    to 2 parts in a thousand there.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC, Pipe, pressed
    >>> folding = ovalising_response(pressed(Pipe.from_size("3/4 in Sch 40"), 10e-3), RIGID_PVC)
    >>> round(float(folding.limit), 1), round(float(folding.limit) * 5e-3, 3)
    (8.2, 0.041)
    """
    kappa = curvature_knots(outline.fibre, max_strain, n)
    ring = Ring.from_outlines([outline], flat_points=TOUCHING_POINTS)
    table = path_table(follow_bending(ring, material, kappa[None, n // 2 :]), material)
    both = {name: part[0] for name, part in _mirrored(table).items()}
    rest = at_rest(outline, material)
    both["tangent"][n // 2] = rest["bending_stiffness"]  # by the outline's own points
    return SectionResponse(**{**both, "curvature": kappa}, **rest)


def path_table(path: RingPath, material: Law, natural: float = 0.0) -> dict[str, Array]:
    """Return what a response holds on its knots, (b, n_k), along a path from zero.

    Of sections formed to a curvature `natural`, 1/m, the distances of belly and back are those that
    give the strain of the fibres, which are shorter on the inside as formed.
    """
    lost = np.isnan(path.moment)
    if np.any(lost):
        row = int(np.argmax(np.any(lost, axis=1)))
        at = float(path.curvature[row, np.argmax(lost[row])])
        raise LostWallError(
            f"section: no equilibrium of the wall at a curvature of {at:.4g} 1/m; "
            "take a smaller max_strain"
        )
    wall = sampled(path.ring, path.unknowns)
    t = (path.ring.wall * path.ring.radius)[:, None]
    belly, back = np.max(wall.y, axis=2) + 0.5 * t, 0.5 * t - np.min(wall.y, axis=2)
    if natural:
        formed = wall.y[:, :1]
        before = np.max(formed, axis=2) + 0.5 * t, np.min(formed, axis=2) - 0.5 * t
        belly = _effective(path, belly, before[0], natural)
        back = -_effective(path, -back, before[1], natural)
    strain, tension = _across(path, material, natural)
    return {
        "curvature": path.curvature,
        "moment": path.moment,
        "tangent": path.tangent,
        "axial_strain": path.axial_strain,
        "belly": belly,
        "back": back,
        "loaded_thickness": wall.y[..., -1] - wall.y[..., 0] + t,
        "crosswise_strain": strain,
        "crosswise_tension": tension,
    }


def _effective(path: RingPath, y: Array, before: Array, natural: float) -> Array:
    """Return the distance that gives the strain of a fibre as of a straight limb, (b, n_k)."""
    k, e = path.curvature, path.axial_strain
    strain = (e - k * y - natural * (y - before)) / (1.0 - natural * before)
    with np.errstate(divide="ignore", invalid="ignore"):
        distance = (e - strain) / k
    # at rest: its limit, by the parabola through the next three
    distance[:, 0] = 3.0 * (distance[:, 1] - distance[:, 2]) + distance[:, 3]
    return distance


def _across(path: RingPath, material: Law, natural: float) -> tuple[Array, Array]:
    """Return the largest strain by size, and the largest tension, Pa, round the section, (b, n_k).

    At the inner and outer surface, at the points of the mid-wall; as `wall_stress`.
    """
    ring, law = path.ring, plane_stress(material)
    b, n_k = path.curvature.shape
    surfaces = np.array([-0.5, 0.5])
    share = np.concatenate([ring.share, [0.0, 0.0]])
    strain, tension = np.zeros((b, n_k)), np.zeros((b, n_k))
    q = path.unknowns[..., : ring.root.shape[1]]
    for i in range(b):
        radius, wall = float(ring.radius[i]), float(ring.wall[i])
        rows = np.repeat(np.array([i]), n_k)
        one = ring[rows]
        state = path.unknowns[i]
        _, _, y = one.shape(state)
        given = np.full(n_k, natural * radius) if natural else None
        middle, _ = one.mid_strain(state, y, path.curvature[i] * radius, given)
        inverse = np.divide(1.0, ring.root[i], out=np.zeros(q.shape[2]), where=ring.root[i] > 0.0)
        found = thick_wall(
            law.table,
            law.step,
            material.poisson,
            middle.ravel(),
            (q[i] * inverse).ravel(),
            np.tile(ring.bend[i], n_k),
            wall * np.concatenate([ring.offset, surfaces]),
            share,
        )[:2, :, -2:].reshape(2, n_k, -1)
        strain[i] = np.max(np.abs(found[0]), axis=1)
        tension[i] = material.initial_modulus * np.maximum(np.max(found[1], axis=1), 0.0)
    return strain, tension


def _mirrored(half: dict[str, Array]) -> dict[str, Array]:
    """Complete knots from zero up by those below: belly and back change places."""
    below = {**half, "belly": half["back"], "back": half["belly"]}
    for name in ("curvature", "moment"):
        below[name] = -half[name]
    return {name: np.concatenate([below[name][..., :0:-1], half[name]], -1) for name in half}


@dataclass(frozen=True, eq=False)
class HalfKnots:
    """Say on which curvatures the nodes of an ovalising family are solved, and refill a table.

    Attributes
    ----------
    n : int
        Knots of the tables handed out.
    max_strain : float
        Their range, strain of the outer fibre of the unloaded outline.
    touching : bool
        Whether the first panel is that of sections whose faces touch inside the range: the first
        `HALF` intervals are then equal and end at touching, the others grow as squares from there.

    Notes
    -----
    Where faces touch, moment and shape have a kink in curvature, at a curvature that changes with
    thickness. Knots that follow it make every node smooth in thickness; thickness counts there as
    the root of the gap, as the curvature at touching does. The moment may peak just before, between
    two knots of the table handed out: where it does is told by the knots solved (within 1 per cent,
    D). The table itself rounds the kink off over one of its cells, by up to 1 per cent of the
    moment.
    """

    n: int
    max_strain: float
    touching: bool

    def refilled(self, solved: SectionResponse, first: NDArray[np.bool_]) -> SectionResponse:
        """Return tables on n uniform knots from those on the family's own, (m, STEPS + 1)."""
        last = self.max_strain / (0.5 * solved.thickness)[:, None]
        wanted = np.linspace(0.0, 1.0, self.n // 2 + 1) * last
        end = np.where(first & self.touching, HALF, STEPS)[:, None]
        touch, top = np.take_along_axis(solved.curvature, end, 1), solved.curvature[:, -1:]
        after = (end < STEPS) & (wanted >= touch)
        rest, scale = STEPS - HALF, np.where(top > touch, top - touch, np.inf)
        root = np.sqrt(np.maximum(wanted - touch, 0.0) / scale)
        place = np.where(
            after, HALF + rest * root, wanted / np.where(touch > 0.0, touch, 1.0) * end
        )
        low, high = np.where(after, HALF, 0), np.where(after, STEPS, end)
        full = {"curvature": wanted}
        read = FourPoint(place, low, high)
        names = [
            each.name
            for each in fields(solved)
            if getattr(solved, each.name).ndim > 1 and each.name != "curvature"
        ]
        full |= zip(names, read.value(np.stack([getattr(solved, n) for n in names])), strict=True)
        past = FourPoint(place, np.where(after, HALF + 1, 0), high).value(solved.tangent)
        spacing = np.where(touch > 0.0, touch, 1.0) / end
        moment, rate = osculating(solved.moment, solved.tangent * spacing, place, low, high, 4)
        full["tangent"] = np.where(after, past, rate / spacing)
        spacing = 2.0 * (top - touch) * (np.arange(STEPS + 1) - HALF) / rest**2
        beyond, _ = osculating(solved.moment, solved.tangent * spacing, place, low, high, 2)
        full["moment"] = np.where(after, beyond, moment)
        full["tangent"][:, 0] = solved.bending_stiffness  # at rest, by the outline's own points
        peak, dented = self._peaks(solved, first & self.touching)
        for i in np.flatnonzero(dented):  # goes on nearly level where it would sag
            up_to = wanted[i] < np.where(np.isinf(peak[i]), last[i], peak[i])
            slope = LEVEL * solved.bending_stiffness[i]
            ramp = slope * wanted[i, up_to]
            full["moment"][i, up_to] = np.maximum.accumulate(full["moment"][i, up_to] - ramp) + ramp
            full["tangent"][i, up_to] = np.maximum(full["tangent"][i, up_to], slope)
        _without_sag(full, np.flatnonzero(first & self.touching))
        return replace(solved, **_mirrored(full), peak=peak, peak_backward=peak)

    def _peaks(
        self, solved: SectionResponse, touches: NDArray[np.bool_]
    ) -> tuple[Array, NDArray[np.bool_]]:
        """Return where the moments peak, inf for nowhere, and whose sag is too small to count."""
        moment = solved.moment
        until = np.arange(STEPS + 1) <= np.where(touches, HALF, STEPS)[:, None]
        before = _first_fall(solved, until)
        most = np.max(np.where(until, moment, -np.inf), axis=1)
        again = np.max(np.where(until, -np.inf, moment), axis=1, initial=-np.inf) > most
        sags = touches & np.isfinite(before) & again & (moment[:, HALF] > (1.0 - DENT) * most)
        after = _first_fall(solved, ~until)
        return np.where(np.isfinite(before) & ~sags, before, after), sags


def _without_sag(full: dict[str, Array], rows: NDArray[np.int_]) -> None:
    """Lower slopes beside a cell with a kink in it, so that its cubic does not fall where it rises.

    Slopes of up to three times the cell's own keep a cubic monotone (F. N. Fritsch, R. E. Carlson,
    SIAM J. Numer. Anal. 17 (1980) 238; from memory).
    """
    moment, tangent = full["moment"][rows], full["tangent"][rows]
    rise = 3.0 * np.diff(moment, axis=1) / full["curvature"][rows, 1:2]
    rise[rise < 0.0] = np.inf
    tangent[:, 1:] = np.minimum(tangent[:, 1:], rise)
    tangent[:, :-1] = np.minimum(tangent[:, :-1], rise)
    full["tangent"][rows] = tangent


def _first_fall(solved: SectionResponse, where: NDArray[np.bool_]) -> Array:
    """Return the least curvature among some knots at which the tangent falls to zero, or inf."""
    falls = where & (solved.tangent <= 0.0)
    after = np.maximum(np.argmax(falls, axis=1), 1)[:, None]
    inside = np.take_along_axis(where, after - 1, 1)[:, 0]
    k1, k0 = (np.take_along_axis(solved.curvature, i, 1)[:, 0] for i in (after, after - 1))
    t1, t0 = (np.take_along_axis(solved.tangent, i, 1)[:, 0] for i in (after, after - 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        between = k0 + (k1 - k0) * t0 / (t0 - t1)
    return np.where(np.any(falls, axis=1), np.where(inside, between, k1), np.inf)


class SolvedFamily(NamedTuple):
    """Hold the nodes of an ovalising family, as `SectionFamily` takes them."""

    thicknesses: Array
    panels: tuple[slice, ...]
    nodes: SectionResponse
    half: HalfKnots


def tabulate(
    pipe: Pipe,
    material: Law,
    shape: Callable[[Pipe, float], Outline],
    turned: bool,
    max_strain: float,
    n: int,
    n_thickness: int,
) -> SolvedFamily:
    """Solve the sections of a pipe at the nodes of panels of thickness.

    Raises
    ------
    LostWallError
        A wall gives way altogether inside the range.

    Notes
    -----
    Panels meet where flats begin and, for lying sections, where faces first touch inside the
    range; all sections of a panel are solved together.
    """
    closed, onset, full = 2.0 * pipe.wall, onset_thickness(pipe), pipe.outer_diameter

    def outlines(thicknesses: Array) -> list[Outline]:
        made = [shape(pipe, float(each)) for each in thicknesses]
        return [each.turned() for each in made] if turned else made

    ends, touching = [closed, *([onset] if onset > closed else []), full], False
    if not turned and onset > closed:
        scouts = outlines(closed + (onset - closed) * np.linspace(0.0, 1.0, 8) ** 2)
        walls = Ring.from_outlines(scouts[-2:])
        touching = bool(np.any(walls.facing * walls.weights > 0.0))
        if touching:
            share_touching, max_strain = _reach(scouts, material, max_strain)
            if share_touching < 0.99:
                ends.insert(1, closed + share_touching * (onset - closed))
    grids = []
    for low, high in pairwise(ends):
        # without flats little varies: fewer nodes do
        count = n_thickness if low < onset or onset <= closed else max(4, (3 * n_thickness) // 5)
        share = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, count)))
        grids.append(low + (high - low) * (share**2 if touching and not grids else share))
        grids[-1][-1] = high
    stops = np.cumsum([len(grid) for grid in grids]).tolist()
    tables, made = [], [outlines(grid) for grid in grids]
    if touching:
        kappa = _touching_knots(made[0], material, max_strain)
        walls = Ring.from_outlines(made[0], flat_points=TOUCHING_POINTS)
        table = path_table(follow_bending(walls, material, kappa), material)
        free = follow_bending(walls.without_contact(), material, kappa[:, : HALF + 1])
        table["tangent"][:, HALF] = free.tangent[:, HALF]  # as the faces come to touch, not after
        tables.append(table)
    smooth = [each for panel in made[touching:] for each in panel]
    kappa = max_strain / _fibres(smooth)[:, None] * np.linspace(0.0, 1.0, STEPS + 1)
    walls = Ring.from_outlines(smooth).without_contact()
    tables.append(path_table(follow_bending(walls, material, kappa), material))
    rests = [at_rest(each, material) for panel in made for each in panel]
    on_knots = {name: np.concatenate([table[name] for table in tables]) for name in tables[0]}
    alone = {name: np.stack([rest[name] for rest in rests]) for name in rests[0]}
    nodes = SectionResponse(**on_knots, **alone)
    return SolvedFamily(
        np.concatenate(grids),
        tuple(slice(a, b) for a, b in pairwise([0, *stops])),
        nodes,
        HalfKnots(n, max_strain, touching),
    )


def _fibres(outlines: list[Outline]) -> Array:
    return np.array([each.fibre for each in outlines])


def _free_path(
    outlines: list[Outline], material: Law, strain: float
) -> tuple[RingPath, Array, Array]:
    """Follow walls whose faces could pass through each other.

    Returns the path in FREE_STEPS, how much the faces have come closer at each, and how much they
    may, (b,), in units of the ring.
    """
    ring = Ring.from_outlines(outlines, 1, 6, 4, 4).without_contact()  # only to place knots
    kappa = strain / _fibres(outlines)[:, None] * np.linspace(0.0, 1.0, FREE_STEPS + 1)
    path = follow_bending(ring, material, kappa)
    if np.any(np.isnan(path.moment)):
        raise LostWallError("section: the wall has no equilibrium; take a smaller max_strain")
    closing = np.stack([ring.closing(path.unknowns[:, j]) for j in range(FREE_STEPS + 1)], axis=1)
    inside = np.array([each.thickness - 2.0 * each.wall for each in outlines])
    return path, closing, np.maximum(inside, 0.0) / ring.radius


def _reach(scouts: list[Outline], material: Law, max_strain: float) -> tuple[float, float]:
    """Find the share of the room up to which faces touch inside the range, for `tabulate`.

    If all do, the range is cut: sections without flats cannot touch in this model, so tables
    end before they would.
    """
    _, closing, gap = _free_path(scouts, material, max_strain)
    left = gap - closing[:, -1]
    if left[-1] <= 0.0:
        # closing grows about as the square of curvature
        square = np.interp(gap[-1], closing[-1], np.linspace(0.0, 1.0, FREE_STEPS + 1) ** 2)
        return 1.0, 0.98 * max_strain * float(np.sqrt(square))
    share = np.linspace(0.0, 1.0, len(left)) ** 2
    i = int(np.flatnonzero(left <= 0.0)[-1])
    root = share[i] + (share[i + 1] - share[i]) * left[i] / (left[i] - left[i + 1])
    return min(1.1 * float(root), 1.0), max_strain  # a little more: the panel must hold them all


def _touching_knots(outlines: list[Outline], material: Law, max_strain: float) -> Array:
    """Return the curvatures to solve of sections that touch, 1/m, (b, STEPS + 1)."""
    touch, fibre = _touching(outlines, material, 1.5 * max_strain)[:, None], _fibres(outlines)
    top = np.maximum(touch[-1] * fibre[-1], max_strain) / fibre[:, None]
    beyond = np.linspace(0.0, 1.0, STEPS - HALF + 1)[1:] ** 2
    return np.concatenate(
        [touch * np.linspace(0.0, 1.0, HALF + 1), touch + (top - touch) * beyond], axis=1
    )


def _touching(outlines: list[Outline], material: Law, strain: float) -> Array:
    """Return the curvature at which the middles of the faces meet, 1/m, (b,)."""
    path, closing, gap = _free_path(outlines, material, strain)
    rows, touch = np.flatnonzero(gap > 1e-9), np.zeros(len(gap))
    low, high, state = touch.copy(), touch.copy(), np.zeros((len(gap), path.ring.size))
    for i in rows:
        kappa = path.curvature[i] * path.ring.radius[i]
        j = int(np.argmax(closing[i] >= gap[i]))
        if j == 0:
            raise LostWallError("section: faces do not touch where they should; report it")
        low[i], high[i], state[i] = kappa[j - 1], kappa[j], path.unknowns[i, j - 1]
        # closing grows about as the square of curvature
        touch[i] = np.sqrt(np.interp(gap[i], closing[i, j - 1 : j + 1], kappa[j - 1 : j + 1] ** 2))
    march = March(path.ring, material)
    found, left = march.solve(rows, low[rows], state[rows]), rows
    for _ in range(30):
        if not np.all(found):
            raise LostWallError("section: touching of the faces was not found; report this section")
        if left.size == 0:
            break
        found = march.advance(left, touch[left])
        rate = path.ring.closing_rate(march.state, march.slope)
        short = gap - path.ring.closing(march.state)
        low = np.where(short > 0.0, touch, low)
        high = np.where(short > 0.0, high, touch)
        with np.errstate(divide="ignore", invalid="ignore"):
            new = touch + short / rate
        new = np.where((new > low) & (new < high), new, 0.5 * (low + high))
        left = left[np.abs(new - touch)[left] > 1e-9 * high[left]]
        touch[left] = new[left]
    return touch / path.ring.radius
