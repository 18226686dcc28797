"""Bracing of a bow: one limb of a symmetric one, or two on one string, one line, one tension."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.balance import Balance
from bowfem.bow.bracing import BraceError, Bracing, fault, refusal
from bowfem.bow.ending import Ending, where_text
from bowfem.bow.folding import NEARLY, UNSTEADY, worst_station
from bowfem.bow.states import States, part
from bowfem.design import Side
from bowfem.errors import ConvergenceError

Array = NDArray[np.float64]

#: Residual (directions, tensions, lengths as shares), its difference step, iterations.
BRACED, DIFFERENCE, ITERATIONS = 1e-12, 1e-6, 8
#: Smallest part of the way that is tried.
FINEST = 2.0**-16
#: Brace height below which a string counts as too long: it lies on the hand, m (no source).
LOW = 0.025
#: Brace height tried first when it is not given, m.
FIRST_HEIGHT = 0.15
#: Move of the nock point by which the braced bow is tried for stability, m.
NUDGE = 1e-4


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
        bracing = Bracing(bow.design, bow.models[0], bow.settings)
        if height is not None:
            path = bracing.to_height(height)
        else:
            assert length is not None
            path = bracing.to_length(0.5 * length)
        path = part(path)
        both = Balance(bow.design, 2 * bow.models, bow.settings)
        if firmness(both, States(path.nock[:, ::-1], (path, path))) <= 0.0:
            raise refusal(Ending.TURNS_OVER, path)
        return States.of_one(path)
    shortest = min(model.rod.length for model in bow.models)
    first = min(FIRST_HEIGHT, 0.25 * shortest) if height is None else height
    paths = tuple(
        part(Bracing(bow.design, model, bow.settings).to_height(first)) for model in bow.models
    )
    start = States(np.array([[bow.pivot[0] + first, 0.0]]), paths)
    return brace_both(bow, start, first, height, length)


def brace_both(
    bow: Balance, start: States, first: float, height: float | None, length: float | None
) -> States:
    """Bring two limbs, each braced by itself or both on a string of a like bow, on one string.

    Notes
    -----
    Unknown are the string's lean, the brace height and the two lengths; both strings must run
    along the lean with equal tension, and height or whole length be as given. What is left of
    that at the start is taken away in steps as large as Newton's method stands.
    """
    handle, above = bow.design.handle, bow.design.string.nock_height

    def residual(unknown: Array, held: States) -> tuple[States, Array]:
        lean, h = unknown[:2]
        across = np.array([np.cos(lean), np.sin(lean)])
        along = np.array([-np.sin(lean), np.cos(lean)])
        nock = bow.pivot + h * across + (handle.arrow_height * along[1] + above) * along
        found = bow.hold(nock, held, unknown[2:].tolist())
        if isinstance(found, Ending):
            raise ConvergenceError(found.text)
        upper, lower = (path.pull[-1] / path.tension[-1] for path in found.limbs)
        tension = [float(path.tension[-1]) for path in found.limbs]
        last = h - height if height is not None else (unknown[2] + unknown[3]) / (length or 1) - 1
        return found, np.array(
            [
                upper[1] * across[0] + upper[0] * across[1],
                lower[1] * across[0] - lower[0] * across[1],
                (tension[0] - tension[1]) / sum(tension),
                last,
            ]
        )

    def slope(unknown: Array, held: States) -> Array:
        value = residual(unknown, held)[1]
        return np.stack(
            [
                (residual(unknown + DIFFERENCE * one, held)[1] - value) / DIFFERENCE
                for one in np.eye(4)
            ],
            axis=1,
        )

    def solve(unknown: Array, held: States, left: Array) -> tuple[Array, States]:
        best = np.inf
        held, value = residual(unknown, held)
        for _ in range(ITERATIONS):
            size = float(np.max(np.abs(value - left)))
            if size <= BRACED or (size < 1e-9 and size >= best):
                return unknown, held
            best = size
            unknown = unknown + np.linalg.solve(slope(unknown, held), left - value)
            held, value = residual(unknown, held)
        raise ConvergenceError(Ending.NO_CONVERGENCE.text)

    def is_lost(begin: tuple[Array, States], end: tuple[Array, States]) -> bool:
        if min(firmness(bow, held) for _, held in (begin, end)) <= 0.0:
            return True
        try:
            return bool(np.linalg.det(slope(*end)) / np.linalg.det(slope(*begin)) < UNSTEADY)
        except ConvergenceError:  # not known
            return False

    lengths = [float(path.string_length[-1]) for path in start.limbs]
    pull = start.limbs[0].pull[-1]
    lean = float(np.arctan2(pull[1], -pull[0]))
    along = np.array([-np.sin(lean), np.cos(lean)])
    # the nock point moves along its string, by
    up = handle.arrow_height * along[1] + above - float((start.nock[-1] - bow.pivot) @ along)
    give = [
        1.0 + float(path.tension[-1]) / model.string.EA
        for path, model in zip(start.limbs, bow.models, strict=True)
    ]
    unknown = np.array([lean, first, lengths[0] - up / give[0], lengths[1] + up / give[1]])
    try:
        held, value = residual(unknown, start)
    except ConvergenceError:
        raise _refused(bow, start, first, False) from None
    begin = unknown, held
    done, step = 0.0, 1.0
    while done < 1.0:
        share = min(done + step, 1.0)
        try:
            unknown, held = solve(unknown, held, (1.0 - share) * value)
        except (ConvergenceError, np.linalg.LinAlgError):
            step *= 0.5
            if step < FINEST:
                lost = is_lost(begin, (unknown, held))
                raise _refused(bow, held, float(unknown[1]), lost) from None
            continue
        done, step = share, 2.0 * step
    ending = next(filter(None, map(fault, held.limbs)), None)
    if ending is None and unknown[1] < LOW:
        ending = Ending.TOO_LONG
    if ending is None and firmness(bow, held) <= 0.0:
        ending = Ending.TURNS_OVER
    if ending is not None:
        raise refusal(ending, held.limbs[0])
    return held


def _refused(bow: Balance, held: States, height: float, lost: bool) -> BraceError:
    """Say why two limbs do not come on one string, by the last state found."""
    worst = [worst_station(m, p) for m, p in zip(bow.models, held.limbs, strict=True)]
    side = int(np.argmax([share for share, _, _ in worst]))
    share, s, how = worst[side]
    place, ending = "", Ending.TURNS_OVER if lost else Ending.NO_CONVERGENCE
    if share >= NEARLY:
        ending = how
        place = where_text(s, tuple(Side)[side])
    elif height < LOW:
        ending = Ending.TOO_LONG
    return refusal(ending, held.limbs[side], place)


def firmness(bow: Balance, held: States) -> float:
    """Return the least stiffness, N/m, with which the nock point, let go, would come back.

    Not above 0 where the energy is not at its least: the bow would turn over. Nan where the nock
    point cannot be moved a little to all sides.
    """
    slope = np.zeros((2, 2))
    for i, one in enumerate(NUDGE * np.eye(2)):
        ends = [bow.hold(held.nock[0] + one, held), bow.hold(held.nock[0] - one, held)]
        if any(isinstance(end, Ending) for end in ends):
            return np.nan
        ahead, behind = (bow.force(end)[0] for end in ends if isinstance(end, States))
        slope[i] = (ahead - behind) / (2.0 * NUDGE)
    return float(np.min(np.linalg.eigvalsh(0.5 * (slope + slope.T))))
