"""Follow equilibrium along a path of loads, displacements, arc length, or string pulls."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels import building
from bowfem._kernels.basis import P
from bowfem._kernels.newton import BEYOND_TABLE, CONVERGED, SINGULAR
from bowfem._kernels.path import walk
from bowfem._kernels.records import MAX_CONTACTS, POINT_SLOTS, SCALAR_SLOTS
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod._checks import check_count, check_number, check_numbers
from bowfem.rod.layout import layout_of
from bowfem.rod.loads import Load, Spring, Support, kernel_loads
from bowfem.rod.shape import Rod
from bowfem.rod.states import Held, Path, Stop, from_kernel
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

    Raises
    ------
    InputError
        A number is not above zero, or `iterations` is not a whole number above zero.
    """

    tolerance: float = 1e-9
    iterations: int = 25
    finest: float = 1.0 / 4096
    predict: bool = True

    def __post_init__(self) -> None:
        """Refuse what the solver cannot use."""
        for name, value in (("tolerance", self.tolerance), ("finest", self.finest)):
            check_number(name, value, "above 0, at most 1", lambda x: 0.0 < x <= 1.0)
        check_count(self.iterations, "iterations")


class _Engine:
    """One rod with its supports, loads and string, laid out for the kernels."""

    def __init__(
        self,
        rod: Rod,
        supports: Iterable[Support | Spring],
        loads: Iterable[Load],
        string: TautString | None,
        settings: Settings,
        limit: float = np.inf,
    ) -> None:
        self.rod, self.settings = rod, settings
        layout = layout_of(rod)
        self.model, self.force, self.rest = layout.model, layout.force, layout.rest
        self.no_control = layout.no_control
        self.limit = check_number("limit", limit, "above 0", lambda x: x > 0.0)
        self.loads = kernel_loads(rod, supports, loads, self.force)
        self.string = NO_STRING if string is None else string.kernel_string(rod, self.force)

    def begin(self, start: Path | Held | None) -> Array:
        """Return the state to begin from: rest, or the end of an earlier path."""
        if start is None:
            return self.rest
        # states are stored over the rod's length and largest stiffness
        same = start.rod is self.rod or (
            np.array_equal(start.rod.nodes, self.rod.nodes)
            and np.max(start.rod.EI) == np.max(self.rod.EI)
        )
        if len(start) == 0 or not same:
            raise InputError("start", f"{len(start)} states", "a path of this rod, not empty")
        return start.raw[-1]

    def outputs(self, count: int) -> dict[str, Any]:
        """Return arrays for the kernel to fill with `count` states."""
        n, size = self.rod.n_elements, self.rest.size
        return {
            "state": np.zeros((count, size)),
            "tangent": np.zeros(size + 1),
            "point": np.zeros((count, n, P, POINT_SLOTS)),
            "scalar": np.zeros((count, SCALAR_SLOTS)),
            "contact": np.zeros((count, MAX_CONTACTS, 2)),
            "react": np.zeros((count, n + 1, 3)),
            "count": np.zeros((count, 3), np.int64),
            "hist": np.zeros((self.settings.iterations, 2)),
        }

    def run(
        self,
        start: Array,
        targets: Array,
        state: Array,
        *,
        ctrl: Array | None = None,
        level: float = 0.0,
        mu: float = 0.0,
        careful: int = 0,
    ) -> tuple[int, int, int, float, dict[str, Any]]:
        """Call the kernel; return (status, reached, sign, path parameter, outputs)."""
        building.finish()
        out, set_ = self.outputs(targets.shape[0]), self.settings
        parameter = np.array([mu])
        status, reached, sign = walk(
            self.model,
            self.loads,
            self.string,
            targets,
            start,
            state,
            set_.predict,
            set_.tolerance,
            set_.iterations,
            set_.finest,
            careful,
            self.limit,
            ctrl is not None,
            self.no_control if ctrl is None else ctrl,
            level,
            parameter,
            *out.values(),
        )
        return status, reached, sign, float(parameter[0]), out

    def path(
        self,
        stop: Stop,
        controls: Array,
        out: dict[str, Any],
        reached: int,
        limits: tuple[int, ...] = (),
    ) -> Path:
        """Make the record of the states reached."""
        return from_kernel(self.rod, stop, self.force, controls, out, reached, limits)


def _finish(path: Path, strict: bool, what: str) -> Path:
    log = logging.getLogger(__name__)
    if log.isEnabledFor(logging.DEBUG):
        spent, steps = int(np.sum(path.iterations)), int(np.sum(path.substeps))
        told = what, len(path), path.stop.name.lower(), spent, steps
        log.debug("%s: %d states, %s; %d iterations in %d steps", *told)
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
    settings: Settings = Settings(),
    limit: float = 1.0,
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
    limit : float
        Stop before a bending strain exceeds this share of the reach of the law's table; a linear
        law has none.
    strict : bool
        Raise when the path stops early; else return what was reached, with `Path.stop`.

    Raises
    ------
    ConvergenceError
        The path stopped early; its `status` is the path reached.

    Notes
    -----
    A step that ends far from where the path was headed, or at which the tangent's determinant
    changes its sign, is cut down to `Settings.finest` before it is taken: a step too long lands on
    another branch. `Path.signs` tells where it turned all the same; see `critical_point`.

    Examples
    --------
    A strip bent into a full circle by an end couple, in one step:

    >>> from bowfem.rod import Force, Rod, clamp, follow
    >>> strip = Rod.straight(1.0, n_elements=4, EI=2.0)
    >>> ring = follow(strip, [clamp(0)], [Force(couple=2 * np.pi * 2.0)])
    >>> abs(ring.tip[-1]).round(9).tolist(), round(float(ring.turn[-1, -1]), 6)
    ([0.0, 0.0], 6.283185)
    """
    values = np.atleast_1d(check_numbers("factors", factors))
    if values.ndim != 1 or values.size == 0 or not np.all(np.isfinite(values)):
        raise InputError("factors", factors, "one or more finite load factors")
    engine = _Engine(rod, supports, loads, None, settings, limit)
    controls = np.zeros((values.size, 4))
    controls[:, 0] = values
    begin, state = np.zeros(4), engine.begin(start)
    if start is not None:
        begin[0] = start.factor[-1]
    turned = 1 if start is None else start.sign or 1
    careful = turned if settings.predict else 0
    status, reached, _, _, out = engine.run(begin, controls, state, careful=careful)
    stop = STOPS.get(status, Stop.NO_CONVERGENCE)
    return _finish(engine.path(stop, controls, out, reached), strict, "the load path")


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
    settings: Settings = Settings(),
    limit: float = 1.0,
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
        Stop before a bending strain exceeds this share of the reach of the law.

    Raises
    ------
    ConvergenceError
        The path stopped early; its `status` is the path reached.

    Examples
    --------
    A straight limb, braced by a shorter string than reaches its tip, then drawn:

    >>> from bowfem.rod import Rod, TautString, clamp, pull
    >>> limb = Rod.straight(0.6, n_elements=8, EI=40.0)
    >>> nock = [(0.0, 0.15), (0.0, 0.3), (0.0, 0.45)]
    >>> drawn = pull(limb, [clamp(0)], TautString(), nock, 0.58, begin=(0.0, 0.15, 0.62))
    >>> drawn.pull[:, 1].round(2).tolist()
    [5.16, 39.2, 66.55]
    """
    held = Pulling(rod, supports, string, loads=loads, settings=settings, limit=limit)
    return held.to(nock, length, begin=begin, start=start, strict=strict)


class Pulling:
    """One rod on its string, laid out once to be pulled again and again.

    Parameters
    ----------
    rod, supports, string, loads, settings, limit
        As in `pull`.
    """

    def __init__(
        self,
        rod: Rod,
        supports: Iterable[Support | Spring],
        string: TautString,
        *,
        loads: Iterable[Load] = (),
        settings: Settings = Settings(),
        limit: float = 1.0,
    ) -> None:
        self._engine = _Engine(rod, supports, loads, string, settings, limit)

    def to(
        self,
        nock: ArrayLike,
        length: ArrayLike,
        *,
        begin: tuple[float, float, float] = (0.0, 0.0, 0.0),
        start: Path | None = None,
        strict: bool = True,
    ) -> Path:
        """Pull on, as `pull` does."""
        return _finish(self.held(nock, length, begin=begin, start=start).path(), strict, "the pull")

    def held(
        self,
        nock: ArrayLike,
        length: ArrayLike,
        *,
        begin: tuple[float, float, float] = (0.0, 0.0, 0.0),
        start: Path | Held | None = None,
    ) -> Held:
        """Pull on, and leave the states as the kernels left them."""
        engine, rod = self._engine, self._engine.rod
        places = np.atleast_2d(check_numbers("nock", nock))
        natural = check_numbers("length", length)
        if places.ndim != 2 or places.shape[1] != 2 or places.shape[0] == 0:
            raise InputError("nock", places.shape, "one or more positions, of shape (n, 2)")
        if natural.shape not in ((), (1,), places.shape[:1]):
            raise InputError("length", natural.shape, f"a number or of shape ({places.shape[0]},)")
        controls = np.ones((places.shape[0], 4))
        first = np.ones(4)
        controls[:, 1:3] = (places - np.array(rod.origin)) / rod.length
        controls[:, 3] = natural / rod.length
        if not np.all(np.isfinite(controls)) or not np.all(controls[:, 3] > 0.0):
            raise InputError("nock, length", "given values", "finite, lengths above 0")
        state = engine.begin(start)
        if start is None:
            at = check_numbers("begin", begin)
            if at.shape != (3,) or not (np.all(np.isfinite(at)) and at[2] > 0.0):
                raise InputError("begin", begin, "finite x and y and a length above 0")
            first[1:3] = (at[:2] - np.array(rod.origin)) / rod.length
            first[3] = at[2] / rod.length
        else:
            first[1:3] = (start.nock[-1] - np.array(rod.origin)) / rod.length
            first[3] = start.string_length[-1] / rod.length
        status, reached, _, _, out = engine.run(first, controls, state)
        stop = STOPS.get(status, Stop.NO_CONVERGENCE)
        return Held(rod, stop, engine.force, controls, out, reached)
