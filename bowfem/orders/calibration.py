"""Learning from a finished bow: how stiff its plastic, how thick its wall, how it was pressed.

Least squares with prior knowledge, linear about the best fit: Gauss and Newton's method, damped
(Levenberg), on slopes of the equilibria themselves (see `sensitivity`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Families, Walk
from bowfem.design import Design, spelled_out
from bowfem.errors import BowfemError, ConvergenceError, InputError
from bowfem.orders.levers import Move, moves
from bowfem.orders.measured import ERRORS, Measurement
from bowfem.orders.slopes import Lever, SolvedBow, sensitivities
from bowfem.orders.tolerances import THICKNESS
from bowfem.orders.weight_band import thicker
from bowfem.section import PIPES, FamilyRange, Pipe, family_of

Array = NDArray[np.float64]

#: What is learned: share of stiffness (logarithm), wall, m, all pressed thicknesses, m.
NAMES = ("stiffness", "wall", "thickness")
#: Prior error of a tested plastic, a share, and of a measured wall, m (C).
TESTED, MEASURED = 0.03, 0.05e-3
#: Error of a wall by weighing a length to 1 %, as a share, and of thickness by calipers, m (C).
WEIGHED, CALIPERS = 0.0115, 0.1e-3
#: Steps differenced, in the units of `NAMES`; iterations allowed; a step after which slopes stay as
#: they are, in standard deviations: the next one would be about its square.
STEPS, ITERATIONS, STILL = (1e-4, 2e-6, 2e-6), 30, 0.03
#: Miss of the ordered weight that counts as none, tries to get there, and most of a move, as a
#: multiple of the maker's (C): 6 mm of puff-up, 6 degrees of set, 30 mm of brace.
MET, TRIES, FAR = 1e-3, 8, 6.0


@dataclass(frozen=True)
class Correction:
    """A move on the finished bow that brings it to the order: how much of it, and the strain then.

    Parameters
    ----------
    move : Move
        The move.
    amount : float
        How much of it, SI units; negative the other way round.
    yield_share : float
        Peak strain over yield strain afterwards.
    """

    move: Move
    amount: float
    yield_share: float


@dataclass(frozen=True, eq=False)
class Learned:
    """Hold what measurements say of a bow.

    Attributes
    ----------
    design : Design
        The bow as it is, most probably.
    estimate, before : ndarray, shape (3,)
        Of `NAMES`, against the design as it was thought to be; standard deviation known before.
    covariance : ndarray, shape (3, 3)
        Of the estimate.
    weight, weight_error : float
        At full draw, and its standard deviation, N.
    fitted : ndarray, shape (n,)
        What the bow found has of each measurement, SI units.
    worth : tuple of (str, float)
        Of each measurement that could be made next: the share of the weight's variance it would
        take away, the most useful first.
    corrections : tuple of Correction
        Moves that bring this bow to the order, mildest first; empty without an order.
    """

    design: Design
    estimate: Array
    before: Array
    covariance: Array
    weight: float
    weight_error: float
    fitted: Array
    worth: tuple[tuple[str, float], ...]
    corrections: tuple[Correction, ...]

    @property
    def error(self) -> Array:
        """Standard deviation of the estimate, shape (3,)."""
        return np.sqrt(np.diag(self.covariance))


def prior(design: Design) -> Array:
    """Return the standard deviations known before anything is measured, shape (3,).

    Notes
    -----
    That of the plastic from pipe to pipe, and those of even spreads over the walls of the standard
    and over 1/32 in either way at the marks (C). A tested plastic and a measured wall are known
    better.
    """
    choice = design.material_choice
    stiffness = TESTED if choice.is_tested else choice.preset.stiffness_deviation
    wall = MEASURED
    if design.pipe_choice.size is not None:
        low, high = next(row.wall_range for row in PIPES if row.name == design.pipe.name)
        wall = (high - low) / np.sqrt(12.0)
    return np.array([stiffness, wall, THICKNESS / np.sqrt(3.0)])


def changed(design: Design, amount: Array) -> Design:
    """Return a bow with each of `NAMES` changed by a given amount.

    Raises
    ------
    DesignError
        There is no such bow.
    """
    keys = ("material.stiffness", "pipe.wall")
    written = spelled_out(design, keys)
    factor, wall = (written.value(key) for key in keys)
    pressed = thicker(written, float(amount[2]))
    return pressed.with_values(
        {
            keys[0]: float(factor or 1.0) * float(np.exp(amount[0])),
            keys[1]: float(wall or 0.0) + float(amount[1]),
        }
    )


def sections_about(design: Design) -> Families:
    """Return sections for all walls a bow may turn out to have."""
    pipe, reach = design.pipe, 4.0 * prior(design)[1]
    walls = [pipe.wall, pipe.wall - reach, pipe.wall + reach]
    pairs = [(Pipe(pipe.outer_diameter, wall), design.material) for wall in walls]
    turned = any(shape.limb.tip is not None for shape in design.limbs)
    return FamilyRange.from_pairs(pairs, between=True, turned=turned) or family_of


def draws_of(design: Design, measured: Sequence[Measurement]) -> list[float]:
    """Return the draws at which a bow is to be solved, full draw among them, m."""
    return sorted({design.pivot_draw, *(each.draw for each in measured if each.kind == "weight")})


def predicted(found: Walk, measured: Sequence[Measurement], families: Families) -> Array:
    """Return what a bow held at `draws_of` has of each measurement, SI units, shape (n,).

    Notes
    -----
    Sag of a round pipe on two supports: ``W L^3 / 48 EI + W L / 4 GA``.
    """
    draws, values = found.draw, []
    for each in measured:
        match each.kind:
            case "weight":
                values.append(found.force[int(np.argmin(np.abs(draws - each.draw)))])
            case "string":
                values.append(found.string_length)
            case "brace":
                values.append(found.brace_height)
            case "toward":
                values.append(found.limb(each.side).x[0, -1])
            case "along":
                values.append(abs(found.limb(each.side).y[0, -1]))
            case _:
                pipe = found.design.pipe
                round_ = families(pipe, found.design.material).at(pipe.outer_diameter)
                bent = each.load * each.span**3 / (48.0 * round_.bending_stiffness)
                values.append(bent + each.load * each.span / (4.0 * round_.shear_stiffness))
    return np.array([float(value) for value in values])


def learn(
    design: Design,
    measured: Sequence[Measurement],
    weight: float | None = None,
    families: Families | None = None,
) -> Learned:
    """Estimate what a finished bow is made of.

    Parameters
    ----------
    design : Design
        The bow as it was meant.
    measured : sequence of Measurement
        What was measured on it.
    weight : float, optional
        Weight ordered at full draw, N, to propose corrections for.
    families : callable, optional
        Sections, as `sections_about` gives them.

    Raises
    ------
    ConvergenceError
        The bow cannot be braced or drawn, or no fit was found.
    InputError
        The order is no weight.

    Notes
    -----
    Least is ``sum ((y - f(p)) / error)^2 + sum (p / before)^2``; the covariance is the inverse of
    ``J' J + 1 / before^2`` with errors taken into `J`. A further measurement with slopes `h` and
    error `e` would take ``(g' C h)^2 / (e^2 + h' C h)`` from the weight's variance ``g' C g`` (D).
    """
    if weight is not None and not 0.0 < weight < 1e6:
        raise InputError("weight", f"{weight:g} N", "above 0")
    families = families or sections_about(design)
    before, draws = prior(design), draws_of(design, measured)
    asked = [*measured, *(each for _, each in _candidates(design))]
    errors = np.array([each.error for each in measured])
    goal = np.array([each.value for each in measured])
    at, n = np.zeros(3), len(measured)
    solved = SolvedBow.from_design(changed(design, at), not design.is_symmetric, draws, families)

    def figures(found: Walk) -> Array:
        full = int(np.argmin(np.abs(found.draw - design.pivot_draw)))
        return np.array([*predicted(found, asked, families), found.force[full]])

    def cost(at: Array, values: Array) -> float:
        return float(np.sum(((goal - values[:n]) / errors) ** 2) + np.sum((at / before) ** 2))

    damping, values = 0.0, figures(solved.walk)
    for _ in range(ITERATIONS):
        values, slopes = sensitivities(solved.bow.design, _levers(), figures, solved)
        scaled = slopes[:n] / errors[:, None]
        normal = scaled.T @ scaled + np.diag(before**-2.0)
        down = scaled.T @ ((goal - values[:n]) / errors) - at / before**2
        step, still = np.zeros(3), False
        while not still:
            step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), down)
            still = bool(np.max(np.abs(step) * np.sqrt(np.diag(normal))) < STILL)
            try:
                tried = solved.neighbour(changed(design, at + step))
                new = figures(tried.walk)
                if cost(at + step, new) < cost(at, values):
                    solved, at, values, damping = tried, at + step, new, 0.1 * damping
                    break
            except BowfemError:  # there is no such bow
                still = False
            damping = max(10.0 * damping, 1e-3)
        if still:
            break
    else:
        raise ConvergenceError(f"{design.name}: no fit to the measurements was found")
    covariance = np.asarray(np.linalg.inv(normal), dtype=float)
    slope = slopes[-1]
    variance = float(slope @ covariance @ slope)
    further = [
        (name, slopes[n + i], each.error) for i, (name, each) in enumerate(_candidates(design))
    ]
    further += [
        ("wall, by weighing a length to 1 %", np.eye(3)[1], WEIGHED * design.pipe.wall),
        ("thickness at the marks, by calipers", np.eye(3)[2], CALIPERS),
    ]
    worth = [
        (name, float((slope @ covariance @ h) ** 2 / (e**2 + h @ covariance @ h)) / variance)
        for name, h, e in further
    ]
    corrections = () if weight is None else _corrections(solved, weight)
    return Learned(
        solved.bow.design,
        at,
        before,
        covariance,
        float(values[-1]),
        variance**0.5,
        values[:n],
        tuple(sorted(worth, key=lambda pair: -pair[1])),
        corrections,
    )


def _levers() -> list[Lever]:
    """Return a lever for each quantity that is learned."""

    def lever(i: int) -> Lever:
        return Lever(NAMES[i], STEPS[i], lambda design, more: changed(design, more * np.eye(3)[i]))

    return [lever(i) for i in range(3)]


def _candidates(design: Design) -> list[tuple[str, Measurement]]:
    """Return measurements that could be made next, each with its usual error."""
    given = "string" if design.string.brace_height is not None else "brace"
    # twenty diameters between the supports, and a weight that bends them by a hundredth of that
    span = 20.0 * design.pipe.outer_diameter
    stiff = float(design.material.stress_and_tangent(0.0)[1]) * design.pipe.second_moment
    hung = Measurement(
        "sag",
        0.01 * span,
        ERRORS["hang"] * 0.01 * span,
        span=span,
        load=48.0 * stiff * 0.01 / span**2,
    )
    return [
        (
            "weight at full draw",
            Measurement("weight", 1.0, ERRORS["weight"], draw=design.pivot_draw),
        ),
        (
            "length of the string" if given == "string" else "brace height",
            Measurement(given, 1.0, ERRORS[given]),
        ),
        ("tip at brace, toward the archer", Measurement("toward", 1.0, ERRORS["tip"])),
        ("tip at brace, along the bow", Measurement("along", 1.0, ERRORS["tip"])),
        ("sag of an offcut with a weight hung on it", hung),
    ]


def _corrections(solved: SolvedBow, weight: float) -> tuple[Correction, ...]:
    """Find how far to take each move on a finished bow to meet an order."""
    design, both, found = solved.bow.design, not solved.bow.symmetric, []
    full = SolvedBow.from_design(design, both, families=solved.families)
    for move in moves(design):
        if not move.finished:
            continue
        try:
            (now,), ((slope,),) = sensitivities(design, [move.lever], _weight, full)
            # a puff-up puts a mark, which is there from now on
            start = SolvedBow.from_design(
                move.lever.change(design, 0.0), both, families=solved.families
            )
            amount = 0.0
            for _ in range(TRIES):
                amount += (weight - now) / slope
                tried = start.neighbour(move.lever.change(design, amount))
                now = float(_weight(tried.walk)[0])
                if abs(amount) > FAR * move.amount:
                    break
                if abs(now / weight - 1.0) < MET:
                    peak = float(np.max(tried.walk.yield_share))
                    if not (move.shortens and amount > 0.0):  # pipe cut off is gone
                        found.append(Correction(move, amount, peak))
                    break
        except BowfemError:  # so far this move does not go
            continue
    return tuple(sorted(found, key=lambda each: each.yield_share))


def _weight(found: Walk) -> Array:
    return found.force[-1:]
