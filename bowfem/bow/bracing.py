"""Bracing: from the unstrung bow to the string that stands square to it at rest.

The string is held at the nock point and shortened until the nock point needs no force: the string
then runs straight across. That also works for limbs whose tips point past the handle.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.design import Design
from bowfem.bow.limb import LimbModel
from bowfem.errors import ConvergenceError
from bowfem.rod import Path, Settings, clamp, pull

Array = NDArray[np.float64]

#: Natural half length is shortened in steps of this share of the limb.
SHORTEN = 0.01
#: Force at the nock point that counts as none, as a share of the tension.
SQUARE = 1e-12


def taut_length(model: LimbModel, nock: tuple[float, float]) -> float:
    """Return the length of the taut string on the unstrung limb, m, from a fine convex chain."""
    surface = model.rod.surface0
    chain: list[Array] = [surface[-1]]
    for point in [*surface[-2::-1], np.array(nock)]:
        while len(chain) > 1:
            u, w = chain[-1] - chain[-2], point - chain[-1]
            if u[0] * w[1] - u[1] * w[0] > 0.0:
                break
            chain.pop()
        chain.append(point)
    return float(np.sum(np.hypot(*np.diff(chain, axis=0).T)))


class Bracing:
    """Brace one limb, keeping the last state found to go on from."""

    def __init__(self, design: Design, model: LimbModel, settings: Settings) -> None:
        self.design, self.model, self.settings = design, model, settings
        self.path: Path | None = None

    def _go(self, nock: float, length: float) -> Path:
        """Move the nock point and the half length to new values, in one go."""
        last = self.path
        if last is None:
            raise ConvergenceError("bracing: there is no state to go on from")
        self.path = pull(
            self.model.rod, [clamp(0)], self.model.string, [[0.0, nock]], length,
            begin=(0.0, 0.0, 0.0), start=last, settings=self.settings, limit=1.0,
        )  # fmt: skip
        return self.path

    def _shorten(self, nock: float, until: Callable[[Path], bool], least: float) -> None:
        """Shorten the string at a fixed nock point until a condition holds."""
        length = taut_length(self.model, (0.0, nock))
        step = SHORTEN * self.model.rod.length
        begin = (0.0, nock, length)
        while True:
            length = max(length - step, least)
            self.path = pull(
                self.model.rod, [clamp(0)], self.model.string, [[0.0, nock]], length,
                begin=begin, start=self.path, settings=self.settings, limit=1.0,
            )  # fmt: skip
            if until(self.path):
                return
            if length <= least:
                raise ConvergenceError("bracing: no string is short enough to stand square")

    def to_height(self, height: float) -> Path:
        """Find the string that gives a brace height; its length is in the state returned."""
        nock = self.design.pivot_distance + height
        self._shorten(nock, lambda p: p.pull[-1, 1] <= 0.0, 0.3 * self.model.rod.length)
        assert self.path is not None
        high = float(self.path.string_length[-1])
        low = high + SHORTEN * self.model.rod.length
        return self._square(lambda x: self._go(nock, x), high, low)

    def to_length(self, length: float) -> Path:
        """Find the brace height of a string of natural half length `length`."""
        nock = self.design.pivot_distance + 0.15
        if length >= taut_length(self.model, (0.0, nock)):
            raise ConvergenceError(
                "bracing: the string is too long to be taut at a brace height of 0.15 m"
            )
        self._shorten(nock, lambda p: bool(p.string_length[-1] <= length), length)
        assert self.path is not None
        step = 0.005 if self.path.pull[-1, 1] < 0.0 else -0.005
        other = nock
        while (self.path.pull[-1, 1] < 0.0) == (step > 0.0):
            other, nock = nock, nock + step
            if nock <= self.design.pivot_distance:
                raise ConvergenceError("bracing: the string is too long; it would touch the grip")
            self._go(nock, length)
        return self._square(lambda x: self._go(x, length), nock, other)

    def _square(self, go: Callable[[float], Path], a: float, b: float) -> Path:
        """Find where the nock point needs no force (Illinois); `a` is where the path stands."""
        assert self.path is not None
        fa = float(self.path.pull[-1, 1] / self.path.tension[-1])
        path = go(b)
        fb = float(path.pull[-1, 1] / path.tension[-1])
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
        return path
