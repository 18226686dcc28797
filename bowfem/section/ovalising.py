"""Sections that flatten as they bend, tabulated for the rod."""

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import BowfemError
from bowfem.section.material import Law
from bowfem.section.outline import Outline, onset_thickness
from bowfem.section.pipe import Pipe
from bowfem.section.response import SectionResponse, at_rest, curvature_knots
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import March, RingPath, follow_bending
from bowfem.section.wall import sampled

Array = NDArray[np.float64]

#: Collocation points on flats, and
#: on flats that may touch, where the edge of the touching part moves along the wall.
FLAT_POINTS, TOUCHING_POINTS = 8, 12
#: Intervals of curvature solved for a family, of which the first HALF end where faces touch.
STEPS, HALF = 16, 8


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
    so, not in a limb. The linear wall stiffness crosswise, and the stress along the limb without
    Poisson coupling to it, are simplifications.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC, Pipe, pressed
    >>> folding = ovalising_response(pressed(Pipe.from_size("3/4 in Sch 40"), 10e-3), RIGID_PVC)
    >>> round(float(folding.limit), 1), round(float(folding.limit) * 5e-3, 3)
    (13.3, 0.067)
    """
    kappa = curvature_knots(outline, max_strain, n)
    ring = Ring.from_outlines([outline], flat_points=TOUCHING_POINTS)
    table = _table(follow_bending(ring, material, kappa[None, n // 2 :]))
    both = {name: part[0] for name, part in _mirrored(table).items()}
    return SectionResponse(**{**both, "curvature": kappa}, **at_rest(outline, material))


def _table(path: RingPath) -> dict[str, Array]:
    """Return what a response holds on its knots, (b, n_k), along a path from zero."""
    lost = np.isnan(path.moment)
    if np.any(lost):
        row = int(np.argmax(np.any(lost, axis=1)))
        at = float(path.curvature[row, np.argmax(lost[row])])
        raise BowfemError(
            f"section: no equilibrium of the wall at a curvature of {at:.4g} 1/m; "
            "take a smaller max_strain"
        )
    wall = sampled(path.ring, path.unknowns)
    t = (path.ring.wall * path.ring.radius)[:, None]
    return {
        "curvature": path.curvature,
        "moment": path.moment,
        "tangent": path.tangent,
        "axial_strain": path.axial_strain,
        "belly": np.max(wall.y, axis=2) + 0.5 * t,
        "back": 0.5 * t - np.min(wall.y, axis=2),
        "loaded_thickness": wall.y[..., -1] - wall.y[..., 0] + t,
        "crosswise_strain": 0.5 * t * np.max(np.abs(wall.change), axis=2),
    }


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
    the root of the gap, as the curvature at touching does.
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
        for name in (each.name for each in fields(solved)):
            if getattr(solved, name).ndim > 1 and name not in ("curvature", "moment"):
                # the tangent jumps where faces touch: beyond, it is read from beyond
                full[name] = _cubic(
                    getattr(solved, name), place, low + (after & (name == "tangent")), high
                )
        number = np.arange(STEPS + 1)
        slopes = (
            solved.tangent * touch / end,
            2.0 * solved.tangent * (top - touch) * (number - HALF) / rest**2,
        )
        full["moment"] = np.where(
            after, *(_hermite(solved.moment, slope, place, low, high) for slope in slopes[::-1])
        )
        return replace(solved, **_mirrored(full))


def _cubic(value: Array, place: Array, low: Array, high: Array) -> Array:
    """Read knots (m, n_k) at places between them by the cubic through the four nearest of a run."""
    first = np.clip(np.floor(place).astype(int) - 1, low, high - 3)
    u = place - first
    weights = (
        (1.0 - u) * (u - 2.0) * (u - 3.0) / 6.0,
        u * (u - 2.0) * (u - 3.0) / 2.0,
        u * (1.0 - u) * (u - 3.0) / 2.0,
        u * (u - 1.0) * (u - 2.0) / 6.0,
    )
    total = np.zeros(place.shape)
    for j, weight in enumerate(weights):
        total += weight * np.take_along_axis(value, first + j, 1)
    return total


def _hermite(value: Array, slope: Array, place: Array, low: Array, high: Array) -> Array:
    """Read knots (m, n_k) with their slopes by place at places between them."""
    first = np.clip(np.floor(place).astype(int), low, high - 1)
    u = place - first
    v0, v1 = (np.take_along_axis(value, first + j, 1) for j in (0, 1))
    s0, s1 = (np.take_along_axis(slope, first + j, 1) for j in (0, 1))
    rise = v1 - v0
    return v0 + u * (s0 + u * (3.0 * rise - 2.0 * s0 - s1 + u * (s0 + s1 - 2.0 * rise)))


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

    Notes
    -----
    Panels meet where flats begin and, for lying sections, where faces first touch inside the
    range; all sections of a panel are solved together.
    """
    closed, onset, full = 2.0 * pipe.wall, onset_thickness(pipe), pipe.outer_diameter
    share = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, n_thickness)))

    def outlines(thicknesses: Array) -> list[Outline]:
        made = [shape(pipe, float(each)) for each in thicknesses]
        return [each.turned() for each in made] if turned else made

    ends, touching = [closed, *([onset] if onset > closed else []), full], False
    if not turned and onset > closed:
        scouts = outlines(closed + (onset - closed) * np.linspace(0.0, 1.0, 8) ** 2)
        walls = _Walls(scouts, material, TOUCHING_POINTS)
        touching = bool(np.any(walls.ring.facing * walls.ring.weights > 0.0))
        if touching:
            share_touching, max_strain = walls.reach(max_strain)
            if share_touching < 0.99:
                ends.insert(1, closed + share_touching * (onset - closed))
    grids, tables, rests, panels = [], [], [], []
    for low, high in pairwise(ends):
        touches = touching and not grids
        grid = low + (high - low) * (share**2 if touches else share)
        grid[-1] = high
        walls = _Walls(outlines(grid), material, TOUCHING_POINTS if touches else FLAT_POINTS)
        kappa = walls.knots(max_strain, touches)
        tables.append(_table(follow_bending(walls.ring, material, kappa)))
        rests += [at_rest(each, material) for each in walls.outlines]
        panels.append(slice(len(grids) * n_thickness, (len(grids) + 1) * n_thickness))
        grids.append(grid)
    on_knots = {name: np.concatenate([table[name] for table in tables]) for name in tables[0]}
    alone = {name: np.stack([rest[name] for rest in rests]) for name in rests[0]}
    nodes = SectionResponse(**on_knots, **alone)
    return SolvedFamily(
        np.concatenate(grids), tuple(panels), nodes, HalfKnots(n, max_strain, touching)
    )


class _Walls:
    """Find the curvatures at which to solve the sections of one panel."""

    def __init__(self, outlines: list[Outline], material: Law, flat_points: int) -> None:
        self.outlines, self.material = outlines, material
        self.ring = Ring.from_outlines(outlines, flat_points=flat_points)
        self.free = replace(self.ring, facing=np.zeros_like(self.ring.facing))
        inside = np.array([each.thickness - 2.0 * each.wall for each in outlines])
        self.gap = np.maximum(inside, 0.0) / self.ring.radius
        self.fibre = np.array([each.fibre for each in outlines])

    def free_path(self, strain: float) -> tuple[RingPath, Array]:
        """Follow the walls as if faces could pass through each other; return their closing too."""
        kappa = strain / self.fibre[:, None] * np.linspace(0.0, 1.0, 9)
        path = follow_bending(self.free, self.material, kappa)
        if np.any(np.isnan(path.moment)):
            raise BowfemError("section: the wall has no equilibrium; take a smaller max_strain")
        closing = [self.free.closing(path.unknowns[:, j]) for j in range(9)]
        return path, np.stack(closing, axis=1)

    def reach(self, max_strain: float) -> tuple[float, float]:
        """Find up to which share of the room faces touch inside the range, for `tabulate`.

        If all do, the range is cut: sections without flats cannot touch in this model, so tables
        end before they would.
        """
        _, closing = self.free_path(max_strain)
        left = self.gap - closing[:, -1]
        if left[-1] <= 0.0:
            # closing grows about as the square of curvature
            square = np.interp(self.gap[-1], closing[-1], np.linspace(0.0, 1.0, 9) ** 2)
            return 1.0, 0.98 * max_strain * float(np.sqrt(square))
        x = np.linspace(0.0, 1.0, len(left))
        i = int(np.flatnonzero(left <= 0.0)[-1])
        root = x[i] + (x[i + 1] - x[i]) * left[i] / (left[i] - left[i + 1])
        return min(float(root + 0.02) ** 2, 1.0), max_strain

    def knots(self, max_strain: float, touches: bool) -> Array:
        """Return the curvatures to solve, 1/m, (b, STEPS + 1)."""
        if not touches:
            return max_strain / self.fibre[:, None] * np.linspace(0.0, 1.0, STEPS + 1)
        touch = self.touching(1.25 * max_strain)[:, None]
        top = np.maximum(touch[-1] * self.fibre[-1], max_strain) / self.fibre[:, None]
        beyond = np.linspace(0.0, 1.0, STEPS - HALF + 1)[1:] ** 2
        return np.concatenate(
            [touch * np.linspace(0.0, 1.0, HALF + 1), touch + (top - touch) * beyond], axis=1
        )

    def touching(self, strain: float) -> Array:
        """Return the curvature at which the middles of the faces meet, 1/m, (b,)."""
        path, closing = self.free_path(strain)
        rows = np.flatnonzero(self.gap > 1e-9)
        march, touch = March(self.free, self.material), np.zeros(len(self.gap))
        guess = np.zeros((len(self.gap), self.ring.size))
        for i in rows:
            kappa = path.curvature[i] * self.ring.radius[i]
            touch[i] = np.sqrt(np.interp(self.gap[i], np.maximum.accumulate(closing[i]), kappa**2))
            j = min(int(np.searchsorted(kappa, touch[i])), 8)
            guess[i] = path.unknowns[i, j] * touch[i] / kappa[j]
        for _ in range(4):
            if not np.all(march.solve(rows, touch[rows], guess[rows])):
                break
            rate = self.free.closing_rate(march.state, march.slope)[rows]
            change = (self.gap - self.free.closing(march.state))[rows] / rate
            touch[rows] += change
            guess[rows] = march.state[rows] + change[:, None] * march.slope[rows]
        return touch / self.ring.radius
