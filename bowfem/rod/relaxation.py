"""Find the stable equilibrium a rod and its string come to when none is near."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bowfem.rod.engine import Settings, pull
from bowfem.rod.loads import Force, Spring, Support
from bowfem.rod.states import Path, Stop
from bowfem.rod.string import TautString

#: First stiffness of the springs over EI / L^3, that from which equilibrium without is tried too,
#: change after a step found and after one not found, and most.
FIRST, FREE, SOFTER, STIFFER, MOST = 1e3, 1.0, 0.4, 8.0, 1e9
#: Largest move of a node over the rod's length with which the springs are softened further.
MOVE = 0.05
#: Spring force, as a fraction of the string's tension, below which the rod counts as free.
NOTHING = 1e-9
#: Steps after which to give up.
STEPS = 300


def relax(
    start: Path,
    supports: Sequence[Support | Spring],
    string: TautString,
    nock: tuple[float, float],
    length: float,
    *,
    settings: Settings = Settings(),  # noqa: B008 - frozen
    limit: float = np.inf,
) -> Path:
    """Move to the stable equilibrium in which a heavily damped rod would come to rest.

    Parameters
    ----------
    start : Path
        Its last state is where the rod starts from; it need be no equilibrium of what is asked.
    supports, string
        As in `pull`.
    nock : tuple of float
        Where the string's far end is held, m.
    length : float
        Natural length of the string, m.
    limit : float
        Stop before a bending strain exceeds this share of the reach of the law.

    Returns
    -------
    Path
        The equilibrium, one state. If its `stop` says that there was none, or `LIMIT`, the last
        state on the way, which is no equilibrium.

    Notes
    -----
    Springs hold every node where it was a step before, ``E(q) + k |q - q_before|^2 / 2`` is made
    least, and again from there with a softer ``k``: implicit Euler steps of a damped motion, whose
    energy can only fall (proximal point method; R. T. Rockafellar, SIAM J. Control Optim. 14
    (1976) 877-898; from memory). Where the springs are soft enough, Newton's method does the rest.

    Examples
    --------
    A straight limb let go from half a draw, with the string as long as ever:

    >>> from bowfem.rod import Rod, TautString, clamp, pull
    >>> from bowfem.rod.relaxation import relax
    >>> limb, hold, string = Rod.straight(0.6, n_elements=8, EI=40.0), [clamp(0)], TautString()
    >>> drawn = pull(limb, hold, string, [(0.0, 0.3)], 0.58, begin=(0.0, 0.15, 0.62))
    >>> rest = relax(drawn, hold, string, (0.0, 0.15), 0.58)
    >>> rest.pull[:, 1].round(2).tolist()
    [5.16]
    """
    rod, last = start.rod, start
    scale = float(np.max(rod.EI)) / rod.length**3
    k = FIRST
    for _ in range(STEPS):
        held, loads = _springs(last, k * scale)
        ahead = _step(last, [*supports, *held], loads, string, nock, length, settings, limit)
        if ahead.stop is not Stop.COMPLETE:
            k *= STIFFER
            if k > MOST or (ahead.stop is Stop.LIMIT and k > FIRST):
                return replace(last, stop=ahead.stop)
            continue
        moved = _moved(last, ahead)
        softer = SOFTER if moved < MOVE else 1.0
        last = ahead
        if k * scale * rod.length * moved < NOTHING * ahead.tension[-1]:
            return last
        # nothing more is imposed on the next steps: cutting them would not help
        settings = replace(settings, finest=1.0)
        if k <= FREE:
            free = _step(last, supports, (), string, nock, length, settings, limit)
            # Newton's method unheld may also end up far away, in what no motion leads to
            if free.stop is Stop.COMPLETE and _moved(last, free) < MOVE:
                return free
        k *= softer
    return replace(last, stop=Stop.NO_CONVERGENCE)


def _moved(before: Path, after: Path) -> float:
    return float(np.max(np.abs(after.nodes[-1] - before.nodes[-1]))) / before.rod.length


def _step(last, supports, loads, string, nock, length, settings, limit) -> Path:
    return pull(
        last.rod,
        supports,
        string,
        [nock],
        length,
        begin=(0.0, 0.0, 0.0),
        start=last,
        loads=loads,
        settings=settings,
        limit=limit,
        strict=False,
    )


def _springs(at: Path, k: float) -> tuple[list[Spring], list[Force]]:
    """Return springs of stiffness `k`, N/m, that pull every node but the first to where it is."""
    rod = at.rod
    held = range(1, rod.n_elements + 1)
    away = at.nodes[-1] - rod.position0
    turn = at.turn[-1]
    couple = k * rod.length**2
    springs = [Spring(n, k, k, couple) for n in held]
    loads = [
        Force(n, k * float(x), k * float(y), couple * float(turn[n]), constant=True)
        for n, (x, y) in zip(held, away[1:], strict=True)
    ]
    return springs, loads
