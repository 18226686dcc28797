"""Sizing: from an order to dimensions. The mildest bow that meets a weight and keeps its margins.

A sequence of linear programmes: the figures of the bow are linear in its free quantities over a
small enough box, and their slopes are those of the equilibria (see `sensitivity`). Weight and
limits are elastic at a price, so that an order out of reach ends at the nearest bow there is. What
makes a design (marks in order, room for each taper) is linear too, and never left. Where the given
start does not lead to the order, others spread over the ranges are tried.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Ending, Families, Walk, walk
from bowfem.design import Design
from bowfem.errors import BowfemError, ConvergenceError, InputError
from bowfem.findings import FLIPS, SideStability
from bowfem.orders.freedom import Freedom, more_freedom, usual_free
from bowfem.orders.margins import (
    LIMIT_PRICE,
    ON_LIMIT,
    USUAL,
    WEIGHT_PRICE,
    Judged,
    Margins,
    figures,
)
from bowfem.orders.slopes import SolvedBow, sensitivities
from bowfem.orders.unknowns import sections_between

Array = NDArray[np.float64]

#: Trust region at first and at least, as fractions of the free ranges; programmes allowed.
BOX, FINEST, ITERATIONS = 0.1, 1e-7, 60
#: Programmes spent on a milder bow once the order is met.
POLISH = 12
#: Stop when the predicted improvement (fraction of yield) is below this.
GAIN = 1e-5
#: Starts drawn over the ranges, how many of them are followed, rounds of both.
DRAWN, FOLLOWED, ROUNDS = 24, 3, 2
#: Programmes spent on what else could be freed, and how much nearer it must bring the weight.
FREEING, NEARER = 12, 0.005
#: Digits kept of the free quantities, m or rad: a thousandth of a millimetre.
DIGITS = 6


@dataclass(frozen=True)
class Freeing:
    """What freeing one more number would bring, solved: its key, range, value and the weight, N."""

    key: str
    low: float
    high: float
    value: float
    weight: float
    met: bool


@dataclass(frozen=True, eq=False)
class Sizing:
    """Hold the answer to an order.

    Attributes
    ----------
    design : Design
        The bow found.
    walk : Walk
        Its walk.
    first : Walk or None
        Brace and full draw of the bow begun with; None where it cannot be braced or drawn.
    weight : float
        Weight ordered, N.
    free : tuple of tuple
        Of each free quantity: key, lower and upper bound, value before, value found; SI units.
    met : bool
        Whether the weight is that of the order, to 0.1 %, within all limits.
    kept : bool
        Whether all limits are kept, and the bow stays in its plane: the search itself does not look
        sideways.
    binding : tuple of str
        Active limits, and ends of ranges reached.
    freeing : tuple of Freeing
        Where the order is out of reach: what else could be freed, the most helpful first.
    programmes : int
        Linear programmes solved.
    """

    design: Design
    walk: Walk
    first: Walk | None
    weight: float
    free: tuple[tuple[str, float, float, float, float], ...]
    met: bool
    kept: bool
    binding: tuple[str, ...]
    freeing: tuple[Freeing, ...]
    programmes: int


def _programme(
    now: Judged, slopes: Array, order: tuple[Array, Array], box: tuple[Array, Array]
) -> tuple[Array, float]:
    """Solve one linear programme; return the step in shares of the ranges and its price.

    Unknown are the step, the peak share of yield, the weight's miss either way, the limits' miss.
    """
    from scipy.optimize import linprog

    peak, n = slopes[now.yields], slopes.shape[1]
    cost = np.concatenate([np.zeros(n), [1.0, WEIGHT_PRICE, WEIGHT_PRICE, LIMIT_PRICE]])
    peaks = np.hstack([peak, np.tile([-1.0, 0, 0, 0], (len(peak), 1))])
    limits = np.hstack([now.rows @ slopes, np.tile([0, 0, 0, -1.0], (len(now.rows), 1))])
    taper = np.hstack([order[0], np.zeros((len(order[0]), 4))])
    left = [-now.values[now.yields], now.most - now.rows @ now.values, order[1]]
    found = linprog(
        cost,
        np.vstack([peaks, limits, taper]),
        np.concatenate(left),
        np.concatenate([slopes[0], [0, -1, 1, 0]])[None],
        [1.0 - now.values[0]],
        [*zip(*box, strict=True), *[(0, None)] * 4],
    )
    if found.x is None:
        raise ConvergenceError(f"sizing: the linear programme failed ({found.message})")
    return found.x[:n], float(found.fun)


@dataclass(frozen=True, eq=False)
class _Found:
    """A bow on the way: its free values, its states, its figures."""

    x: Array
    solved: SolvedBow
    now: Judged


class _Search:
    """The search for one order."""

    def __init__(
        self, freedom: Freedom, weight: float, margins: Margins, families: Families
    ) -> None:
        self.freedom, self.weight, self.margins = freedom, weight, margins
        self.families = families
        self.programmes = 0

    def at(self, x: Array, near: SolvedBow | None = None) -> _Found:
        """Solve the bow of some values, from a neighbour's states if that works."""
        design = self.freedom.made(x)
        solved = None
        if near is not None:
            try:
                solved = near.neighbour(design)
            except (ConvergenceError, InputError):
                pass
        if solved is None:
            solved = SolvedBow.from_design(design, not design.is_symmetric, families=self.families)
        return _Found(x, solved, self.judged(solved.walk))

    def judged(self, found: Walk) -> Judged:
        """Set a walk against the order."""
        return Judged.of(figures(found, self.weight), self.margins)

    def slopes(self, here: _Found) -> tuple[Array, Array]:
        """Return derivatives by shares of the ranges; 1 for values that can be moved, else 0."""
        columns = []
        for lever in self.freedom.levers(here.x):
            try:
                _, slope = sensitivities(
                    here.solved.bow.design,
                    [lever],
                    lambda found: figures(found, self.weight),
                    here.solved,
                )
                columns.append(slope[:, 0])
            except BowfemError:
                columns.append(np.full(here.now.values.size, np.nan))
        slopes = np.stack(columns, axis=1) * self.freedom.span
        moves = np.all(np.isfinite(slopes), axis=0)
        return np.where(moves, slopes, 0.0), moves.astype(float)

    def descend(self, here: _Found, most: int = ITERATIONS) -> _Found:
        """Follow linear programmes to where none gains any more."""
        free, box, left, polish = self.freedom, BOX, most, POLISH
        slopes: Array | None = None
        moves = np.ones(here.x.size)
        while left and polish and box > FINEST:
            if slopes is None:
                slopes, moves = self.slopes(here)
            u = (here.x - free.low) / free.span
            sides = moves * np.maximum(-box, -u), moves * np.minimum(box, 1.0 - u)
            step, promised = _programme(here.now, slopes, free.rows(here.x), sides)
            left, polish = left - 1, polish - here.now.met
            self.programmes += 1
            if here.now.price - promised < GAIN:
                break
            wanted = np.clip(here.x + step * free.span, free.low, free.high)
            try:
                tried = self.at(wanted, here.solved)
            except BowfemError:  # no such design, or it cannot be braced or drawn
                box *= 0.4
                continue
            gained = (here.now.price - tried.now.price) / (here.now.price - promised)
            if gained < 0.05:
                box *= 0.4
                continue
            here, slopes = tried, None
            box = min(2.0 * box, 1.0) if gained > 0.4 else box
        return here

    def starts(self, number: int) -> list[_Found]:
        """Draw starts over the ranges, each share of each range once; the best come first."""
        free, rng = self.freedom, np.random.default_rng(number)
        n = free.span.size
        cells = np.stack([rng.permutation(DRAWN) for _ in range(n)], axis=1)
        found = []
        for share in (cells + rng.random((DRAWN, n))) / DRAWN:
            try:
                found.append(self.at(free.nearest(free.low + share * free.span)))
            except BowfemError:
                continue
        return sorted(found, key=lambda each: each.now.price)

    def best(self, first: _Found | None) -> tuple[_Found, Walk] | None:
        """Follow the first start, and where it does not lead to the order, others.

        What counts is the bow walked: one found next to others may turn over when it is braced.
        """
        best = None if first is None else self.walked(self.descend(first))
        for number in range(ROUNDS):
            if best is not None and best[0].now.met:
                break
            for start in self.starts(number)[:FOLLOWED]:
                other = self.walked(self.descend(start))
                if other and (best is None or other[0].now.price < best[0].now.price):
                    best = other
                if best is not None and best[0].now.met:
                    break
        return best

    def walked(self, found: _Found) -> tuple[_Found, Walk] | None:
        """Round what was found, and walk it; None where it is not braced or not drawn."""
        x = np.clip(np.round(found.x, DIGITS), self.freedom.low, self.freedom.high)
        try:
            walked = walk(self.freedom.made(x))
        except BowfemError:
            return None
        if walked.ending is not Ending.COMPLETE:
            return None
        return _Found(x, found.solved, self.judged(walked)), walked


def size(
    design: Design,
    weight: float,
    free: Mapping[str, tuple[float, float]] | None = None,
    margins: Margins = USUAL,
) -> Sizing:
    """Find the mildest bow that draws a weight at the design's draw length.

    Parameters
    ----------
    design : Design
        The bow to begin with.
    weight : float
        Weight ordered at its full draw, N.
    free : mapping of str to (float, float), optional
        What may change: key of the design file, lower and upper bound in SI units. By default the
        thickness at the marks. With `pipe.cut_length`, marks that are not free go with it.
    margins : Margins, optional
        What the bow keeps to, with `limits` of the design.

    Returns
    -------
    Sizing
        The bow, and its active limits. An order out of reach gets the nearest bow found.

    Raises
    ------
    InputError
        An argument cannot be used.
    ConvergenceError
        Neither the bow to begin with nor any other tried can be braced and drawn.

    Notes
    -----
    Least over the free quantities is the largest share of yield on the limbs, brace and full draw,
    under weight, margins and a thickness that does not grow outward. The elastic price of weight
    and limits is exact: it moves no bow that can meet them.
    """
    if not (np.isfinite(weight) and weight > 0.0):
        raise InputError("weight", f"{weight:g} N", "above 0")
    freedom = Freedom(design, usual_free(design) if free is None else free)
    search = _Search(freedom, weight, margins, sections_between(design))
    first, refused = None, None
    try:
        first = search.at(freedom.nearest(freedom.before))
    except BowfemError as error:
        refused = error
    best = search.best(first)
    if best is None:
        text = f"{design.name}: sizing: no bow was found that can be braced and drawn"
        raise refused or ConvergenceError(text)
    found, walked = best
    x, now = found.x, found.now
    stable = SideStability.from_walk(walked)
    flips = [FLIPS] if stable is not None and stable.flips else []
    u = (x - freedom.low) / freedom.span
    ends = [
        f"{key} at its {'lower' if at <= ON_LIMIT else 'upper'} bound"
        for key, at in zip(freedom.keys, u, strict=True)
        if not ON_LIMIT < at < 1.0 - ON_LIMIT
    ]
    pairs = zip(freedom.keys, freedom.low, freedom.high, freedom.before, map(float, x), strict=True)
    return Sizing(
        walked.design,
        walked,
        None if first is None else first.solved.walk,
        weight,
        tuple((key, float(low), float(high), float(was), at) for key, low, high, was, at in pairs),
        now.met and not flips,
        now.kept and not flips,
        (*now.active(walked, margins), *ends, *flips),
        () if now.met else _freeing(search, found),
        search.programmes,
    )


def _freeing(search: _Search, found: _Found) -> tuple[Freeing, ...]:
    """Free one more number at a time and see how much nearer it leads to the order."""
    freedom, design, helps = search.freedom, found.solved.bow.design, []
    now = dict(zip(freedom.keys, zip(freedom.low, freedom.high, strict=True), strict=True))
    for key, bounds in more_freedom(design, now).items():
        try:
            wider = Freedom(design, {**now, key: bounds})
            other = _Search(wider, search.weight, search.margins, search.families)
            there = other.descend(other.at(wider.nearest(wider.before)), FREEING)
        except BowfemError:
            continue
        nearer = found.now.price - there.now.price
        if there.now.met or nearer > WEIGHT_PRICE * NEARER:
            weight = float(there.now.values[0]) * search.weight
            one = Freeing(key, *bounds, float(there.x[-1]), weight, there.now.met)
            helps.append((there.now.price, one))
    return tuple(each for _, each in sorted(helps, key=lambda pair: pair[0]))
