"""Section families of many like pipes and plastics: a few are solved, the others lie between.

What a section does depends on wall over diameter and on the shape of the law alone; size and
stiffness scale it exactly. So families are interpolated over those few numbers, node by node.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.section._numerics import barycentric
from bowfem.section.curled import CurledFamily, Panel, read_panels
from bowfem.section.family import SectionFamily
from bowfem.section.law import Law
from bowfem.section.pipe import Pipe
from bowfem.section.response import SectionResponse

Array = NDArray[np.float64]
Job = tuple[Pipe, Law, bool]
#: Anything that solves families: the built-in `map`, or that of an executor.
Mapping = Callable[[Callable[[Job], SectionFamily], Iterable[Job]], Iterable[SectionFamily]]

#: Total degree of the polynomials, by the count of numbers that vary; of more than these, the last.
DEGREES = (0, 4, 4, 3)
#: Strains at which two laws are compared, and difference that counts as none, as a share.
PROBE, ALIKE = np.linspace(-0.06, 0.06, 25), 1e-9
#: Formed curvatures solved to a tenfold: 2 per cent from one to the next.
CURLS = 116
#: Below this curvature times the diameter, as a set in the handle has it, a polynomial through five
#: of both signs instead: within 3e-6 of a section's largest moment, 1e-7 of its stiffness.
MILD = 0.06
ROW = np.cos(np.pi * np.arange(5) / 4)
#: Pairs looked at to tell whether laws are alike.
LOOKS = 40


def solve(job: Job) -> SectionFamily:
    """Solve one family; a function of the module, so that it can be sent to another process."""
    pipe, law, turned = job
    return SectionFamily.from_pipe(pipe, law, turned=turned)


@dataclass(frozen=True, eq=False)
class CurledBetween:
    """Give sections formed to a curvature as a weighted mean of some that are solved.

    Attributes
    ----------
    pipe : Pipe
        What they are made of.
    parts : tuple of (float, CurledFamily)
        Weights and what they are weights of, all of one size and stiffness.
    scale : tuple of float
        Factors on length, stress and density.
    """

    pipe: Pipe
    parts: tuple[tuple[float, CurledFamily], ...]
    scale: tuple[float, float, float]

    def at(self, thickness: ArrayLike) -> SectionResponse:
        """Return the responses at pressed thicknesses, as `CurledFamily.at` does."""
        return read_panels(self.edges, self.panel, thickness)

    @cached_property
    def edges(self) -> Array:
        """Ends of the panels of thickness, m."""
        weights = np.array([weight for weight, _ in self.parts])
        found = self.scale[0] * weights @ np.stack([family.edges for _, family in self.parts])
        # its ends are those of the pipe, to the last bit
        found[[0, -1]] = 2.0 * self.pipe.wall, self.pipe.outer_diameter
        return found

    def panel(self, number: int) -> Panel:
        """Return what lies between those solved, node by node."""
        weights = np.array([weight for weight, _ in self.parts])
        solved = [family.panel(number) for _, family in self.parts]
        mixed: dict[str, Array] = {
            each.name: np.tensordot(
                weights, np.stack([getattr(one.nodes, each.name) for one in solved]), 1
            )
            for each in fields(SectionResponse)
        }
        low, high = self.edges[number : number + 2]
        own = solved[0].thicknesses
        place = (own - own[0]) / (own[-1] - own[0])
        return Panel(low + place * (high - low), SectionResponse(**mixed).scaled(*self.scale))


@dataclass(frozen=True, eq=False)
class FamilyRange:
    """Hold families of pipes and plastics alike, and give those in between.

    Attributes
    ----------
    pipe, law : Pipe, Law
        Size and stiffness at which all are solved.
    names : tuple of str
        Numbers that vary: "wall", over the diameter, and numbers of the law at that stiffness.
    low, high : ndarray, shape (d,)
        Their range.
    points : ndarray, shape (k, d)
        Where families are solved, as shares of the range.
    inverse : ndarray, shape (k, k) or (0, 0)
        From a polynomial's terms to the weight of each family; empty where every pair is solved.
    lying, turned : tuple of SectionFamily
        The families; `turned` is empty where no section stands on its edge.
    error : float
        Largest difference of a moment from solved families that are none of these, over the
        largest moment of the section.
    """

    pipe: Pipe
    law: Law
    names: tuple[str, ...]
    low: Array
    high: Array
    points: Array
    inverse: Array
    lying: tuple[SectionFamily, ...]
    turned: tuple[SectionFamily, ...]
    error: float

    @classmethod
    def from_pairs(
        cls,
        pairs: Sequence[tuple[Pipe, Law]],
        *,
        between: bool = False,
        checks: Sequence[tuple[Pipe, Law]] = (),
        turned: bool = False,
        mapping: Mapping = map,
    ) -> FamilyRange | None:
        """Solve what it takes to give the families of many pairs.

        Parameters
        ----------
        pairs : sequence of (Pipe, Law)
            Pipes and plastics wanted, at least one; the first gives the size.
        between : bool
            Whether all between the extremes of the pairs are wanted, not these alone.
        checks : sequence of (Pipe, Law)
            Pairs to measure the error of the interpolation at.
        turned : bool
            Also of sections that stand on their edge.
        mapping : callable
            Solves several families; ``map``, or that of an executor.

        Returns
        -------
        FamilyRange or None
            None where they are not alike, as with laws of different kinds, or where a range is so
            wide that the tables change their structure.

        Notes
        -----
        Polynomials of total degree 4, or 3 of more than two numbers, through the points of a
        Chebyshev grid that determine them best (QR with pivoting of their Vandermonde matrix:
        approximate Fekete points, M). Where no more pairs differ than that, each is solved.
        """
        pairs = list(dict.fromkeys(pairs))
        pipe, law = pairs[0]
        names = _varying(pairs)
        numbers = np.array([_numbers(one, law, names) for one in pairs])
        looks = pairs[:: max(1, len(pairs) // LOOKS)]
        if not all(_is_like(one[1], law, _numbers(one, law, names), names) for one in looks):
            return None
        low, high = numbers.min(axis=0), numbers.max(axis=0)
        shares = (numbers - low) / np.where(high > low, high - low, 1.0)
        differing = np.unique(np.round(shares, 9), axis=0) if names else np.zeros((1, 0))
        terms = _terms(len(names))
        if len(terms) == 1 or (not between and len(differing) <= len(terms)):
            points, inverse = differing, np.zeros((0, 0))
        else:
            points = _points(terms)
            inverse = np.asarray(np.linalg.inv(_basis(points, terms)), dtype=float)
        spread = high - low
        wanted = [_pair(low + spread * share, pipe, law, names) for share in points]
        checks = checks if inverse.size else ()
        ways = (False, True) if turned else (False,)
        jobs = [(*pair, way) for way in ways for pair in (*wanted, *checks)]
        solved, size = list(mapping(solve, jobs)), len(wanted) + len(checks)
        kinds = [solved[i * size : i * size + len(wanted)] for i in range(len(ways))]
        if not all(_one_structure(kind) for kind in kinds):
            return None
        lying, edge = tuple(kinds[0]), tuple(kinds[1]) if turned else ()
        made = cls(pipe, law, names, low, high, points, inverse, lying, edge, 0.0)
        exact = [solved[i * size + len(wanted) : (i + 1) * size] for i in range(len(ways))]
        errors = [
            _difference(made(*pair, turned=way), family)
            for way, families in zip(ways, exact, strict=True)
            for pair, family in zip(checks, families, strict=True)
        ]
        return replace(made, error=max(errors, default=0.0))

    def __call__(
        self, pipe: Pipe, law: Law, *, turned: bool = False, natural_curvature: float = 0.0
    ) -> SectionFamily | CurledBetween | CurledFamily:
        """Return the family of a pipe and plastic; solve it where it is not in the range."""
        if natural_curvature:
            return self._curled(pipe, law, turned, natural_curvature)
        weights = self._weights(pipe, law)
        families = self.turned if turned else self.lying
        if weights is None or not families:
            return SectionFamily.from_pipe(pipe, law, turned=turned)
        length, (stress,) = pipe.outer_diameter / self.pipe.outer_diameter, _rates(law, self.law)
        first = families[0]
        mixed = {
            name: (weights @ stack.reshape(len(weights), -1)).reshape(stack.shape[1:])
            for name, stack in self._stacks[turned].items()
        }
        thicknesses, reach = length * mixed.pop("thicknesses"), float(mixed.pop("max_strain"))
        density = law.density / self.law.density
        nodes = SectionResponse(**mixed).scaled(length, stress, density)
        half = None if first.half is None else replace(first.half, max_strain=reach)
        # its ends are those of the pipe, to the last bit
        thicknesses[[0, -1]] = 2.0 * pipe.wall, pipe.outer_diameter
        return SectionFamily(thicknesses, first.panels, nodes, turned, half)

    def _weights(self, pipe: Pipe, law: Law) -> Array | None:
        """Return the weight of each family solved; None where the pair is not in the range."""
        numbers = np.array(_numbers((pipe, law), self.law, self.names))
        share = (numbers - self.low) / np.where(self.high > self.low, self.high - self.low, 1.0)
        inside = np.all((share > -ALIKE) & (share < 1.0 + ALIKE))
        like = inside and _is_like(law, self.law, numbers.tolist(), self.names)
        if not like or not self._is_same_pipe(pipe):
            return None
        if self.inverse.size:
            return _basis(share[None], _terms(len(self.names)))[0] @ self.inverse
        weights = (np.max(np.abs(self.points - share), axis=1, initial=0.0) < 1e-8) * 1.0
        return weights if np.sum(weights) == 1.0 else None

    def _curled(
        self, pipe: Pipe, law: Law, turned: bool, curvature: float
    ) -> CurledBetween | CurledFamily:
        """Return sections formed to a curvature, between those of the families solved.

        Size scales them exactly, formed curvature with it. Mild ones lie on one polynomial, those
        of curls on a straight line between the two nearest of a fixed row, `CURLS` to a tenfold.
        """
        weights = self._weights(pipe, law)
        if weights is None:
            return CurledFamily(pipe, law, curvature, turned)
        length, (stress,) = pipe.outer_diameter / self.pipe.outer_diameter, _rates(law, self.law)
        size = curvature * pipe.outer_diameter
        if abs(size) < MILD:
            rows, between = MILD * ROW, barycentric(ROW[::-1], np.array([size / MILD]))[0, ::-1]
        else:
            place = CURLS * np.log10(abs(size))
            first = np.floor(place)
            rows = np.copysign(10.0 ** ((first + np.arange(2)) / CURLS), size)
            between = np.array([first + 1.0 - place, place - first])
        spread = self.high - self.low
        parts = [
            (
                float(weight * own),
                CurledFamily(
                    *_pair(self.low + spread * point, self.pipe, self.law, self.names),
                    float(row / self.pipe.outer_diameter),
                    turned,
                ),
            )
            for row, weight in zip(rows, between, strict=True)
            for own, point in zip(weights, self.points, strict=True)
            if weight * own != 0.0
        ]
        density = law.density / self.law.density
        return CurledBetween(pipe, tuple(parts), (length, stress, density))

    @cached_property
    def _stacks(self) -> tuple[dict[str, Array], ...]:
        """The arrays of all families, one stack a kind, lying and turned."""
        return tuple(
            {
                **{
                    each.name: np.stack([getattr(one.nodes, each.name) for one in families])
                    for each in fields(SectionResponse)
                },
                "thicknesses": np.stack([one.thicknesses for one in families]),
                "max_strain": np.array(
                    [one.half.max_strain if one.half else 0.0 for one in families]
                ),
            }
            if families
            else {}
            for families in (self.lying, self.turned)
        )

    def _is_same_pipe(self, pipe: Pipe) -> bool:
        """Whether the wall is that of the range, where it is not one of the numbers that vary."""
        if "wall" in self.names:
            return True
        ratio, own = (one.wall / one.outer_diameter for one in (pipe, self.pipe))
        return abs(ratio - own) <= ALIKE * own


def _rates(*laws: Law) -> tuple[float, ...]:
    """Return slopes at rest over that of the last law."""
    slopes = [float(law.stress_and_tangent(0.0)[1]) for law in laws]
    return tuple(slope / slopes[-1] for slope in slopes[:-1])


def _numbers(pair: tuple[Pipe, Law], law: Law, names: Iterable[str]) -> list[float]:
    """Return the numbers of a pair at the stiffness of a law."""
    pipe, own = pair
    (rate,) = _rates(own, law)
    same = own.scaled(1.0 / rate)
    return [
        pipe.wall / pipe.outer_diameter if name == "wall" else float(getattr(same, name))
        for name in names
    ]


def _pair(numbers: Array, pipe: Pipe, law: Law, names: tuple[str, ...]) -> tuple[Pipe, Law]:
    """Make the pipe and plastic of some numbers."""
    at = dict(zip(names, map(float, numbers), strict=True))
    wall = at.pop("wall", pipe.wall / pipe.outer_diameter) * pipe.outer_diameter
    return Pipe(pipe.outer_diameter, wall), replace(law, **at)


def _is_like(own: Law, law: Law, numbers: Sequence[float], names: tuple[str, ...]) -> bool:
    """Whether a plastic is a law with some of its numbers changed, and made stiffer."""
    if type(own) is not type(law):
        return False
    at = {name: x for name, x in zip(names, numbers, strict=True) if name != "wall"}
    (rate,) = _rates(own, law)
    want, got = rate * replace(law, **at).stress(PROBE), own.stress(PROBE)
    alike = np.max(np.abs(got - want)) <= ALIKE * np.max(np.abs(got))
    return bool(alike) and at.get("poisson", law.poisson) == own.poisson


def _varying(pairs: Sequence[tuple[Pipe, Law]]) -> tuple[str, ...]:
    """Name what varies between pairs and matters to a section, at one stiffness."""
    law = pairs[0][1]
    own = [each.name for each in fields(law) if isinstance(getattr(law, each.name), float)]
    names = ["wall", *(name for name in own if name not in ("modulus", "density"))]
    alike = [pair for pair in pairs if type(pair[1]) is type(law)]
    numbers = np.array([_numbers(pair, law, names) for pair in alike])
    low, high = numbers.min(axis=0), numbers.max(axis=0)
    return tuple(
        name
        for name, a, b in zip(names, low, high, strict=True)
        if b - a > ALIKE * max(abs(a), abs(b))
        and (
            name in ("wall", "poisson")
            or not np.array_equal(
                replace(law, **{name: float(a)}).stress(PROBE),
                replace(law, **{name: float(b)}).stress(PROBE),
            )
        )
    )


def _terms(d: int) -> Array:
    """Return the exponents of all terms up to the total degree, (k, d)."""
    degree = DEGREES[min(d, len(DEGREES) - 1)]
    every = product(range(degree + 1), repeat=d)
    terms = [term for term in every if sum(term) <= degree]
    return np.array(terms, dtype=int).reshape(len(terms), d)


def _basis(shares: Array, terms: Array) -> Array:
    """Return products of Chebyshev polynomials at shares of the range, (n, k)."""
    angle = np.arccos(np.clip(2.0 * shares - 1.0, -1.0, 1.0))
    return np.prod(np.cos(angle[:, None, :] * terms), axis=2)


def _points(terms: Array) -> Array:
    """Choose as many points of a Chebyshev grid as there are terms, (k, d)."""
    from scipy.linalg import qr

    degree, d = int(terms.max()), terms.shape[1]
    axis = 0.5 * (1.0 - np.cos(np.pi * np.arange(degree + 1) / degree))
    grid = np.array(list(product(axis, repeat=d)))
    order = np.asarray(qr(_basis(grid, terms).T, mode="r", pivoting=True)[-1])
    return grid[np.sort(order[: len(terms)])]


def _one_structure(families: Sequence[SectionFamily]) -> bool:
    """Whether the nodes of all families mean the same."""
    kinds = {
        (each.half is not None and each.half.touching, *((p.start, p.stop) for p in each.panels))
        for each in families
    }
    return len(kinds) == 1


def _difference(one: SectionFamily | CurledBetween | CurledFamily, other: SectionFamily) -> float:
    """Return the largest difference of moments up to the fold, over the largest of the section."""
    at = np.linspace(other.thicknesses[0], other.thicknesses[-1], 33)
    found, exact = one.at(at), other.at(at)
    limit = np.where(np.isnan(exact.limit), np.inf, exact.limit)[:, None]
    inside = np.abs(exact.curvature) <= limit
    apart = np.where(inside, np.abs(found.moment - exact.moment), 0.0)
    return float(np.max(np.max(apart, axis=1) / np.max(np.abs(exact.moment), axis=1)))
