"""Bracing of a bow: one limb of a symmetric one, or two on one string, one line, one tension."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.balance import Balance
from bowfem.bow.bracing import SHORTEN, SHORTER, BraceError, Bracing, brace_fault, refusal
from bowfem.bow.ending import Ending, where_text
from bowfem.bow.folding import NEARLY_FOLDED, UNSTEADY, worst_station
from bowfem.bow.limb_model import LimbModel
from bowfem.bow.states import States
from bowfem.design import Side
from bowfem.errors import ConvergenceError
from bowfem.rod import Path, one_state

Array = NDArray[np.float64]

#: Residual (directions, tensions, lengths as shares), its difference step, iterations.
BRACED, DIFFERENCE, ITERATIONS = 1e-12, 1e-6, 8
#: Smallest part of the way that is tried.
FINEST_STEP = 2.0**-16
#: Brace height below which a string counts as too long: it lies on the hand, m (no source).
LOW = 0.025
#: Brace height tried first when it is not given, m.
FIRST_HEIGHT = 0.15
#: Move of the nock point by which the braced bow is tried for stability, m.
NUDGE = 1e-4
#: Shares of the brace height from which two limbs are raised to it where they do not come on one
#: string at once.
LOWER = np.array([0.95, 0.85, 0.7])
#: Refusals that another way on to the string may overturn.
LOST = (Ending.SNAP, Ending.NO_CONVERGENCE, Ending.FOLD, Ending.OVERBENT)


def brace(bow: Balance, height: float | None = None) -> States:
    """Find a bow at rest on its string.

    Parameters
    ----------
    bow : Balance
        The bow.
    height : float, optional
        Brace height, m; by default what the design says: its height or its string's length.

    Raises
    ------
    BraceError
        The bow cannot be braced so; reason and message say why.
    """
    length = None
    if height is None:
        height, length = bow.design.string.brace_height, bow.design.string.length
    if bow.symmetric:
        path = _alone(bow, bow.models[0], height, length)
        both = Balance(bow.design, 2 * bow.models, bow.settings)
        if firmness(both, States(path.nock[:, ::-1], (path, path))) <= 0.0:
            raise refusal(Ending.TURNS_OVER, path)
        return States.of_one(path)
    try:
        return _two(bow, height, length)
    except BraceError as refused:
        if height is None or refused.ending in (Ending.SLACK, Ending.TOO_LONG):
            raise
        return _from_below(bow, height, refused)


def _two(bow: Balance, height: float | None, length: float | None) -> States:
    """Brace two limbs, each by itself, then bring them on one string."""
    shortest = min(model.rod.length for model in bow.models)
    first = min(FIRST_HEIGHT, 0.25 * shortest) if height is None else height
    paths = tuple(_alone(bow, model, first, None) for model in bow.models)
    start = States(np.array([[bow.pivot[0] + first, 0.0]]), paths)
    return brace_both(bow, start, first, height, length)


def _from_below(bow: Balance, height: float, refused: BraceError) -> States:
    """Brace two limbs lower than asked, then twist the string up, as a maker would.

    Between limbs braced alone and on one string lie bows that are not in balance, and may not be;
    on this way each bow could stand. Where that leads nowhere either, `refused` stands.
    """
    for low in LOWER * height:
        try:
            states = _two(bow, float(low), None)
        except BraceError:
            continue
        unknown = _OneString(bow, float(low), None).begin(states, float(low))
        done, step = float(low), 0.25 * (height - float(low))
        while done < height:
            goal = height if done + 1.001 * step > height else done + step
            ahead = np.array([unknown[0], goal, *unknown[2:]])
            try:
                ahead, found = _OneString(bow, goal, None).solve(ahead, states, np.zeros(4))
                if firmness(bow, found) > 0.0:
                    unknown, states, done = ahead, found, goal
                    continue
            except (ConvergenceError, np.linalg.LinAlgError):
                pass
            step *= 0.5
            if step < FINEST_STEP * height:
                if refused.ending is not Ending.NO_CONVERGENCE:
                    raise refused
                raise _refused(bow, states, done, True)
        return _checked(bow, states, height)
    raise refused


def _alone(bow: Balance, model: LimbModel, height: float | None, length: float | None) -> Path:
    """Brace one limb to a height, or to a whole string; a limb that is lost, in shorter steps."""

    def braced(shorten: float) -> Path:
        bracing = Bracing(bow.design, model, bow.settings, shorten)
        if height is not None:
            return one_state(bracing.to_height(height))
        assert length is not None
        return one_state(bracing.to_length(0.5 * length))

    for shorten in (SHORTEN, *SHORTER[:-1]):
        try:
            return braced(shorten)
        except BraceError as error:
            if error.ending not in LOST:
                raise
    return braced(SHORTER[-1])


def brace_both(
    bow: Balance, start: States, first: float, height: float | None, length: float | None
) -> States:
    """Bring two limbs, each braced by itself or both on a string of a like bow, on one string.

    What is left of the residual at the start is taken away in steps as large as Newton's method
    stands.
    """
    one = _OneString(bow, height, length)
    unknown = one.begin(start, first)
    try:
        states, value = one.residual(unknown, start)
    except ConvergenceError:
        raise _refused(bow, start, first, False) from None
    begin = unknown, states
    done, step = 0.0, 1.0
    while done < 1.0:
        share = min(done + step, 1.0)
        try:
            unknown, states = one.solve(unknown, states, (1.0 - share) * value)
        except (ConvergenceError, np.linalg.LinAlgError):
            step *= 0.5
            if step < FINEST_STEP:
                lost = one.is_lost(begin, (unknown, states))
                raise _refused(bow, states, float(unknown[1]), lost) from None
            continue
        done, step = share, 2.0 * step
    return _checked(bow, states, float(unknown[1]))


def _checked(bow: Balance, states: States, height: float) -> States:
    """Return a bow on its string, if it stays there by itself."""
    ending = next(filter(None, map(brace_fault, states.limbs)), None)
    if ending is None and height < LOW:
        ending = Ending.TOO_LONG
    if ending is None and firmness(bow, states) <= 0.0:
        ending = Ending.TURNS_OVER
    if ending is not None:
        raise refusal(ending, states.limbs[0])
    return states


class _OneString:
    """Two limbs on one string: four equations.

    Unknown are the string's lean, the brace height and the two lengths; both strings must run
    along the lean with equal tension, and height or whole length be as given.
    """

    def __init__(self, bow: Balance, height: float | None, length: float | None) -> None:
        self.bow, self.height, self.length = bow, height, length

    def begin(self, start: States, first: float) -> Array:
        """Guess the unknowns from limbs braced to the same height, each by itself."""
        bow = self.bow
        lengths = [float(path.string_length[-1]) for path in start.limbs]
        pull = start.limbs[0].pull[-1]
        lean = float(np.arctan2(pull[1], -pull[0]))
        along = np.array([-np.sin(lean), np.cos(lean)])
        # the nock point moves along its string, by
        up = self._above(along) - float((start.nock[-1] - bow.pivot) @ along)
        give = [
            1.0 + float(path.tension[-1]) / model.string.EA
            for path, model in zip(start.limbs, bow.models, strict=True)
        ]
        return np.array([lean, first, lengths[0] - up / give[0], lengths[1] + up / give[1]])

    def _above(self, along: Array) -> float:
        """Height of the nock point over the pivot, along the string, m."""
        design = self.bow.design
        return design.handle.arrow_height * along[1] + design.string.nock_height

    def residual(self, unknown: Array, states: States) -> tuple[States, Array]:
        """Hold the bow there; return its states and what the four equations leave."""
        bow, (lean, h) = self.bow, unknown[:2]
        across = np.array([np.cos(lean), np.sin(lean)])
        along = np.array([-np.sin(lean), np.cos(lean)])
        nock = bow.pivot + h * across + self._above(along) * along
        found = bow.hold(nock, states, unknown[2:].tolist())
        if isinstance(found, Ending):
            raise ConvergenceError(found.text)
        upper, lower = (path.pull[-1] / path.tension[-1] for path in found.limbs)
        tension = [float(path.tension[-1]) for path in found.limbs]
        if self.height is not None:
            last = h - self.height
        else:
            last = (unknown[2] + unknown[3]) / (self.length or 1) - 1
        return found, np.array(
            [
                upper[1] * across[0] + upper[0] * across[1],
                lower[1] * across[0] - lower[0] * across[1],
                (tension[0] - tension[1]) / sum(tension),
                last,
            ]
        )

    def slope(self, unknown: Array, states: States) -> Array:
        """Return the derivative of the residual by the unknowns, by differences."""
        value = self.residual(unknown, states)[1]
        ahead = [self.residual(unknown + DIFFERENCE * one, states)[1] for one in np.eye(4)]
        return np.stack([(one - value) / DIFFERENCE for one in ahead], axis=1)

    def solve(self, unknown: Array, states: States, left: Array) -> tuple[Array, States]:
        """Find where the residual is `left`, by Newton's method."""
        best = np.inf
        states, value = self.residual(unknown, states)
        for _ in range(ITERATIONS):
            size = float(np.max(np.abs(value - left)))
            if size <= BRACED or (size < 1e-9 and size >= best):
                return unknown, states
            best = size
            unknown = unknown + np.linalg.solve(self.slope(unknown, states), left - value)
            states, value = self.residual(unknown, states)
        raise ConvergenceError(Ending.NO_CONVERGENCE.text)

    def is_lost(self, begin: tuple[Array, States], end: tuple[Array, States]) -> bool:
        """Return whether equilibrium has lost its stability on the way."""
        if min(firmness(self.bow, states) for _, states in (begin, end)) <= 0.0:
            return True
        try:
            return bool(
                np.linalg.det(self.slope(*end)) / np.linalg.det(self.slope(*begin)) < UNSTEADY
            )
        except ConvergenceError:  # not known
            return False


def _refused(bow: Balance, states: States, height: float, lost: bool) -> BraceError:
    """Say why two limbs do not come on one string, by the last state found."""
    worst = [worst_station(m, p) for m, p in zip(bow.models, states.limbs, strict=True)]
    side = int(np.argmax([share for share, _, _ in worst]))
    share, s, how = worst[side]
    place, ending = "", Ending.TURNS_OVER if lost else Ending.NO_CONVERGENCE
    if share >= NEARLY_FOLDED:
        ending = how
        place = where_text(s, tuple(Side)[side])
    elif height < LOW:
        ending = Ending.TOO_LONG
    return refusal(ending, states.limbs[side], place)


def firmness(bow: Balance, states: States) -> float:
    """Return the least stiffness, N/m, with which the nock point, let go, would come back.

    Not above 0 where the energy is not at its least: the bow would turn over. Nan where the nock
    point cannot be moved a little to all sides.
    """
    slope = np.zeros((2, 2))
    for i, one in enumerate(NUDGE * np.eye(2)):
        ends = [bow.hold(states.nock[0] + one, states), bow.hold(states.nock[0] - one, states)]
        if any(isinstance(end, Ending) for end in ends):
            return np.nan
        ahead, behind = (bow.force(end)[0] for end in ends if isinstance(end, States))
        slope[i] = (ahead - behind) / (2.0 * NUDGE)
    return float(np.min(np.linalg.eigvalsh(0.5 * (slope + slope.T))))
