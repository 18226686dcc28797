"""Measurements that do not fit: which of them, and the slip that would explain it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bowfem.design import AMO_ALLOWANCE
from bowfem.errors import BowfemError
from bowfem.orders.measured import Measurement
from bowfem.orders.slopes import SolvedBow
from bowfem.units import parse

#: A fit as bad as this or worse by chance alone is refused; one above the second is a good one.
REFUSED, GOOD = 1e-3, 1e-2
#: Distance, in standard deviations, within which a slip explains a measurement.
NEAR_ENOUGH = 3.0

_POUND, _KILOPOND, _INCH = parse("1 lbf", "force"), 9.80665, parse("1 in", "length")
_FORCES = (
    (1.0 / _POUND, "is it in newtons, written as pounds?"),
    (_POUND, "is it in pounds, written as newtons?"),
    (_KILOPOND / _POUND, "is it in kilograms, written as pounds?"),
)
_LENGTHS = (
    (0.01 / _INCH, "is it in centimetres, written as inches?"),
    (100.0 * _INCH, "is it in inches, written as centimetres?"),
    (0.001 / _INCH, "is it in millimetres, written as inches?"),
    (1000.0 * _INCH, "is it in inches, written as millimetres?"),
)
#: By kind: what the right figure would be over the one written, and the question to ask.
SLIPS = {
    "weight": _FORCES,
    "sag": (
        *((1.0 / factor, text.replace("is it", "is its weight")) for factor, text in _FORCES),
        *((factor, text.replace("is it", "is the sag")) for factor, text in _LENGTHS),
        (10.0, "is the sag in centimetres, written as millimetres?"),
        (0.1, "is the sag in millimetres, written as centimetres?"),
    ),
    "mass": (
        (1.0 / parse("1 lb", "mass"), "is it in kilograms, written as pounds?"),
        (parse("1 lb", "mass"), "is it in pounds, written as kilograms?"),
    ),
}


@dataclass(frozen=True)
class Suspect:
    """A measurement that does not fit the others.

    Parameters
    ----------
    number : int
        Which, from 0.
    expected, deviation : float
        What the others and what is known beforehand lead to expect, SI units.
    slip : str
        The question whose yes would explain it; empty where none is known.
    """

    number: int
    expected: float
    deviation: float
    slip: str


def slip_of(each: Measurement, expected: float, deviation: float, bow: SolvedBow) -> str:
    """Name the slip that brings a measurement nearest to what was expected, if one explains it.

    `bow` is the one the other measurements lead to.
    """
    error = float(np.hypot(each.error, deviation))
    ways = [
        (abs(each.value * factor - expected) / error, text)
        for factor, text in SLIPS.get(each.kind, _LENGTHS)
    ]
    if each.kind == "weight":
        for off, text in (
            (AMO_ALLOWANCE, "is its draw to the pivot, written as AMO?"),
            (-AMO_ALLOWANCE, "is its draw AMO, written as to the pivot?"),
        ):
            force = _weight_at(bow, each.draw + off)
            ways.append((abs(each.value - force) / error, text))
    distance, text = min(ways)
    return text if distance <= NEAR_ENOUGH else ""


def _weight_at(bow: SolvedBow, draw: float) -> float:
    """Weight at a draw, m; infinite where it is not reached."""
    try:
        both = not bow.bow.symmetric
        walk = SolvedBow.from_design(bow.bow.design, both, (draw,), bow.families).walk
    except BowfemError:
        return float("inf")
    return float(walk.force[-1])


def groups(measured: Sequence[Measurement]) -> list[tuple[int, ...]]:
    """Return what may be wrong together: each measurement, then all of a kind."""
    single = [(i,) for i in range(len(measured))]
    kinds = {each.kind for each in measured}
    alike = [tuple(i for i, each in enumerate(measured) if each.kind == k) for k in sorted(kinds)]
    return single + [each for each in alike if len(each) > 1]
