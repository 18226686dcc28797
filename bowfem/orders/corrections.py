"""Moves on a finished bow that bring it to its order, each solved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Walk
from bowfem.errors import BowfemError
from bowfem.orders.levers import Move, moves
from bowfem.orders.slopes import SolvedBow, sensitivities

#: Relative error within which the ordered weight is met, iterations allowed, and the largest move
#: as a multiple of the maker's step (C): 6 mm of puff-up, 6 degrees of set, 30 mm of brace.
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


def corrections(solved: SolvedBow, weight: float) -> tuple[Correction, ...]:
    """Find how far to take each move on a finished bow to meet an order, mildest first."""
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


def _weight(found: Walk) -> NDArray[np.float64]:
    return found.force[-1:]
