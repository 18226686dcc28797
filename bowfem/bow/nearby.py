"""A bow that differs a little from one that is solved: at rest on its string, and drawn."""

from __future__ import annotations

import numpy as np

from bowfem.bow.balance import Balance, DrawDirection
from bowfem.bow.bracing import SQUARE
from bowfem.bow.bracing_both import brace_both
from bowfem.bow.ending import Ending
from bowfem.bow.states import States
from bowfem.errors import ConvergenceError
from bowfem.rod import transferred

#: Below this force at the nock point (fraction of the tension), stop once it no longer falls.
NO_FORCE = 1e-11
#: Relative change of the string used to difference its slope.
SMALL = 1e-6
#: Iterations allowed to bring a transferred bow back to rest on its string.
ITERATIONS = 30


def carried_over(states: States, bow: Balance) -> States:
    """Take states over to another bow, as a first guess of its own."""
    paths = zip(states.limbs, bow.models, strict=True)
    return States(states.nock, tuple(transferred(path, model.rod) for path, model in paths))


def string_slope(bow: Balance, braced: States) -> float:
    """Return how fast a symmetric bow's string leaves the square; see `rest_near`.

    By its half length, 1/m, or with that given by the brace height.
    """
    given = bow.design.string.length is not None
    x = (
        float(braced.nock[-1, 0] - bow.pivot[0])
        if given
        else float(braced.limbs[0].string_length[-1])
    )
    return _hold(bow, x * (1.0 + SMALL), braced)[1] / (x * SMALL)


def rest_near(bow: Balance, start: States, grown: float, slope: float) -> States:
    """Bring a transferred bow, longer by a factor, to rest on its string.

    `slope` is the `string_slope` of a symmetric bow, about.
    """
    string = bow.design.string
    height = string.brace_height
    if not bow.symmetric:
        near = float(np.hypot(*(start.nock[-1] - bow.pivot))) if height is None else height
        return brace_both(bow, start, near, height, string.length)

    # unknown is the string's half length, or with that given the brace height
    last = start.limbs[0].string_length[-1] if height is not None else start.nock[-1, 0]
    a = float(last) * grown if height is not None else float(last) - float(bow.pivot[0])
    states, fa = _hold(bow, a, start)
    b, best, square = a - fa / slope, np.inf, max(SQUARE, bow.settings.tolerance)
    for _ in range(ITERATIONS):
        states, fb = _hold(bow, b, states)
        if abs(fb) < square or fb == fa or (abs(fb) < NO_FORCE and abs(fb) >= best):
            return states
        best = min(best, abs(fb))
        a, b, fa = b, b - fb * (b - a) / (fb - fa), fb
    raise ConvergenceError(f"{bow.design.name}: at brace, no string was found to be at rest on")


def _hold(bow: Balance, x: float, states: States) -> tuple[States, float]:
    """Hold a symmetric bow's nock point; tell how far its string is from square, over the tension.

    `x` is the string's half length, or with that given the brace height, m.
    """
    string = bow.design.string
    at, length = (string.brace_height, x) if string.length is None else (x, 0.5 * string.length)
    found = bow.hold(bow.pivot + np.array([at, 0.0]), states, [length])
    if isinstance(found, Ending):
        raise ConvergenceError(f"{bow.design.name}: at brace, {found.value}", found)
    path = found.limbs[0]
    return found, float(path.pull[-1, 1] / path.tension[-1])


def drawn_near(
    bow: Balance, start: States, pivot: np.ndarray, draw: float, lengths: list[float]
) -> States:
    """Draw another bow, starting from a transferred state of one with its pivot there."""
    way = start.nock[-1] - pivot
    nock = bow.pivot + way * (draw / float(np.hypot(*way)))
    drawn = bow.hold(nock, start, lengths)
    if isinstance(drawn, States) and not bow.symmetric:
        found = bow.balanced(drawn, draw, DrawDirection.through(way))
        drawn = found if isinstance(found, Ending) else found[0]
    if isinstance(drawn, Ending):
        raise ConvergenceError(f"{bow.design.name}: drawn, {drawn.value}", drawn)
    return drawn
