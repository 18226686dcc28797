"""What a maker measures at a drawn bow: weight on the scale, and from string to limb at its marks.

A bow is tillered against these: each limb's distances at brace and at some draws.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import SmoothCurve, Walk
from bowfem.design import AMO_ALLOWANCE, Side
from bowfem.errors import InputError
from bowfem.units import INCH

Array = NDArray[np.float64]

#: Least number of places on a limb.
PLACES = 4


@dataclass(frozen=True, eq=False)
class Tillering:
    """Hold what a bow measures at brace and at some draws: d of them.

    Attributes
    ----------
    draw : ndarray, shape (d,)
        Nock point to pivot, m; the first at brace.
    weight : ndarray, shape (d,)
        On the scale, N.
    places : tuple of ndarray, each of shape (p,)
        Of upper and lower limb: stations on the pipe, m from the bow's centre.
    gaps : tuple of ndarray, each of shape (d, p)
        Of upper and lower limb: from the belly the shortest way to the string, m; nought where it
        lies on.
    """

    draw: Array
    weight: Array
    places: tuple[Array, Array]
    gaps: tuple[Array, Array]

    @classmethod
    def from_walk(cls, walk: Walk, count: int = 3, step: float = INCH) -> Tillering:
        """Read off a walk what to tiller a bow by.

        Parameters
        ----------
        walk : Walk
            From brace on.
        count : int
            Draws beyond brace, the last draw among them.
        step : float
            The others are whole multiples of this in the convention of the design, m.

        Raises
        ------
        InputError
            `count` is not at least 1, or the walk has one state.
        """
        if count < 1:
            raise InputError("count", count, "at least 1")
        if walk.draw.size < 2:
            raise InputError("walk", "one state", "a walk of at least two states")
        added = AMO_ALLOWANCE if walk.design.draw.measure == "amo" else 0.0
        low, high = float(walk.draw[0]), float(walk.draw[-1])
        between = np.linspace(low, high, count + 1)[1:-1]
        whole = step * np.round((between + added) / step) - added
        draws = np.unique([low, *whole[(whole > low) & (whole < high)], high])
        places = tuple(_places(walk, side) for side in Side)
        gaps = []
        for side, where in zip(Side, places, strict=True):
            limb = walk.limb(side)
            each = np.array([np.interp(where, limb.s, row) for row in limb.clearance])
            read = [SmoothCurve.through(walk.draw, column).at(draws) for column in each.T]
            gaps.append(np.maximum(np.stack(read, axis=-1), 0.0))
        weight = np.array([walk.weight_at(float(draw)) for draw in draws])
        weight[0] = 0.0
        return cls(draws, weight, (places[0], places[1]), (gaps[0], gaps[1]))


def _places(walk: Walk, side: Side) -> Array:
    """Return the end of the fade, marks beyond it, and as many places between as it takes."""
    shape = walk.design.shape(side)
    begin, end = shape.fade_end, shape.nock_station
    marks = [mark.at for mark in shape.limb.marks if begin < mark.at < end]
    found = np.unique([begin, *marks])
    while found.size < PLACES:  # halve the longest stretch
        stops = np.append(found, end)
        widest = int(np.argmax(np.diff(stops)))
        found = np.unique(np.append(found, 0.5 * (stops[widest] + stops[widest + 1])))
    return found
