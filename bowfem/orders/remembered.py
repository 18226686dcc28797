"""What can be measured of a plastic's memory: weight lost while strung, set that stays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bowfem.bow import Walk, keep_diary, walk
from bowfem.design import Design, DiaryEntry
from bowfem.errors import ConvergenceError, InputError
from bowfem.findings import StringFollow
from bowfem.orders.measured import Measurement
from bowfem.section import plastic_memory

#: Kinds of measurement that tell of memory, and of nothing else.
REMEMBERED = ("kept", "follow")
#: Factors on the fading between which it is sought, and steps to it.
LEAST, MOST, TRIES = 0.1, 1.5, 30


@dataclass(frozen=True)
class Remembered:
    """Hold what was learnt of a plastic's memory.

    Parameters
    ----------
    fading, error : float
        Factor on what fades after the first minute, and its standard deviation; not numbers where
        no weight was measured twice.
    at_end : bool
        Whether the measurements ask for more, or less, than can be.
    plastic_share : float
        Of what the law's curve would keep of a full draw, what stayed; not a number where no string
        follow was measured.
    """

    fading: float
    error: float
    at_end: bool
    plastic_share: float


def learn_memory(design: Design, measured: Sequence[Measurement]) -> Remembered:
    """Learn from weights before and after being strung, and from set that stayed.

    Parameters
    ----------
    design : Design
        The bow.
    measured : sequence of Measurement
        Of kinds `REMEMBERED`.

    Raises
    ------
    InputError, ConvergenceError
        As of `keep_diary`.

    Notes
    -----
    Both weights are read 3 s after a draw, the first a minute after stringing. The factor is that
    of least squares, by golden section.
    """
    found = walk(design)
    kept = [each for each in measured if each.kind == "kept"]
    follows = [each for each in measured if each.kind == "follow"]
    fading = error = share = np.nan
    at_end = False
    if kept:
        fading, error = _fading(found, kept)
        at_end = not LEAST * 1.01 < fading < MOST * 0.99
    if follows:
        bound = StringFollow.after(found)
        if bound is None:
            raise ConvergenceError("string follow: the bow cannot be drawn again as before")
        tips = np.mean([max(bound.tips, key=abs)])
        share = float(np.mean([each.value for each in follows]) / tips)
    return Remembered(fading, error, at_end, share)


def lost_while_strung(found: Walk, lasts: float, fading: float) -> float:
    """Return the weight after being strung for a time over that at first, each read after 3 s."""
    draw = DiaryEntry(what="drawn", lasts=3.0)
    entries = (
        DiaryEntry(what="strung", lasts=60.0),
        draw,
        DiaryEntry(what="strung", lasts=lasts),
        draw,
    )
    states = keep_diary(found, entries, plastic_memory(fading=fading))
    first, last = (each.weight for each in states if each.what == "drawn")
    return last / first


def _fading(found: Walk, kept: Sequence[Measurement]) -> tuple[float, float]:
    """Find the factor of least squares, and its standard deviation."""

    def misfit(fading: float) -> float:
        gaps = [
            (lost_while_strung(found, each.span, fading) - each.value) / each.error for each in kept
        ]
        return float(np.sum(np.square(gaps)))

    low, high, ratio = LEAST, MOST, 0.5 * (np.sqrt(5.0) - 1.0)
    a, b = high - ratio * (high - low), low + ratio * (high - low)
    fa, fb = misfit(a), misfit(b)
    for _ in range(TRIES):
        if high - low < 1e-3:
            break
        if fa < fb:
            high, b, fb = b, a, fa
            a = high - ratio * (high - low)
            fa = misfit(a)
        else:
            low, a, fa = a, b, fb
            b = low + ratio * (high - low)
            fb = misfit(b)
    best = 0.5 * (low + high)
    step = 0.05
    slopes = [
        (
            lost_while_strung(found, each.span, min(best + step, MOST))
            - lost_while_strung(found, each.span, max(best - step, LEAST))
        )
        / (min(best + step, MOST) - max(best - step, LEAST))
        / each.error
        for each in kept
    ]
    return best, float(1.0 / np.sqrt(np.sum(np.square(slopes))))


def with_memory(design: Design, found: Remembered) -> Design:
    """Copy a design with what was learnt, where that can be.

    Raises
    ------
    InputError
        The plastic is of a law of its own.
    """
    if not np.isfinite(found.fading) or found.at_end:
        return design
    if design.material_choice.law is not None:
        allowed = "left out: how a plastic of a law of its own fades is not known"
        raise InputError("material.law", design.material_choice.law, allowed)
    choice = replace(design.material_choice, fading=round(found.fading, 3))
    return replace(design, material_choice=choice)
