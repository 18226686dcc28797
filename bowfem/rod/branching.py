"""Where equilibrium loses its stability, and how to go on from there on the other branch."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import NODE_X, P
from bowfem._kernels.inertia import linearised
from bowfem._kernels.records import MAX_BORDER, MAX_CUTS, NODE
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod._checks import check_number, check_state
from bowfem.rod.controlled import displace
from bowfem.rod.engine import Settings, _Engine, follow
from bowfem.rod.loads import Component, Load, Spring, Support
from bowfem.rod.shape import Rod
from bowfem.rod.states import Path, one_state
from bowfem.rod.string import TautString
from bowfem.rod.transfer import transferred

Array = NDArray[np.float64]

#: Halvings of the step in which a critical point lies; the rest is interpolated.
NEAR = 6
PLAIN = Settings(predict=False)
#: Solves what is differenced as closely as it goes.
EXACT = Settings(tolerance=1e-12, predict=False)


@dataclass(frozen=True, eq=False)
class CriticalPoint:
    """A state at which the tangent is singular.

    Attributes
    ----------
    factor : float
        Load factor.
    path : Path
        The state, one.
    mode : ndarray, shape (n_elements + 1, 3)
        How the nodes move without resistance: x, y over the rod's length, turn; largest 1.
    """

    factor: float
    path: Path
    mode: Array


def unstable_modes(
    path: Path,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load] = (),
    *,
    state: int = -1,
    string: TautString | None = None,
) -> int:
    """Count the independent ways in which a state would leave its equilibrium by itself.

    Parameters
    ----------
    path : Path
        The path.
    supports, loads, string
        Those it was found with; the string's far end is held.
    state : int
        Which state.

    Returns
    -------
    int
        0 for a stable state. Follower loads and pressure have no energy: a count with them tells of
        divergence alone, not of flutter.

    Notes
    -----
    By Sylvester's law of inertia: the mixed tangent has a negative eigenvalue for each component of
    an element's force, and for each piece of string; what it has besides is unstable.
    """
    K, _, forces = _tangent(path, supports, loads, check_state(state, len(path)), string)
    return int(np.sum(np.linalg.eigvalsh(0.5 * (K + K.T)) < 0.0)) - forces


def flexibility(
    path: Path,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load] = (),
    *,
    node: int = -1,
    state: int = -1,
) -> Array:
    """Return how a node of a loaded rod gives to a little more force: the tangent's inverse there.

    Parameters
    ----------
    path : Path
        The path.
    supports, loads
        Those it was found with.
    node, state : int
        Which node, and about which state; the last by default.

    Returns
    -------
    ndarray, shape (3, 3)
        Of x, y, m, and turn, rad (rows), by force along x and y, N, and couple, N m (columns); its
        inverse is the stiffness there. What is held gives nothing.

    Raises
    ------
    InputError
        There is no such node or state, or the state's tangent is singular.

    Examples
    --------
    The tip of a cantilever: ``L^3 / 3 EI``, ``L^2 / 2 EI``, ``L / EI``:

    >>> from bowfem.rod import Rod, clamp, flexibility, follow
    >>> straight = follow(Rod.straight(2.0, 4, EI=8.0), [clamp(0)], [], [1.0])
    >>> flexibility(straight, [clamp(0)])[1:, 1:].round(9).tolist()
    [[0.333333333, 0.25], [0.25, 0.25]]
    """
    rod = path.rod
    count = rod.n_elements + 1
    whole = isinstance(node, int | np.integer) and not isinstance(node, bool)
    if not whole or not -count <= node < count:
        raise InputError("node", node, f"a node, between {-count} and {count - 1}")
    K, free, _ = _tangent(path, supports, loads, check_state(state, len(path)), None)
    at = NODE * (node % count) + np.arange(3)
    rows, places = np.nonzero(free[None, :] == at[:, None])
    ahead = np.zeros((free.size, 3))
    ahead[places, rows] = 1.0
    try:
        way = np.linalg.solve(K, ahead)
    except np.linalg.LinAlgError:
        raise InputError("state", state, "one with a tangent that is not singular") from None
    found = np.zeros((3, 3))
    found[rows] = way[places]
    unit = np.array([rod.length, rod.length, 1.0])
    return unit[:, None] * found * unit / (float(np.max(rod.EI)) / rod.length)


def sensitivity(
    path: Path,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load],
    change: Callable[[float], Rod],
    figure: Callable[[Path], ArrayLike],
    step: float,
) -> Array:
    """Return how a figure of the last state goes with a number that the rod is made from.

    Parameters
    ----------
    path : Path
        A path of `follow`.
    supports, loads
        Those it was found with.
    change : callable
        Of a small change of that number: the rod with it, of as many elements.
    figure : callable
        Of a path: an array or number of its last state, of a shape that stays.
    step : float
        Change that is differenced, above 0.

    Returns
    -------
    ndarray
        Change of the figure per change of the number, of the figure's shape.

    Raises
    ------
    ConvergenceError
        A changed rod has no equilibrium near.

    Notes
    -----
    Central difference of equilibria, each found from the one there is: off by the third derivative
    times ``step^2 / 6``, and by the tolerance over the step.

    Examples
    --------
    The tip of a cantilever, ``F L^3 / 3 EI``, by the stiffness: ``-F L^3 / 3 EI^2``:

    >>> from bowfem.rod import Force, Rod, clamp, follow, sensitivity
    >>> held, push = [clamp(0)], [Force(y=1e-6)]
    >>> bent = follow(Rod.straight(2.0, 4, EI=8.0), held, push)
    >>> by_EI = sensitivity(bent, held, push, lambda d: Rod.straight(2.0, 4, EI=8.0 + d),
    ...                     lambda path: path.tip[-1, 1], 1e-3)
    >>> round(float(by_EI) * 1e6 * 24, 6)
    -1.0
    """
    step = check_number("step", step, "above 0", lambda x: np.isfinite(x) and x > 0.0)
    factor = [float(path.factor[check_state(-1, len(path))])]
    held, acting = tuple(supports), tuple(loads)
    found = []
    for by in (step, -step):
        rod = change(by)
        near = transferred(path, rod)
        there = follow(rod, held, acting, factor, start=near, settings=EXACT)
        found.append(np.asarray(figure(there), dtype=float))
    return np.asarray((found[0] - found[1]) / (2.0 * step))


def _negative(
    path: Path, supports: Iterable[Support | Spring], loads: Iterable[Load], state: int
) -> int:
    K, _, _ = _tangent(path, supports, loads, state, None)
    return int(np.sum(np.linalg.eigvalsh(0.5 * (K + K.T)) < 0.0))


def _tangent(
    path: Path,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load],
    state: int,
    string: TautString | None,
) -> tuple[Array, NDArray[np.int64], int]:
    """Return the tangent without what is held, its unknowns' places, and how many are forces."""
    engine = _Engine(path.rod, supports, loads, string, Settings())
    n = path.rod.n_elements
    room = NODE * (n + MAX_CUTS) + 3 + MAX_BORDER
    K, M = np.zeros((room, room)), np.zeros((room, room))
    controls = np.zeros(4)
    controls[0] = path.factor[state]
    if string is not None:
        controls[1:3] = (path.nock[state] - np.array(path.rod.origin)) / path.rod.length
        controls[3] = path.string_length[state] / path.rod.length
    size = linearised(
        engine.model,
        engine.loads,
        engine.string,
        path.raw[state],
        controls,
        np.zeros((0, 2)),
        np.zeros(path.rod.EI.shape),
        np.zeros(2),
        K,
        M,
        np.zeros((room, 0)),
        np.zeros((0, 0)),
    )
    # a held unknown has a row of its own, 1 on the diagonal and nothing else
    K = K[:size, :size]
    alone = (np.diag(K) == 1.0) & (np.count_nonzero(K, axis=1) == 1)
    held = alone & np.isin(np.arange(size), _held(size))
    free = np.flatnonzero(~held)
    band = NODE * ((size - 3) // NODE) + 3
    forces = 2 * ((size - 3) // NODE) + (size - band)
    return K[np.ix_(free, free)], free, forces


def _held(size: int) -> NDArray[np.int64]:
    nodes = np.arange(0, size, NODE)
    return np.concatenate([nodes + i for i in range(3)]).astype(np.int64)


def critical_point(
    path: Path, supports: Iterable[Support | Spring], loads: Iterable[Load], state: int
) -> CriticalPoint:
    """Locate where the tangent's determinant changes its sign between a state and the next.

    Parameters
    ----------
    path : Path
        A path of `follow`.
    supports, loads
        Those it was found with.
    state : int
        The state before: `Path.signs` differs from that of the next.

    Raises
    ------
    InputError
        The sign does not change there.
    ConvergenceError
        The path could not be followed in between.

    Examples
    --------
    Euler's strut, between hinges:

    >>> from bowfem.rod import Force, Rod, Support, critical_point, follow, pin
    >>> strut, held = Rod.straight(1.0, 8, EI=1.0), [pin(0), Support(-1, ("y",))]
    >>> push = [Force(x=-1.0)]
    >>> path = follow(strut, held, push, [5.0, 9.0, 11.0])
    >>> path.signs.tolist()
    [1, 1, -1]
    >>> round(critical_point(path, held, push, 1).factor / np.pi**2, 9)
    1.0
    """
    count = len(path)
    whole = isinstance(state, int | np.integer) and not isinstance(state, bool)
    if not whole or not 0 <= state < count - 1 or path.signs[state] == path.signs[state + 1]:
        allowed = "one after which the determinant's sign changes (Path.signs)"
        raise InputError("state", state, allowed)
    held, acting = tuple(supports), tuple(loads)
    start = one_state(path, state)

    crossing = _negative(path, held, acting, state)
    crossing = min(crossing, _negative(path, held, acting, state + 1))

    def least(factor: float) -> tuple[float, Array, NDArray[np.int64], Path]:
        """Return the eigenvalue that crosses nought, its vector, what is free, the state."""
        found = follow(path.rod, held, acting, [factor], start=start, settings=PLAIN)
        K, free, _ = _tangent(found, held, acting, -1, None)
        values, ways = np.linalg.eigh(0.5 * (K + K.T))
        return float(values[crossing]), np.asarray(ways[:, crossing]), free, found

    # the closer, the likelier it is to slip on to the other branch: the rest is interpolated
    low, high = float(path.factor[state]), float(path.factor[state + 1])
    for _ in range(NEAR):
        middle = 0.5 * (low + high)
        found = follow(path.rod, held, acting, [middle], start=start, settings=PLAIN)
        if found.sign == path.signs[state]:
            low = middle
        else:
            high = middle
    x = low + np.array([-1.0, 0.0, 1.0, 2.0]) * (high - low)
    y = np.array([least(float(each))[0] for each in x])
    factor = float(
        sum(x[i] * np.prod([-y[j] / (y[i] - y[j]) for j in range(4) if j != i]) for i in range(4))
    )
    _, vector, free, here = least(low + 0.99 * (factor - low))
    way = np.zeros(NODE * path.rod.n_elements + 3)
    inside = free < way.size
    way[free[inside]] = vector[inside]
    mode = np.array([way[NODE * b : NODE * b + 3] for b in range(path.rod.n_elements + 1)])
    largest = mode.flat[int(np.argmax(np.abs(mode)))]
    return CriticalPoint(factor, here, mode / largest)


def switch_branch(
    point: CriticalPoint,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load],
    size: float,
) -> Path:
    """Step from a bifurcation on to the branch that leaves there.

    Parameters
    ----------
    point : CriticalPoint
        The bifurcation.
    supports, loads
        Those it was found with.
    size : float
        How far: rad, or over the rod's length, of what moves most; its sign chooses the side.

    Returns
    -------
    Path
        One state on the branch, to go on from by `displace` or `follow`.

    Raises
    ------
    ConvergenceError
        No state was found there: the point is a limit, or the step is too long.
    """
    if not isinstance(point, CriticalPoint):
        raise InputError("point", point, "a critical point")
    size = check_number("size", size, "finite and not 0", lambda x: np.isfinite(x) and x != 0.0)
    rod, path = point.path.rod, point.path
    b, i = np.unravel_index(int(np.argmax(np.abs(point.mode))), point.mode.shape)
    names: tuple[Component, ...] = ("x", "y", "turn")
    n = rod.n_elements
    turn = point.mode[:, 2]
    along = (1.0 - NODE_X) * turn[:-1, None] + NODE_X * turn[1:, None]
    guess = path.raw[-1][: n * (P + 1)].reshape(n, P + 1) + size * along
    now = path.turn[-1, b] if i == 2 else path.nodes[-1, b, i] - rod.position0[b, i]
    goal = float(now) + size * float(point.mode[b, i]) * (1.0 if i == 2 else rod.length)
    found = displace(
        rod, supports, loads, int(b), names[int(i)], [goal], start=path, guess=guess, strict=False
    )
    if len(found) == 0:
        raise ConvergenceError("no other branch was found there", status=found)
    return found
