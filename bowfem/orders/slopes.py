"""Sensitivities of a bow's figures to what its maker can change, from the equilibria themselves.

The direct method: at the equilibrium ``R(state; p) = 0`` of brace and of full draw, the state's
derivative solves ``K dstate = -dR/dp`` with the converged tangent `K`. Here the step is taken to
either side with the changed model, ``R(.; p + h)``, from the converged state, and Newton's method
repeats it to the last bit. So there is no walk in between, no change of mesh and no path, and the
central difference is left with its truncation alone, some 1e-8.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import (
    Balance,
    BraceError,
    Ending,
    Families,
    LimbModel,
    States,
    Walk,
    brace,
    carried_over,
    drawn_near,
    element_counts,
    join,
    rest_near,
    string_slope,
)
from bowfem.design import Design, Side, number_of, spelled_out
from bowfem.errors import BowfemError, ConvergenceError, DesignError, InputError
from bowfem.rod import Settings
from bowfem.section import family_of

Array = NDArray[np.float64]
Change = Callable[[Design, float], Design]

#: Change of a quantity on either side, as a share of it; of one that is zero, in SI units.
SHARE, FROM_ZERO = 1e-4, 1e-4
#: Solver tolerance for states that are differenced.
TIGHT = Settings(tolerance=1e-12)


@dataclass(frozen=True, eq=False)
class SolvedBow:
    """A bow solved at brace and at a few draws, without a walk between.

    Attributes
    ----------
    bow : Balance
        The bow.
    braced : States
        One state.
    drawn : tuple of States
        One state each.
    draws : tuple of float
        Where, nock point to pivot, m; empty for the full draw of each design.
    counts : tuple of tuple of int
        Elements in each stretch of upper and lower limb, kept from neighbour to neighbour.
    families : callable
        Where sections come from.
    """

    bow: Balance
    braced: States
    drawn: tuple[States, ...]
    draws: tuple[float, ...]
    counts: tuple[tuple[int, ...], tuple[int, ...]]
    families: Families

    @classmethod
    def from_design(
        cls,
        design: Design,
        both_limbs: bool = False,
        draws: Sequence[float] = (),
        families: Families = family_of,
    ) -> SolvedBow:
        """Brace a bow and draw it.

        Parameters
        ----------
        design : Design
            The bow.
        both_limbs : bool
            Solve both limbs and their balance even where one says it all.
        draws : sequence of float
            Draws to hold, nock point to pivot, m, increasing; by default the full draw.
        families : callable
            Where sections come from: `family_of`, or a `FamilyRange`.

        Raises
        ------
        ConvergenceError
            It cannot be braced, or not drawn so far; the message says why.
        """
        bow = Balance.from_design(design, Settings(), both=both_limbs, families=families)
        try:
            braced = brace(bow)
        except BraceError as error:
            raise error.named(design.name) from None
        drawn, last = [], braced
        for draw in draws or (design.pivot_draw,):
            found, ended = bow.draw_to(last, [draw])
            if found is None or ended is not Ending.COMPLETE:
                where = f"before a draw of {1000 * draw:.0f} mm to the pivot"
                raise ConvergenceError(f"{design.name}: {where}, {ended.value}", ended)
            last = found.last()
            drawn.append(last)
        upper, lower = (tuple(element_counts(shape, design.pipe.wall)) for shape in design.limbs)
        return cls(bow, braced, tuple(drawn), tuple(draws), (upper, lower), families)

    @cached_property
    def walk(self) -> Walk:
        """The states as the record of a walk; the fold is not followed."""
        return Walk.from_states(self.bow, join([self.braced, *self.drawn]), Ending.COMPLETE, None)

    @cached_property
    def _slope(self) -> float:
        """How fast the string leaves the square with its half length, or the brace height."""
        return string_slope(self.bow, self.braced)

    def neighbour(self, design: Design, tight: bool = True) -> SolvedBow:
        """Solve a slightly different bow, starting from the states of this one.

        Parameters
        ----------
        design : Design
            The other bow.
        tight : bool
            Solve tightly enough to difference neighbours.

        Raises
        ------
        InputError
            The other bow has other stretches between marks and bends, or is not symmetric where
            this one is solved by one limb alone.
        ConvergenceError
            Newton's method does not get there.
        """
        if self.bow.symmetric and not design.is_symmetric:
            raise InputError("design", design.name, "symmetric, as the bow it is next to")
        families = self.families
        models = [LimbModel.from_design(design, counts=self.counts[0], families=families)]
        if not self.bow.symmetric:
            alike = design.limbs[0] is design.limbs[1] and self.counts[0] == self.counts[1]
            models.append(
                models[0]
                if alike
                else LimbModel.from_design(
                    design, side=Side.LOWER, counts=self.counts[1], families=families
                )
            )
        if tight:
            with suppress(ConvergenceError):  # where the string lies on, round-off may be more
                return self._next(Balance(design, models, TIGHT))
        return self._next(Balance(design, models, self.bow.settings))

    def _next(self, bow: Balance) -> SolvedBow:
        """Transfer brace and draws to another bow."""
        grown = bow.models[0].rod.length / self.bow.models[0].rod.length
        slope = self._slope if bow.symmetric else np.nan
        braced = rest_near(bow, carried_over(self.braced, bow), grown, slope)
        lengths = [float(path.string_length[-1]) for path in braced.limbs]
        draws = self.draws or (bow.design.pivot_draw,)
        drawn = [
            drawn_near(bow, carried_over(state, bow), self.bow.pivot, draw, lengths)
            for state, draw in zip(self.drawn, draws, strict=True)
        ]
        return SolvedBow(bow, braced, tuple(drawn), self.draws, self.counts, self.families)


@dataclass(frozen=True)
class Lever:
    """Something a maker can change.

    Parameters
    ----------
    name : str
        What it is; of a key of the design file, that key.
    step : float
        Change that is differenced, in SI units.
    change : callable
        Copies a design with so much more of it: ``change(design, amount)``, amount in SI units.
    """

    name: str
    step: float
    change: Change

    @classmethod
    def from_key(cls, design: Design, key: str) -> Lever:
        """Make a lever of a number in the design file.

        Raises
        ------
        InputError
            The design has no such key, or no number there.
        """
        number = number_of(design, key)

        def change(other: Design, amount: float) -> Design:
            return spelled_out(other, [key]).with_value(key, number + amount)

        return cls(key, SHARE * abs(number) or FROM_ZERO, change)


def sensitivities(
    design: Design,
    levers: Sequence[Lever],
    figures: Callable[[Walk], Array],
    solved: SolvedBow | None = None,
) -> tuple[Array, Array]:
    """Return figures of a bow at brace and full draw, and their derivatives by levers.

    Parameters
    ----------
    design : Design
        The bow.
    levers : sequence of Lever
        What is changed, p of them.
    figures : callable
        Reads m figures off the record of brace (state 0) and full draw (state 1).
    solved : SolvedBow, optional
        The bow, already solved.

    Returns
    -------
    values : ndarray, shape (m,)
        The figures.
    slopes : ndarray, shape (m, p)
        Their derivatives, by SI unit of each lever.

    Raises
    ------
    ConvergenceError
        The bow cannot be braced or drawn.
    BowfemError
        A lever cannot be moved either way; the error is that of the last try.

    Notes
    -----
    Fixed brace height lets the string's length follow, and the other way round: what the design
    gives is kept. A lever that can move one way only, as at the end of its range or where marks
    meet, is differenced to that side: ``(4 f(h) - f(2h) - 3 f(0)) / 2h``.
    """
    if solved is None or (solved.bow.symmetric and not _stays_symmetric(design, levers)):
        solved = SolvedBow.from_design(design, both_limbs=not _stays_symmetric(design, levers))
    values = figures(solved.walk)
    columns = [_slope(solved, lever, figures, values) for lever in levers]
    return values, np.stack(columns, axis=-1) if columns else np.zeros((values.size, 0))


def _stays_symmetric(design: Design, levers: Sequence[Lever]) -> bool:
    if not design.is_symmetric:
        return False
    for lever in levers:
        for amount in (lever.step, -lever.step):
            try:
                if not lever.change(design, amount).is_symmetric:
                    return False
            except DesignError:
                continue
    return True


def _slope(
    solved: SolvedBow, lever: Lever, figures: Callable[[Walk], Array], values: Array
) -> Array:
    h, design = lever.step, solved.bow.design
    start = lever.change(design, 0.0)
    stretches = [len(element_counts(shape, start.pipe.wall)) for shape in start.limbs]
    # the lever may bring a mark of its own
    if stretches != [len(counts) for counts in solved.counts]:
        solved = SolvedBow.from_design(
            start, not solved.bow.symmetric, solved.draws, solved.families
        )
        values = figures(solved.walk)

    def at(amount: float) -> Array:
        return figures(solved.neighbour(lever.change(design, amount)).walk)

    sides: dict[int, Array] = {}
    refused: BowfemError | None = None
    for sign in (1, -1):
        try:
            sides[sign] = at(sign * h)
        except BowfemError as error:
            refused = error
    if len(sides) == 2:
        return (sides[1] - sides[-1]) / (2.0 * h)
    if not sides and refused is not None:
        raise refused
    ((sign, one),) = sides.items()
    return sign * (4.0 * one - at(2.0 * sign * h) - 3.0 * values) / (2.0 * h)
