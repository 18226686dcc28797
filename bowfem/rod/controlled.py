"""Follow equilibrium with the load factor unknown: given displacements, or arc length."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import P
from bowfem._kernels.newton import BEYOND_TABLE, CONVERGED
from bowfem.errors import InputError
from bowfem.rod._checks import check_count, check_number, check_numbers
from bowfem.rod.engine import Settings, _Engine, _finish
from bowfem.rod.loads import COMPONENTS, Component, Load, Spring, Support, _node
from bowfem.rod.shape import Rod
from bowfem.rod.states import Path, Stop

Array = NDArray[np.float64]


class _Tracer:
    """Collect states found one by one with an unknown load factor."""

    def __init__(self, engine: _Engine, start: Path | None, guess: Array | None) -> None:
        self.engine = engine
        scaled = engine.loads
        parts = (scaled.dead, scaled.follower, scaled.line, scaled.pressure, scaled.value)
        if not any(np.any(part[1]) for part in parts):
            raise InputError("loads", "none", "given, at least one that scales with the factor")
        self.begin, self.target = np.zeros(4), np.array([1.0, 0.0, 0.0, 0.0])
        self.state = engine.begin(start)
        self.mu = 0.0 if start is None else float(start.factor[-1])
        if guess is not None:
            self.state = self.state.copy()
            n = engine.rod.n_elements
            if np.shape(guess) != (n, P + 1) or not np.all(np.isfinite(guess)):
                raise InputError("guess", np.shape(guess), f"finite, of shape ({n}, {P + 1})")
            self.state[: n * (P + 1)] = guess.ravel()
        self.tangent = np.zeros(self.state.size + 1)
        self.found: list[dict[str, Any]] = []
        self.factors: list[float] = []
        self.beyond = False  # whether a step failed at the end of the law
        self.spent = 0  # Newton iterations, those of failed steps included

    def solve(self, ctrl: Array, level: float, state: Array, mu: float) -> dict[str, Any] | None:
        """Find the state at a level of the control; None when Newton fails."""
        status, _, _, factor, out = self.engine.run(
            self.begin, self.target[None, :], state, ctrl=ctrl, level=level, mu=mu
        )
        self.spent += out["count"][0, 0]
        self.beyond = status == BEYOND_TABLE
        if status != CONVERGED:
            return None
        return {**out, "mu": factor}

    def accept(self, out: dict[str, Any], keep: bool = True) -> None:
        """Go on from a state; keep it, unless it is one on the way to what is asked for."""
        self.state, self.mu, self.tangent = out["state"][0], out["mu"], out["tangent"]
        if keep:
            self.found.append(out)
            self.factors.append(out["mu"])

    def path(self, stop: Stop, limits: tuple[int, ...] = ()) -> Path:
        """Make the record."""
        n = len(self.found)
        controls = np.zeros((n, 4))
        controls[:, 0] = self.factors
        if n == 0:
            return self.engine.path(stop, controls, self.engine.outputs(0), 0)
        keys = ("state", "point", "scalar", "contact", "react", "count")
        out = {key: np.concatenate([f[key] for f in self.found]) for key in keys}
        out["hist"] = self.found[-1]["hist"]
        return self.engine.path(stop, controls, out, n, limits)

    @property
    def stopped(self) -> Stop:
        """Why the last step failed."""
        return Stop.LIMIT if self.beyond else Stop.NO_CONVERGENCE


def displace(
    rod: Rod,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load],
    node: int,
    component: Component,
    values: ArrayLike,
    *,
    start: Path | None = None,
    guess: Array | None = None,
    settings: Settings = Settings(),  # noqa: B008 - frozen
    limit: float = 1.0,
    strict: bool = True,
) -> Path:
    """Follow equilibrium with a displacement given and the load factor unknown.

    Parameters
    ----------
    node, component
        The displacement that is controlled: "x", "y" (change of position, m) or "turn" (rad).
    values : array_like, shape (n,)
        Its values, in order.
    guess : ndarray, shape (n_elements, 5), optional
        Rotations at the elements' Gauss-Lobatto nodes to begin from, to step on to a branch.

    Other parameters, raises: see `follow`.
    """
    goals = np.atleast_1d(check_numbers("values", values))
    if goals.ndim != 1 or goals.size == 0 or not np.all(np.isfinite(goals)):
        raise InputError("values", values, "one or more finite displacements")
    if not isinstance(component, str) or component not in COMPONENTS:
        raise InputError("component", component, "x, y or turn")
    engine = _Engine(rod, supports, loads, None, settings, limit)
    tracer = _Tracer(engine, start, guess)
    b, i = _node(node, rod.n_elements), COMPONENTS[component]
    ctrl = np.zeros_like(engine.no_control)
    ctrl[b, i] = 1.0
    scale = 1.0 if i == 2 else 1.0 / rod.length
    rest = engine.model.reference[b, i] if i < 2 else 0.0
    at = 0.0 if start is None else float(_component(start.raw[-1], rod.n_elements, b, i)) - rest
    for value in goals * scale:
        step = span = value - at
        steps, spent, done = 0, tracer.spent, False
        while not done:
            done = abs(value - at) <= abs(step) * (1 + 1e-12)
            goal = value if done else at + step
            ahead = goal - at
            known = bool(np.any(tracer.tangent))  # zero before the first state
            state = tracer.state + ahead * tracer.tangent[:-1] if known else tracer.state
            mu = tracer.mu + ahead * tracer.tangent[-1] if known else tracer.mu
            out = tracer.solve(ctrl, rest + goal, state, mu)
            if out is None:
                step, done = 0.5 * step, False
                if abs(step) <= settings.finest * abs(span):
                    return _finish(tracer.path(tracer.stopped), strict, "the displacement")
                continue
            steps += 1
            at = goal
            out["count"][0, :2] = tracer.spent - spent, steps
            tracer.accept(out, keep=done)
    return tracer.path(Stop.COMPLETE)


def _component(state: Array, n: int, b: int, i: int) -> float:
    if i < 2:
        return state[n * (P + 1) + 2 * b + i]
    return state[b * (P + 1)] if b < n else state[n * (P + 1) - 1]


def follow_arc_length(
    rod: Rod,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load],
    *,
    step: float = 0.1,
    states: int = 100,
    until: Callable[[Path], bool] | None = None,
    start: Path | None = None,
    settings: Settings = Settings(),  # noqa: B008 - frozen
    limit: float = 1.0,
    strict: bool = True,
) -> Path:
    """Follow equilibrium by arc length, through limit points, with adaptive steps.

    Parameters
    ----------
    step : float
        First step: change of the load factor.
    states : int
        Largest number of states.
    until : callable, optional
        Called with the path's newest state; true ends the path.

    Other parameters, raises: see `follow`.

    Notes
    -----
    Steps lie in the plane normal to the path's tangent (E. Riks, Int. J. Solids Struct. 15 (1979)
    529-551; from memory). Arc length is in node positions over the rod's length, rotations, and the
    load factor, weighted to count as much as they do at the first state. A step is halved when
    Newton fails and grown when it is easy. Where the load factor turns, the limit itself is found
    and added; `Path.limits` lists those states.

    Examples
    --------
    A shallow hinged arch, pushed down at its crown, snaps through between two limits:

    >>> from bowfem.rod import Force, Rod, pin, follow_arc_length
    >>> arch = Rod.arc(2.0, -1.0, 8, EI=1.0, EA=100.0, start=0.5)
    >>> push = Force(node=4, y=-1.0)
    >>> ends = [pin(0), pin(-1)]
    >>> path = follow_arc_length(arch, ends, [push], until=lambda p: p.factor[-1] > 20.0)
    >>> path.factor[list(path.limits)].round(3).tolist()
    [1.84, 1.405]
    """
    step = check_number("step", step, "finite and not 0", lambda x: np.isfinite(x) and x != 0.0)
    check_count(states, "states")
    engine = _Engine(rod, supports, loads, None, settings, limit)
    tracer = _Tracer(engine, start, None)
    n = rod.n_elements
    natural = np.zeros_like(engine.no_control)
    natural[-1, 0] = 1.0
    first = tracer.solve(natural, tracer.mu + step, tracer.state, tracer.mu + step)
    if first is None:
        return _finish(tracer.path(tracer.stopped), strict, "the path")
    tracer.accept(first)
    # the load factor counts as much as all displacements at first, whatever its unit
    weight = float(np.linalg.norm(_row(first["tangent"], n)[:-1]) / abs(first["tangent"][-1]))
    way = _unit(first["tangent"], n, weight) * np.sign(step)
    reach = abs(step) / abs(way[-1])
    smallest = reach * settings.finest
    limits: list[int] = []
    while len(tracer.found) < states:
        ctrl = _row(way, n)
        ctrl[-1, 0] *= weight**2
        here, mu = tracer.state, tracer.mu
        base = _dot(ctrl, here, mu, n)

        def at(length: float, ctrl=ctrl, here=here, mu=mu, base=base, way=way) -> Any:
            state = here + length * way[:-1]
            return tracer.solve(ctrl, base + length, state, mu + length * way[-1])

        def slope(tangent: Array) -> float:
            return float(_unit(tangent, n, weight)[-1])

        out = at(reach)
        new = None if out is None else _unit(out["tangent"], n, weight)
        if out is None or new is None or float(_row_dot(new, ctrl, n)) < 0.7:
            reach *= 0.5
            if reach < smallest:
                found = tracer.path(tracer.stopped, tuple(limits))
                return _finish(found, strict, "the path")
            continue
        if new[-1] * way[-1] < 0.0:
            peak = _limit(at, reach, way[-1], new[-1], slope)
            if peak is not None:
                limits.append(len(tracer.found))
                tracer.accept(peak)
        tracer.accept(out)
        way = new
        count = int(out["count"][0, 0])
        reach *= 1.5 if count <= 4 else (0.7 if count >= 8 else 1.0)
        if until is not None and until(_newest(tracer)):
            break
    return tracer.path(Stop.COMPLETE, tuple(limits))


def _newest(tracer: _Tracer) -> Path:
    last = _Tracer(tracer.engine, None, None)
    last.found, last.factors = tracer.found[-1:], tracer.factors[-1:]
    return last.path(Stop.COMPLETE)


def _limit(
    at: Callable[[float], dict[str, Any] | None],
    reach: float,
    slope0: float,
    slope1: float,
    slope: Callable[[Array], float],
) -> dict[str, Any] | None:
    """Find the limit of the load factor between two states (Illinois on the slope)."""
    a, b, fa, fb = 0.0, reach, slope0, slope1
    best = None
    for _ in range(30):
        x = (a * fb - b * fa) / (fb - fa)
        out = at(x)
        if out is None:
            return best
        best, f = out, slope(out["tangent"])
        if f * fb > 0.0:
            fa *= 0.5
        else:
            a, fa = b, fb
        b, fb = x, f
        if abs(f) < 1e-9:
            break
    return best


def _row(way: Array, n: int) -> Array:
    """Lay a tangent out as a control row over nodes and load factor."""
    row = np.zeros((n + 2, 3))
    row[:-1, :2] = way[n * (P + 1) : n * (P + 1) + 2 * (n + 1)].reshape(-1, 2)
    psi = way[: n * (P + 1)].reshape(n, P + 1)
    row[:n, 2], row[n, 2] = psi[:, 0], psi[-1, -1]
    row[-1, 0] = way[-1]
    return row


def _dot(ctrl: Array, state: Array, mu: float, n: int) -> float:
    return float(np.sum(ctrl[:-1] * _row(np.append(state, mu), n)[:-1]) + ctrl[-1, 0] * mu)


def _row_dot(way: Array, ctrl: Array, n: int) -> float:
    return float(np.sum(_row(way, n) * ctrl))


def _unit(tangent: Array, n: int, weight: float) -> Array:
    row = _row(tangent, n)
    row[-1, 0] *= weight
    return tangent / np.linalg.norm(row)
