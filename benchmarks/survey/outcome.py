"""How the walk of one bow ended, and the tally of many."""

from __future__ import annotations

import time
from collections import Counter
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from benchmarks.survey import Maker
from bowfem.bow import Ending, Walk, walk
from bowfem.bow.bracing import BraceError
from bowfem.bow.walking import STATE
from bowfem.findings import FLIPS, SideStability

SOLVED, STOPPED, REFUSED, FAILED = "solved", "stopped in the draw", "not braced", "FAILED"
FLIPPED = "flips"
#: Endings without a physical reason.
UNKNOWN = {Ending.NO_CONVERGENCE.text, Ending.GIVES_WAY.text}
#: Work of the draw and energy gained differ by no more than this: the draw curve is known at
#: states 12.5 mm apart, down to 0.25 mm where it turns sharply, and a curl that lifts off bends it.
BALANCE = 5e-3


@dataclass(frozen=True)
class Outcome:
    """How one walk ended.

    Parameters
    ----------
    number : int
        Which bow.
    kind : str
        Solved, stopped in the draw, flips sideways, not braced, or failed.
    reason : str
        Why, in the words of the program.
    message : str
        All it says, with draw and place.
    seconds : float
        How long it took.
    """

    number: int
    kind: str
    reason: str
    message: str
    seconds: float

    @property
    def is_failure(self) -> bool:
        """Whether the walk ended without a physical reason."""
        return self.kind == FAILED


def walked(make: Maker, seed: int, number: int) -> Outcome:
    """Walk one bow; anything but an answer or a physical reason counts as a failure."""
    design = make(seed, number)
    begin = time.perf_counter()
    try:
        found = walk(design)
        for share in (0.2, 0.02):  # states may be too far apart for a sharp turn of the draw curve
            if doubt(found):
                found = walk(design, step=share * STATE)
    except BraceError as error:
        kind, reason, message = REFUSED, error.ending.text, str(error)
    except Exception as error:
        kind, reason = FAILED, f"unexpected {type(error).__name__}"
        message = str(error)
    else:
        kind = SOLVED if found.ending is Ending.COMPLETE else STOPPED
        reason, message = found.ending.text, found.message
        wrong = doubt(found)
        stable = SideStability.from_walk(found)
        if stable is not None and stable.flips:
            kind, reason = FLIPPED, FLIPS
        if wrong:
            kind, reason, message = FAILED, wrong.split(":")[0], wrong
    if reason in UNKNOWN:
        kind = FAILED
    return Outcome(number, kind, reason, message, time.perf_counter() - begin)


def doubt(found: Walk) -> str:
    """Say what no walk may show: bad numbers, a slack string, work that is not energy; or "".

    Notes
    -----
    First law: the work of the draw force is the energy gained. Balance at the nock point: the
    weight is twice the tension's component along the draw, so never above twice the tension.
    """
    limbs = [part for limb in found.limbs for part in (limb.x, limb.moment)]
    numbers = (found.draw, found.force, found.tension, found.energy, *limbs)
    if not all(np.all(np.isfinite(values)) for values in numbers):
        return "numbers that are not finite"
    if not np.all(found.tension > 0.0) or np.any(found.force > 2.0 * found.tension * (1 + 1e-9)):
        return "a string that is not taut, or weighs more than twice its tension"
    if found.draw.size > 4:
        work, energy = found.energy_at(float(found.draw[-1])), float(found.energy[-1])
        if abs(work - energy) > BALANCE * abs(energy):
            return f"work and energy differ: {work:.4f} J of work, {energy:.4f} J gained"
    return ""


@dataclass(frozen=True)
class Tally:
    """All outcomes of a survey."""

    outcomes: tuple[Outcome, ...]

    @property
    def total(self) -> int:
        """How many bows."""
        return len(self.outcomes)

    @cached_property
    def failed(self) -> tuple[Outcome, ...]:
        """Those that ended without a physical reason."""
        return tuple(outcome for outcome in self.outcomes if outcome.is_failure)

    @property
    def slowest(self) -> Outcome:
        """The one that took longest."""
        return max(self.outcomes, key=lambda outcome: outcome.seconds)

    @property
    def median(self) -> float:
        """Median time, s."""
        return float(np.median([outcome.seconds for outcome in self.outcomes]))

    def share(self, kind: str) -> float:
        """Return the share of a kind, %."""
        return 100.0 * sum(outcome.kind == kind for outcome in self.outcomes) / self.total

    def rows(self) -> list[tuple[str, str, str, str]]:
        """Return the table: how many, share, reason, kind; the commonest first in each kind."""
        counts = Counter((outcome.kind, outcome.reason) for outcome in self.outcomes)
        counts[FAILED, "without a physical reason"] += 0
        order = (SOLVED, STOPPED, FLIPPED, REFUSED, FAILED)
        ranked = sorted(counts.items(), key=lambda item: (order.index(item[0][0]), -item[1]))
        return [
            (str(count), f"{100.0 * count / self.total:.1f}", reason, kind)
            for (kind, reason), count in ranked
            if count or kind == FAILED
        ]
