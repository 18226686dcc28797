"""Moves on a finished bow that bring it to its order, or its limbs to their tiller, each solved."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Walk
from bowfem.errors import BowfemError
from bowfem.findings import fade_gaps
from bowfem.orders.levers import Move, moves
from bowfem.orders.slopes import SolvedBow, sensitivities

#: Relative error within which the ordered weight is met, iterations allowed, and the largest move
#: as a multiple of the maker's step (C): 6 mm of puff-up, 6 degrees of set, 30 mm of brace.
MET, TRIES, FAR = 1e-3, 8, 6.0
#: Error of the tiller within which it is met, m: what a maker can see.
SEEN = 1e-4


@dataclass(frozen=True)
class Correction:
    """A move on the finished bow that brings it to the order: how much of it, and the bow then.

    Parameters
    ----------
    move : Move
        The move.
    amount : float
        How much of it, SI units; negative the other way round.
    yield_share : float
        Peak strain over yield strain afterwards.
    weight : float
        At full draw afterwards, N.
    """

    move: Move
    amount: float
    yield_share: float
    weight: float


def corrections(solved: SolvedBow, weight: float) -> tuple[Correction, ...]:
    """Find how far to take each move on a finished bow to meet an order, mildest first."""
    return _moved(solved, _weight, weight, MET * weight)


def tiller_corrections(solved: SolvedBow, tiller: float) -> tuple[Correction, ...]:
    """Find how far to take each move on a finished bow to bring its tiller right, mildest first.

    `tiller`: from string to belly at the end of the fades at brace, upper less lower, m.
    """
    return _moved(solved, tiller_of, tiller, SEEN)


def tiller_of(found: Walk) -> float:
    """Return the distance from string to belly at the end of the fades, upper less lower, m."""
    upper, lower = fade_gaps(found)[1]
    return upper - lower


def _moved(
    solved: SolvedBow, figure: Callable[[Walk], float], goal: float, near: float
) -> tuple[Correction, ...]:
    """Take each move so far that a figure is `near` its goal, where it goes so far."""
    design, both, found = solved.bow.design, not solved.bow.symmetric, []

    def figures(walked: Walk) -> NDArray[np.float64]:
        return np.array([figure(walked)])

    full = SolvedBow.from_design(design, both, families=solved.families)
    for move in moves(design):
        if not move.finished:
            continue
        try:
            (now,), ((slope,),) = sensitivities(design, [move.lever], figures, full)
            if abs(goal - now) > FAR * abs(slope * move.amount):
                continue
            # a puff-up puts a mark, which is there from now on
            start = SolvedBow.from_design(
                move.lever.change(design, 0.0), both, families=solved.families
            )
            amount = 0.0
            for _ in range(TRIES):
                amount += (goal - now) / slope
                tried = start.neighbour(move.lever.change(design, amount))
                now = figure(tried.walk)
                if abs(amount) > FAR * move.amount:
                    break
                if abs(now - goal) < near:
                    if not (move.shortens and amount > 0.0):  # pipe cut off is gone
                        peak = float(np.max(tried.walk.yield_share))
                        found.append(Correction(move, amount, peak, float(tried.walk.force[-1])))
                    break
        except BowfemError:  # so far this move does not go
            continue
    return tuple(sorted(found, key=lambda each: each.yield_share))


def _weight(found: Walk) -> float:
    return float(found.force[-1])
