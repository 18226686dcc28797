"""Follow equilibrium along a path of loads, displacements, arc length, or string pulls."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import P
from bowfem._kernels.mesh import MAX_CONTACTS, Model
from bowfem._kernels.newton import BEYOND_TABLE, CONVERGED, SINGULAR, walk
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod.loads import COMPONENTS, Component, Load, Spring, Support, _node, kernel_loads
from bowfem.rod.shape import Rod
from bowfem.rod.states import Path, Stop, from_kernel
from bowfem.rod.string import NO_STRING, TautString

Array = NDArray[np.float64]
STOPS = {CONVERGED: Stop.COMPLETE, SINGULAR: Stop.SINGULAR, BEYOND_TABLE: Stop.LIMIT}


@dataclass(frozen=True)
class Settings:
    """Set how hard the solver tries.

    Parameters
    ----------
    tolerance : float
        Largest Newton step, rad and rod lengths, at which a state counts as found.
    iterations : int
        Newton iterations allowed in a step before it is halved.
    finest : float
        Smallest part of a step that is tried.
    predict : bool
        Extrapolate along the path before Newton (cubic, from two states and their slopes).
    """

    tolerance: float = 1e-9
    iterations: int = 25
    finest: float = 1.0 / 4096
    predict: bool = True


class _Engine:
    """One rod with its supports, loads and string, laid out for the kernels."""

    def __init__(
        self, rod: Rod, supports: Iterable[Support | Spring], loads: Iterable[Load],
        string: TautString | None, settings: Settings, limit: float = np.inf,
    ) -> None:
        self.rod, self.settings, self.limit = rod, settings, limit
        length = rod.length
        stiffness = float(np.max(rod.EI))
        self.force = stiffness / length**2
        shape = rod.EI.shape
        if rod.table is None:
            knot = np.ones(shape)
            tables = [np.zeros((*shape, 0))] * 3
        else:
            t = rod.table
            knot = (t.curvature[..., 1] - t.curvature[..., 0]) * length
            tables = [
                np.ascontiguousarray(part)
                for part in (
                    t.moment / (self.force * length),
                    t.tangent / stiffness,
                    t.energy / self.force,
                )
            ]
        self.model = Model(
            np.diff(rod.nodes) / length, rod.angle0, rod.curvature0 * length,
            rod.EI / stiffness, knot, *tables, rod.stretch * self.force, rod.shear * self.force,
            rod.belly / length, rod.belly_slope, (rod.position0 - np.array(rod.origin)) / length,
        )
        self.loads = kernel_loads(rod, supports, loads, self.force)
        self.string = NO_STRING if string is None else string.kernel_string(rod, self.force)
        n = rod.n_elements
        self.rest = np.concatenate(
            [np.zeros(n * (P + 1)), self.model.reference.ravel(), np.zeros(2 * n + 1)]
        )
        self.no_control = np.zeros((n + 2, 3))

    def run(
        self, start: Array, targets: Array, state: Array, *, ctrl: Array | None = None,
        level: float = 0.0, mu: float = 0.0,
    ) -> tuple[int, int, int, float, dict[str, Any]]:
        """Call the kernel; return (status, reached, sign, path parameter, outputs)."""
        n, nt, set_ = self.rod.n_elements, targets.shape[0], self.settings
        out = {
            "state": np.zeros((nt, state.size)), "tangent": np.zeros(state.size + 1),
            "point": np.zeros((nt, n, P, 6)), "scalar": np.zeros((nt, 8)),
            "contact": np.zeros((nt, MAX_CONTACTS, 2)), "react": np.zeros((nt, n + 1, 3)),
            "count": np.zeros((nt, 2), np.int64), "hist": np.zeros((set_.iterations, 2)),
        }
        parameter = np.array([mu])
        status, reached, sign = walk(
            self.model, self.loads, self.string, targets, start, state, set_.predict,
            set_.tolerance, set_.iterations, set_.finest, self.limit, ctrl is not None,
            self.no_control if ctrl is None else ctrl, level, parameter, *out.values(),
        )
        return status, reached, sign, float(parameter[0]), out

    def path(
        self, stop: Stop, controls: Array, out: dict[str, Any], reached: int, sign: int,
        limits: tuple[int, ...] = (),
    ) -> Path:
        """Make the record of the states reached."""
        return from_kernel(self.rod, stop, self.force, controls, out, reached, sign, limits)


def _finish(path: Path, strict: bool, what: str) -> Path:
    if strict and path.stop is not Stop.COMPLETE:
        reached = f"after {len(path)} states" if len(path) else "at once"
        raise ConvergenceError(f"{what} stopped {reached}: {path.stop.value}", status=path)
    return path


def follow(
    rod: Rod,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load] = (),
    factors: ArrayLike = (1.0,),
    *,
    start: Path | None = None,
    settings: Settings = Settings(),  # noqa: B008 - frozen
    strict: bool = True,
) -> Path:
    """Follow equilibrium through given load factors.

    Parameters
    ----------
    rod : Rod
        The rod.
    supports, loads : iterables
        What holds it and what acts on it; loads and imposed displacements scale with the factor.
    factors : array_like, shape (n,)
        Load factors to find a state at, in order, from zero (or from the end of `start`).
    start : Path, optional
        Go on from the last state of an earlier path of the same rod.
    settings : Settings, optional
        How hard to try.
    strict : bool
        Raise when the path stops early; else return what was reached, with `Path.stop`.

    Raises
    ------
    ConvergenceError
        The path stopped early; its `status` is the path reached.

    Examples
    --------
    A strip bent into a full circle by an end couple, in one step:

    >>> from bowfem.rod import Force, Rod, clamp, follow
    >>> strip = Rod.straight(1.0, n_elements=4, EI=2.0)
    >>> ring = follow(strip, [clamp(0)], [Force(couple=2 * np.pi * 2.0)])
    >>> abs(ring.tip[-1]).round(9).tolist(), round(float(ring.turn[-1, -1]), 6)
    ([0.0, 0.0], 6.283185)
    """
    values = np.atleast_1d(np.asarray(factors, dtype=float))
    if values.size == 0 or not np.all(np.isfinite(values)):
        raise InputError("factors", factors, "one or more finite load factors")
    engine = _Engine(rod, supports, loads, None, settings)
    controls = np.zeros((values.size, 4))
    controls[:, 0] = values
    begin, state = np.zeros(4), engine.rest
    if start is not None:
        begin[0], state = start.factor[-1], start.raw[-1]
    status, reached, sign, _, out = engine.run(begin, controls, state)
    stop = STOPS.get(status, Stop.NO_CONVERGENCE)
    return _finish(engine.path(stop, controls, out, reached, sign), strict, "the load path")


def pull(
    rod: Rod,
    supports: Iterable[Support | Spring],
    string: TautString,
    nock: ArrayLike,
    length: ArrayLike,
    *,
    begin: tuple[float, float, float],
    start: Path | None = None,
    loads: Iterable[Load] = (),
    settings: Settings = Settings(),  # noqa: B008 - frozen
    limit: float = np.inf,
    strict: bool = True,
) -> Path:
    """Pull a rod by a string: move the string's far end, or change its length, step by step.

    Parameters
    ----------
    rod, supports, loads
        As in `follow`; the loads act in full.
    string : TautString
        The string, tied to the last node.
    nock : array_like, shape (n, 2)
        Where the far end is held at each step, m.
    length : array_like, shape () or (n,)
        Natural length of the string at each step, m.
    begin : tuple of float
        Nock position (x, y) and length before the first step, with the string slack or just taut.
    start : Path, optional
        Go on from the last state of an earlier pull; `begin` is then ignored.
    limit : float
        Stop when a bending strain exceeds this share of the law's table.

    Raises
    ------
    ConvergenceError
        The path stopped early; its `status` is the path reached.
    """
    engine = _Engine(rod, supports, loads, string, settings, limit)
    places = np.atleast_2d(np.asarray(nock, dtype=float))
    controls = np.ones((places.shape[0], 4))
    first = np.ones(4)
    controls[:, 1:3] = (places - np.array(rod.origin)) / rod.length
    controls[:, 3] = np.asarray(length, dtype=float) / rod.length
    if not np.all(np.isfinite(controls)) or not np.all(controls[:, 3] > 0.0):
        raise InputError("nock, length", "given values", "finite, lengths above 0")
    state = engine.rest
    if start is None:
        first[1:3] = (np.array(begin[:2]) - np.array(rod.origin)) / rod.length
        first[3] = begin[2] / rod.length
    else:
        state = start.raw[-1]
        first[1:3] = (start.nock[-1] - np.array(rod.origin)) / rod.length
        first[3] = start.string_length[-1] / rod.length
    status, reached, sign, _, out = engine.run(first, controls, state)
    stop = STOPS.get(status, Stop.NO_CONVERGENCE)
    return _finish(engine.path(stop, controls, out, reached, sign), strict, "the pull")


class _Tracer:
    """Collect states found one by one with an unknown load factor."""

    def __init__(self, engine: _Engine, start: Path | None, guess: Array | None) -> None:
        self.engine = engine
        self.begin, self.target = np.zeros(4), np.array([1.0, 0.0, 0.0, 0.0])
        self.state = engine.rest if start is None else start.raw[-1]
        self.mu = 0.0 if start is None else float(start.factor[-1])
        if guess is not None:
            self.state = self.state.copy()
            n = engine.rod.n_elements
            self.state[: n * (P + 1)] = guess.ravel()
        self.tangent = np.zeros(self.state.size + 1)
        self.found: list[dict[str, Any]] = []
        self.factors: list[float] = []
        self.sign = 0

    def solve(self, ctrl: Array, level: float, state: Array, mu: float) -> dict[str, Any] | None:
        """Find the state at a level of the control; None when Newton fails."""
        status, _, sign, factor, out = self.engine.run(
            self.begin, self.target[None, :], state, ctrl=ctrl, level=level, mu=mu
        )
        if status != CONVERGED:
            return None
        return {**out, "mu": factor, "sign": sign}

    def accept(self, out: dict[str, Any]) -> None:
        """Keep a state."""
        self.state, self.mu, self.tangent = out["state"][0], out["mu"], out["tangent"]
        self.sign = out["sign"]
        self.found.append(out)
        self.factors.append(out["mu"])

    def path(self, stop: Stop, limits: tuple[int, ...] = ()) -> Path:
        """Make the record."""
        n = len(self.found)
        controls = np.zeros((n, 4))
        controls[:, 0] = self.factors
        if n == 0:
            empty = {k: v[:0] for k, v in self.engine_out().items()}
            return self.engine.path(stop, controls, empty, 0, 0)
        keys = ("state", "point", "scalar", "contact", "react", "count")
        out = {key: np.concatenate([f[key] for f in self.found]) for key in keys}
        out["hist"] = self.found[-1]["hist"]
        return self.engine.path(stop, controls, out, n, self.sign, limits)

    def engine_out(self) -> dict[str, Any]:
        """Return empty outputs of the right shapes."""
        n = self.engine.rod.n_elements
        return {
            "state": np.zeros((1, self.state.size)), "point": np.zeros((1, n, P, 6)),
            "scalar": np.zeros((1, 8)), "contact": np.zeros((1, MAX_CONTACTS, 2)),
            "react": np.zeros((1, n + 1, 3)), "count": np.zeros((1, 2), np.int64),
            "hist": np.zeros((1, 2)),
        }


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
    engine = _Engine(rod, supports, loads, None, settings)
    tracer = _Tracer(engine, start, guess)
    b, i = _node(node, rod.n_elements), COMPONENTS[component]
    ctrl = np.zeros_like(engine.no_control)
    ctrl[b, i] = 1.0
    scale = 1.0 if i == 2 else 1.0 / rod.length
    rest = engine.model.reference[b, i] if i < 2 else 0.0
    at = 0.0 if start is None else float(_component(start.raw[-1], rod.n_elements, b, i)) - rest
    for value in np.atleast_1d(np.asarray(values, dtype=float)) * scale:
        step = value - at
        while at != value:
            goal = value if abs(value - at) <= abs(step) * (1 + 1e-12) else at + step
            ahead = goal - at
            known = bool(tracer.found)
            state = tracer.state + ahead * tracer.tangent[:-1] if known else tracer.state
            mu = tracer.mu + ahead * tracer.tangent[-1] if known else tracer.mu
            out = tracer.solve(ctrl, rest + goal, state, mu)
            if out is None:
                step *= 0.5
                if abs(step) < settings.finest * abs(value):
                    return _finish(tracer.path(Stop.NO_CONVERGENCE), strict, "the displacement")
                continue
            if goal != value:  # a step on the way is not asked for
                tracer.accept(out)
                tracer.found.pop()
                tracer.factors.pop()
            else:
                tracer.accept(out)
            at = goal
    return tracer.path(Stop.COMPLETE)


def _component(state: Array, n: int, b: int, i: int) -> float:
    if i < 2:
        return state[n * (P + 1) + 2 * b + i]
    return state[b * (P + 1)] if b < n else state[n * (P + 1) - 1]


def trace(
    rod: Rod,
    supports: Iterable[Support | Spring],
    loads: Iterable[Load],
    *,
    step: float = 0.1,
    states: int = 100,
    until: Callable[[Path], bool] | None = None,
    start: Path | None = None,
    settings: Settings = Settings(),  # noqa: B008 - frozen
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
    529-551; from memory), arc length in node positions over the rod's length, rotations and load
    factor. A step is halved when Newton fails and grown when it is easy. Where the load factor
    turns, the limit itself is found and added; `Path.limits` lists those states.
    """
    engine = _Engine(rod, supports, loads, None, settings)
    tracer = _Tracer(engine, start, None)
    n = rod.n_elements
    natural = np.zeros_like(engine.no_control)
    natural[-1, 0] = 1.0
    first = tracer.solve(natural, tracer.mu + step, tracer.state, tracer.mu + step)
    if first is None:
        return _finish(tracer.path(Stop.NO_CONVERGENCE), strict, "the path")
    tracer.accept(first)
    way = _unit(first["tangent"], n) * np.sign(step)
    reach = abs(step) / abs(way[-1])
    smallest = reach * settings.finest
    limits: list[int] = []
    while len(tracer.found) < states:
        ctrl = _row(way, n)
        here, mu = tracer.state, tracer.mu
        base = _dot(ctrl, here, mu, n)

        def at(length: float, ctrl=ctrl, here=here, mu=mu, base=base, way=way) -> Any:
            return tracer.solve(ctrl, base + length, here + length * way[:-1], mu + length * way[-1])

        out = at(reach)
        new = None if out is None else _unit(out["tangent"], n)
        if out is None or new is None or float(_row_dot(new, ctrl, n)) < 0.7:
            reach *= 0.5
            if reach < smallest:
                return _finish(tracer.path(Stop.NO_CONVERGENCE), strict, "the path")
            continue
        if new[-1] * way[-1] < 0.0:
            peak = _limit(at, reach, way[-1], new[-1], n)
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


def _limit(at: Any, reach: float, slope0: float, slope1: float, n: int) -> dict[str, Any] | None:
    """Find the limit of the load factor between two states (Illinois on the slope)."""
    a, b, fa, fb = 0.0, reach, slope0, slope1
    best = None
    for _ in range(30):
        x = (a * fb - b * fa) / (fb - fa)
        out = at(x)
        if out is None:
            return best
        best, f = out, float(_unit(out["tangent"], n)[-1])
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


def _unit(tangent: Array, n: int) -> Array:
    return tangent / np.linalg.norm(_row(tangent, n))
