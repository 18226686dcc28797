"""Bracing: from the unstrung bow to the string that stands square to it at rest.

The string is held at the nock point and shortened until the nock point needs no force: the string
then runs straight across. That also works for limbs whose tips point past the handle.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.ending import Ending, where_text
from bowfem.bow.folding import NEARLY_FOLDED, end_of_belly, jumped, slipped, worst_station
from bowfem.bow.limb_model import LimbModel
from bowfem.design import Design
from bowfem.errors import ConvergenceError
from bowfem.rod import Path, Settings, Stop, clamp, one_state, relax, rest_length, taut_at_rest

Array = NDArray[np.float64]

#: Natural half length is shortened in steps of this share of the limb, at most and at least.
SHORTEN, FINEST = 0.01, 1e-4
#: ... and of these, where a limb is lost on the way: a thin tip may buckle as the string leaves
#: it, just beyond a braced bow.
SHORTER = (0.003, 0.001)
#: Steps solved at a time.
AT_ONCE = 8
#: Shortest half length tried, as a fraction of the limb.
SHORTEST = 0.3
#: Where the search for the brace height of a given string starts, and its first step, m.
USUAL, SEARCH = 0.15, 0.005
#: Share of the limb between places that count as different when they meet.
MEETING_APART = 0.15
#: Force at the nock point below which the bow is at rest, as a fraction of the tension.
SQUARE = 1e-12
#: Steps back for which a limb that has snapped through is followed.
BACK = 30
#: Move of the nock point by which the braced bow is tried for stability, m.
NUDGE = 1e-3


class BraceError(ConvergenceError):
    """A bow cannot be braced.

    Parameters
    ----------
    message : str
        Why, and where on the limb.
    ending : Ending
        The physical reason.
    status : Path, optional
        The states found on the way; the last one is the furthest.
    """

    def __init__(self, message: str, ending: Ending, status: Path | None = None) -> None:
        self.ending = ending
        super().__init__(message, status)

    def named(self, name: str) -> Self:
        """Put the bow's name before the message."""
        return type(self)(f"{name}: {self}", self.ending, self.status)  # type: ignore[arg-type]

    def __reduce__(self) -> tuple[Any, ...]:
        """Rebuild from all three, so that the error can be sent to another process."""
        return type(self), (self.args[0], self.ending, self.status)


def refusal(ending: Ending, path: Path | None, place: str = "") -> BraceError:
    """Return the error that says why a bow cannot be braced, and where on the limb."""
    return BraceError(f"cannot be braced: {ending.text}{place}", ending, path)


def meets(path: Path) -> bool:
    """Return whether the limb meets itself or the other limb at the last state.

    Two places further apart along the limb than `MEETING_APART` of it, but nearer to each other
    than their half thicknesses together, or a place beyond the middle of the bow.
    """
    rod = path.rod
    place = path.positions()[-1].reshape(-1, 2)
    if np.min(path.nodes[-1, 1:, 0]) < 0.0:
        return True
    s, half = rod.stations.ravel(), rod.belly.ravel()
    apart = np.abs(s[:, None] - s) > MEETING_APART * rod.length
    distance = np.linalg.norm(place[:, None] - place, axis=-1)
    return bool(np.any(apart & (distance < half[:, None] + half)))


def brace_fault(path: Path) -> Ending | None:
    """Return why the last state is not that of a braced limb, or None."""
    if not path.tension[-1] > 0.0:
        return Ending.TOO_LONG
    if slipped(path)[-1]:
        return Ending.SLIP
    return Ending.MEETS if meets(path) else None


class Bracing:
    """Brace one limb, keeping the last state found to go on from."""

    def __init__(
        self, design: Design, model: LimbModel, settings: Settings, shorten: float = SHORTEN
    ) -> None:
        self.design, self.model, self.settings, self.shorten = design, model, settings, shorten
        self.path: Path | None = None
        self.begin = (0.0, 0.0, 0.0)

    def _stop(self, ending: Ending, place: str = "") -> BraceError:
        return refusal(ending, self.path, place)

    def _try(self, nock: float, length: float) -> Path:
        return self.model.pulled(
            [[0.0, nock]], length, self.settings, start=self.path, begin=self.begin
        )

    def _go(self, nock: float, length: float) -> Path:
        """Move the nock point and the half length to new values, refining the steps as needed.

        A limb that snaps through on the way is let go on to where it comes to rest: bracing with
        the nock point held is not how a bow is strung, and only where it ends counts.
        """
        done, step = 0.0, 1.0
        start = self.path
        from_nock = self.begin[1] if start is None else float(start.nock[-1, 1])
        from_length = self.begin[2] if start is None else float(start.string_length[-1])
        finest = FINEST * self.model.rod.length
        way = max(abs(nock - from_nock), abs(length - from_length))
        while done < 1.0:
            share = min(done + step, 1.0)
            to = nock - (1.0 - share) * (nock - from_nock)
            half = length - (1.0 - share) * (length - from_length)
            ahead = self._try(to, half)
            if ahead.stop is not Stop.COMPLETE:
                step *= 0.25
                if step * way > finest:
                    continue
                ahead = self._let_go(to, half)
                step = 1.0
            self.path, done = ahead, share
        assert self.path is not None
        return self.path

    def _let_go(self, nock: float, length: float) -> Path:
        """Step past a point with no equilibrium nearby, or raise what happens there."""
        last = self.path
        if last is None:
            raise self._stop(Ending.NO_CONVERGENCE)
        ahead = last
        if worst_station(self.model, last)[0] < NEARLY_FOLDED:
            ahead = relax(
                last,
                [clamp(0)],
                self.model.string,
                (0.0, nock),
                length,
                settings=self.settings,
                limit=1.0,
            )
            if ahead.stop is Stop.COMPLETE:
                return ahead
            if ahead.stop is not Stop.LIMIT:
                far = jumped(self.model, last, ahead)
                raise self._stop(
                    brace_fault(last) or (Ending.SNAP if far else Ending.NO_CONVERGENCE)
                )
        _, s, how = worst_station(self.model, ahead)
        raise self._stop(how, where_text(s))

    def _shorten(self, nock: float, until: Callable[[Path], bool], least: float) -> None:
        """Shorten the string at a fixed nock point until a condition holds."""
        rod = self.model.rod
        corners = taut_at_rest(rod, (0.0, nock))
        if len(corners) == 2:  # straight to the end: on to its belly, or past it on to its back?
            angle = float(end_of_belly(rod, rod.angle0[None])[0])
            x, y = corners[1] - corners[0]
            if np.cos(angle) * y < np.sin(angle) * x:
                raise self._stop(Ending.SLIP)
        length = rest_length(rod, (0.0, nock))
        self.begin = (0.0, nock, length)
        steps = self.shorten * rod.length * np.arange(1, AT_ONCE + 1)
        while True:
            lengths = np.unique(np.maximum(length - steps, least))[::-1]
            found = self.model.pulled(
                [[0.0, nock]] * len(lengths),
                lengths,
                self.settings,
                start=self.path,
                begin=self.begin,
            )
            for path in (one_state(found, at) for at in range(len(found))):
                self.path = path
                if until(path):
                    return
            length = float(lengths[min(len(found), len(lengths) - 1)])
            if len(found) < len(lengths) and until(self._go(nock, length)):
                return
            if length <= least:
                raise self._stop(Ending.OUT_OF_REACH)

    def to_height(self, height: float) -> Path:
        """Find the string that gives a brace height; its length is in the state returned.

        Raises
        ------
        BraceError
            The bow cannot be braced so.
        """
        nock = self.design.pivot_distance + height
        corners = taut_at_rest(self.model.rod, (0.0, nock))
        if corners[-1, 1] <= corners[-2, 1]:  # it comes down to the nock point
            raise self._stop(Ending.SLACK)
        least = SHORTEST * self.model.rod.length
        self._shorten(nock, lambda p: p.pull[-1, 1] <= 0.0, least)
        assert self.path is not None
        high = float(self.path.string_length[-1])
        low = high + self.shorten * self.model.rod.length
        return self._square(lambda x: self._go(nock, x), high, low)

    def to_length(self, length: float) -> Path:
        """Find the brace height of a string of natural half length `length`.

        Raises
        ------
        BraceError
            The bow cannot be braced so.
        """
        pivot = self.design.pivot_distance
        tries = pivot + np.arange(SEARCH, length, SEARCH)
        taut = [y for y in tries if length < rest_length(self.model.rod, (0.0, float(y)))]
        if not taut:
            raise self._stop(Ending.TOO_LONG)
        nock = float(min(taut, key=lambda y: abs(y - pivot - USUAL)))
        self._shorten(nock, lambda p: bool(p.string_length[-1] <= length), length)
        assert self.path is not None
        step = SEARCH if self.path.pull[-1, 1] < 0.0 else -SEARCH
        other = nock
        while (self.path.pull[-1, 1] < 0.0) == (step > 0.0):
            other, nock = nock, nock + step
            if nock <= pivot or not self._go(nock, length).tension[-1] > 0.0:
                raise self._stop(Ending.TOO_LONG)
        return self._square(lambda x: self._go(x, length), nock, other)

    def _square(self, go: Callable[[float], Path], a: float, b: float) -> Path:
        """Find where the nock point needs no force (Illinois); `a` is where the path stands."""
        assert self.path is not None
        fa = float(self.path.pull[-1, 1] / self.path.tension[-1])
        path = go(b)
        fb = float(path.pull[-1, 1] / path.tension[-1])
        for _ in range(BACK):
            if fa * fb <= 0.0:
                break
            # the limb has snapped through: its new shape stands square further back, if at all
            a, fa, b = b, fb, 2.0 * b - a
            path = go(b)
            fb = float(path.pull[-1, 1] / path.tension[-1])
        if not path.tension[-1] > 0.0 or fa * fb > 0.0:
            raise self._stop(Ending.SNAP)
        for _ in range(40):
            x = (a * fb - b * fa) / (fb - fa)
            path = go(x)
            f = float(path.pull[-1, 1] / path.tension[-1])
            if abs(f) < SQUARE or x in (a, b):
                break
            if f * fb > 0.0:
                fa *= 0.5
            else:
                a, fa = b, fb
            b, fb = x, f
        return self._checked(path)

    def _checked(self, path: Path) -> Path:
        """Return a braced state, if the string is taut and the nock point would come back to it."""
        ending = brace_fault(path)
        if ending is not None:
            raise self._stop(ending)
        drawn = self._try(float(path.nock[-1, 1]) + NUDGE, float(path.string_length[-1]))
        if len(drawn) and not drawn.pull[-1, 1] > 0.0:
            raise self._stop(Ending.TURNS_OVER)
        return path
