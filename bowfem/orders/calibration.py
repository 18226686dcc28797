"""Learning from a finished bow: how stiff its plastic, how thick its wall, how it was pressed.

Least squares with prior knowledge, linear about the best fit: Gauss and Newton's method, damped
(Levenberg), on slopes of the equilibria themselves (see `sensitivity`). Where what is left at the
best fit is more than chance explains, the measurements are refused.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Families, Walk
from bowfem.design import Design
from bowfem.errors import BowfemError, ConvergenceError, InputError
from bowfem.findings import fade_gaps, moved_sideways
from bowfem.orders.corrections import SEEN, Correction, corrections, tiller_corrections, tiller_of
from bowfem.orders.measured import ERRORS, SHARES, Measurement
from bowfem.orders.misfit import GOOD, REFUSED, Suspect, groups, slip_of
from bowfem.orders.slopes import SolvedBow, sensitivities
from bowfem.orders.unknowns import NAMES, changed, prior, sections_about, unknown_levers

Array = NDArray[np.float64]

#: Iterations allowed; a Newton step, in standard deviations, below which it has converged; damping
#: at which no step helps; reach of the estimate, in prior standard deviations.
ITERATIONS, STILL, STUCK, REACH = 30, 0.03, 1e4, 5.0
#: Iterations after which a fit is given up whose best, by its slopes, has less than such a chance,
#: groups of measurements tried without, the likeliest first.
SOON, HOPELESS, LIKELY = 3, 1e-6, 3


@dataclass(frozen=True, eq=False)
class Learned:
    """Hold what measurements say of a bow.

    Attributes
    ----------
    design : Design
        The bow as it is, most probably.
    names : tuple of str
        What was learned, k of `unknowns.NAMES`.
    estimate, before : ndarray, shape (k,)
        Against the design as it was thought to be; standard deviation known before.
    covariance : ndarray, shape (k, k)
        Of the estimate.
    weight, weight_error : float
        At full draw, and its standard deviation, N.
    before_weight, before_error : float
        The same before anything was measured, N.
    fitted : ndarray, shape (n,)
        What the bow found has of each measurement, SI units.
    chance : float
        How often chance alone would leave as large a misfit (chi-squared).
    suspects : tuple of Suspect
        Measurements that do not fit, where `plausible` is not.
    worth : tuple of (str, float)
        Of each measurement that could be made next: the share of the weight's variance it would
        take away, the most useful first.
    corrections : tuple of Correction
        Moves that bring this bow to the order, mildest first; empty without an order.
    tiller : tuple of (float, float)
        Where it was measured: from string to belly at the fades at brace, upper less lower, of
        this bow and of the one meant, m; else not numbers.
    tiller_corrections : tuple of Correction
        Moves that bring the one to the other, mildest first.
    """

    design: Design
    names: tuple[str, ...]
    estimate: Array
    before: Array
    covariance: Array
    weight: float
    weight_error: float
    before_weight: float
    before_error: float
    fitted: Array
    chance: float
    suspects: tuple[Suspect, ...]
    worth: tuple[tuple[str, float], ...]
    corrections: tuple[Correction, ...]
    tiller: tuple[float, float] = (np.nan, np.nan)
    tiller_corrections: tuple[Correction, ...] = ()

    @property
    def error(self) -> Array:
        """Standard deviation of the estimate, shape (k,)."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def plausible(self) -> bool:
        """Whether the measurements fit the bow, and each other, as well as chance allows."""
        return self.chance >= REFUSED


def draws_of(design: Design, measured: Sequence[Measurement]) -> list[float]:
    """Return the draws at which a bow is to be solved, full draw among them, m."""
    return sorted({design.pivot_draw, *(each.draw for each in measured if each.kind == "weight")})


def predicted(found: Walk, measured: Sequence[Measurement], families: Families) -> Array:
    """Return what a bow held at `draws_of` has of each measurement, SI units, shape (n,).

    Notes
    -----
    Sag of a round pipe on two supports: ``W L^3 / 48 EI + W L / 4 GA``.
    """
    return np.array([float(_one(found, each, families)) for each in measured])


def _one(found: Walk, each: Measurement, families: Families) -> float:
    limb, pipe = found.limb(each.side), found.design.pipe
    match each.kind:
        case "weight":
            return found.force[int(np.argmin(np.abs(found.draw - each.draw)))]
        case "string":
            return found.string_length
        case "brace":
            return found.brace_height
        case "toward":
            return limb.x[0, -1]
        case "along":
            return abs(limb.y[0, -1])
        case "rest toward":
            return limb.unbraced_x[-1]
        case "rest along":
            return abs(limb.unbraced_y[-1])
        case "gap":
            return fade_gaps(found)[1][each.side.index]
        case "sideways" | "sideways unstrung":
            strung = each.kind == "sideways"
            return moved_sideways(found, each.side, each.load, strung=strung)
        case "pressed":
            return float(found.design.shape(each.side).thickness_at(each.span))
        case "wall":
            return pipe.wall
        case "mass":
            area = np.pi * (pipe.outer_diameter - pipe.wall) * pipe.wall
            return area * each.span * found.design.material_choice.mass_density
    round_ = families(pipe, found.design.material).at(pipe.outer_diameter)
    bent = each.load * each.span**3 / (48.0 * float(round_.bending_stiffness))
    return bent + each.load * each.span / (4.0 * float(round_.shear_stiffness))


@dataclass(frozen=True, eq=False)
class _Fit:
    """A best fit: the bow, the estimate, figures with slopes, and what is left."""

    solved: SolvedBow
    at: Array
    values: Array
    slopes: Array
    covariance: Array
    chance: float
    first: tuple[float, float]
    stuck: str


class _Problem:
    """What is fitted to what: `asked` figures of the bow, the first n of them measured."""

    def __init__(self, design: Design, measured: Sequence[Measurement], families: Families) -> None:
        self.design, self.measured, self.families = design, measured, families
        kinds = {each.kind for each in measured}
        apart, turned = "gap" in kinds, bool(kinds & {"rest toward", "rest along"})
        self.which = [0, 1, 2, *([3] if apart else []), *([4] if turned else [])]
        self.before = prior(design)[self.which]
        self.both = apart or not design.is_symmetric
        self.asked = [*measured, *(each for _, each in candidates(design))]
        self.draws = draws_of(design, measured)

    def changed(self, at: Array) -> Design:
        """Return the bow of an estimate."""
        amount = np.zeros(len(NAMES))
        amount[self.which] = at
        return changed(self.design, amount)

    def figures(self, found: Walk) -> Array:
        """Return all that is asked, and last the weight at full draw."""
        full = int(np.argmin(np.abs(found.draw - self.design.pivot_draw)))
        return np.array([*predicted(found, self.asked, self.families), found.force[full]])

    def fit(self, kept: Sequence[int]) -> _Fit:
        """Fit the measurements kept."""
        rows = list(kept)
        goal = np.array([self.measured[i].value for i in rows])
        errors = np.array([self.measured[i].error for i in rows])
        before, at = self.before, np.zeros(self.before.size)
        solved = SolvedBow.from_design(self.changed(at), self.both, self.draws, self.families)

        def cost(at: Array, values: Array) -> float:
            off = (goal - values[rows]) / errors
            return float(np.sum(off**2) + np.sum((at / before) ** 2))

        normal, slopes = np.diag(before**-2.0), np.zeros((len(self.asked) + 1, before.size))
        values = self.figures(solved.walk)
        damping, first, stuck = 0.0, (0.0, 0.0), "no fit to the measurements was found"
        for number in range(ITERATIONS):
            levers = unknown_levers(self.which)
            values, slopes = sensitivities(solved.bow.design, levers, self.figures, solved)
            if number == 0:
                first = float(values[-1]), float(np.linalg.norm(slopes[-1] * before))
            scaled = slopes[rows] / errors[:, None]
            normal = scaled.T @ scaled + np.diag(before**-2.0)
            down = scaled.T @ ((goal - values[rows]) / errors) - at / before**2
            newton = np.linalg.solve(normal, down)
            still = bool(np.max(np.abs(newton) * np.sqrt(np.diag(normal))) < STILL)
            promised = cost(at, values) - float(down @ newton)
            chance = _chance(promised, len(rows))
            if chance == 0.0 or (number >= SOON and chance < HOPELESS):
                break
            gained, refused = False, ""
            while not gained and damping < STUCK:
                step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), down)
                wanted = np.clip(at + step, -REACH * before, REACH * before)
                try:
                    tried = solved.neighbour(self.changed(wanted))
                    new = self.figures(tried.walk)
                    if cost(wanted, new) < cost(at, values):
                        solved, at, values, gained = tried, wanted, new, True
                except BowfemError as error:  # there is no such bow
                    refused = f"what fits best is a bow that cannot be made: {error}"
                if still:
                    break
                damping = 0.1 * damping if gained else max(10.0 * damping, 1e-3)
            if still or not gained:
                stuck = "" if still else refused
                break
        covariance = np.asarray(np.linalg.inv(normal), dtype=float)
        chance = _chance(cost(at, values), len(rows))
        return _Fit(solved, at, values, slopes, covariance, chance, first, stuck)

    def suspects(self) -> tuple[Suspect, ...]:
        """Find the measurements without which the others fit, and what slip explains them."""
        best: tuple[float, tuple[int, ...], _Fit] | None = None
        nothing = self.fit([])
        goal = np.array([each.value for each in self.measured])
        errors = np.array([each.error for each in self.measured])
        off = (goal - nothing.values[: goal.size]) / errors
        scaled = nothing.slopes[: goal.size] / errors[:, None]

        def linear(group: tuple[int, ...]) -> tuple[bool, int, float]:
            """Rank a group by how well the others fit without it, by the slopes."""
            rows = [i for i in range(goal.size) if i not in group]
            one = scaled[rows]
            down = one.T @ off[rows]
            gain = down @ np.linalg.solve(one.T @ one + np.diag(self.before**-2.0), down)
            chance = _chance(float(np.sum(off[rows] ** 2) - gain), len(rows))
            return chance < GOOD, len(group) if chance >= GOOD else 0, -chance

        for group in sorted(groups(self.measured), key=linear)[:LIKELY]:
            fit = self.fit([i for i in range(goal.size) if i not in group])
            if best is None or fit.chance > best[0]:
                best = fit.chance, group, fit
            if fit.chance >= GOOD:
                break
        if best is None or best[0] < GOOD:
            return ()
        _, group, fit = best
        found = []
        for i in group:
            slope = fit.slopes[i]
            deviation = float(np.sqrt(slope @ fit.covariance @ slope))
            each, expected = self.measured[i], float(fit.values[i])
            slip = slip_of(each, expected, deviation, fit.solved)
            found.append(Suspect(i, expected, deviation, slip))
        return tuple(found)


def _chance(cost: float, count: int) -> float:
    """Return how often chance alone would leave as much: chi-squared of `count`."""
    from scipy.special import chdtrc

    return float(chdtrc(count, max(cost, 0.0))) if count else 1.0


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
        What was measured on it, or on its pipe before anything was heated.
    weight : float, optional
        Weight ordered at full draw, N, to propose corrections for.
    families : callable, optional
        Sections, as `sections_about` gives them.

    Returns
    -------
    Learned
        The estimate. Where it is not `plausible`, the measurements fit no such bow: its weight is
        not to be trusted, and no corrections are proposed.

    Raises
    ------
    ConvergenceError
        The bow cannot be braced or drawn, or what fits best cannot be made.
    InputError
        The order is no weight.

    Notes
    -----
    Least is ``sum ((y - f(p)) / error)^2 + sum (p / before)^2``; the covariance is the inverse of
    ``J' J + 1 / before^2`` with errors taken into `J`. What is least is chi-squared of as many
    degrees of freedom as there are measurements. A further measurement with slopes `h` and
    error `e` would take ``(g' C h)^2 / (e^2 + h' C h)`` from the weight's variance ``g' C g`` (D).
    """
    if weight is not None and not 0.0 < weight < 1e6:
        raise InputError("weight", f"{weight:g} N", "above 0")
    families = families or sections_about(design)
    problem, n = _Problem(design, measured, families), len(measured)
    fit = problem.fit(range(n))
    chance = fit.chance
    if fit.stuck and chance >= REFUSED:
        raise ConvergenceError(f"{design.name}: {fit.stuck}")
    slope = fit.slopes[-1]
    variance = float(slope @ fit.covariance @ slope)
    worth = []
    for i, (name, each) in enumerate(candidates(design)):
        h = fit.slopes[n + i]
        taken = float((slope @ fit.covariance @ h) ** 2 / (each.error**2 + h @ fit.covariance @ h))
        worth.append((name, taken / variance))
    proposed = () if weight is None or chance < REFUSED else corrections(fit.solved, weight)
    tiller, even = (np.nan, np.nan), ()
    if chance >= REFUSED and any(each.kind == "gap" for each in measured):
        tiller = tiller_of(fit.solved.walk), tiller_of(SolvedBow.from_design(design).walk)
        if abs(tiller[0] - tiller[1]) > SEEN:
            even = tiller_corrections(fit.solved, tiller[1])
    return Learned(
        fit.solved.bow.design,
        tuple(NAMES[i] for i in problem.which),
        fit.at,
        problem.before,
        fit.covariance,
        float(fit.values[-1]),
        variance**0.5,
        *fit.first,
        fit.values[:n],
        chance,
        problem.suspects() if chance < REFUSED else (),
        tuple(sorted(worth, key=lambda pair: -pair[1])),
        proposed,
        tiller,
        even,
    )


def candidates(design: Design) -> list[tuple[str, Measurement]]:
    """Return measurements that could be made next, each with its usual error."""
    pipe, choice = design.pipe, design.material_choice
    given = "string" if design.string.brace_height is not None else "brace"
    # twenty diameters between the supports, and a weight that bends them by a hundredth of that
    span = 20.0 * pipe.outer_diameter
    stiff = float(design.material.stress_and_tangent(0.0)[1]) * pipe.second_moment
    load = 48.0 * stiff * 0.01 / span**2
    mass = np.pi * (pipe.outer_diameter - pipe.wall) * pipe.wall * choice.mass_density
    tip, mark = ERRORS["tip"], design.limbs[0].limb.marks[-1]
    full = design.pivot_draw
    return [
        ("weight at full draw", Measurement("weight", 1.0, ERRORS["weight"], draw=full)),
        (
            "length of the string" if given == "string" else "brace height",
            Measurement(given, 1.0, ERRORS[given]),
        ),
        ("tip at brace, toward the archer", Measurement("toward", 1.0, tip)),
        ("tip at brace, along the bow", Measurement("along", 1.0, tip)),
        (
            "sag of an offcut with a weight hung on it",
            Measurement("sag", 0.01 * span, SHARES["hang"] * 0.01 * span, span=span, load=load),
        ),
        (
            "wall, by weighing a length of 1 m",
            Measurement("mass", mass, SHARES["weighed"] * mass, span=1.0),
        ),
        ("wall, by calipers", Measurement("wall", pipe.wall, ERRORS["wall"])),
        (
            "thickness at the last mark, by calipers",
            Measurement("pressed", 0.01, ERRORS["pressed"], span=mark.at),
        ),
    ]
