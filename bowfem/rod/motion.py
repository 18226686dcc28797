"""Motion of rods in time, with strings to one far end and a mass there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import GAUSS_W
from bowfem._kernels.inertia import linearised
from bowfem._kernels.motion import (
    BEYOND,
    DONE,
    END,
    END_PUSH,
    END_SPEED,
    FAILED,
    GIVEN,
    HELD,
    REACH,
    RULES,
    STORED,
    TAUT,
    TIME,
    TOLD,
    move,
)
from bowfem._kernels.records import MAX_BORDER, MAX_CUTS, NODE
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod._checks import Field, check_field, check_number, check_numbers, check_state
from bowfem.rod.branches import Branches
from bowfem.rod.engine import Settings, _Engine
from bowfem.rod.loads import Load, Spring, Support
from bowfem.rod.states import Path, Stop
from bowfem.rod.string import TautString

Array = NDArray[np.float64]

#: Share of high frequencies' amplitude that a step leaves, and Newton's tolerance.
RHO, TOLERANCE = 0.9, 1e-10
#: Most steps followed at once.
MOST = 200_000
#: Rows kept for a step, and more of them: one in which a string snaps is told in eight.
ROOM = 4, 100
STOPS = {DONE: Stop.COMPLETE, BEYOND: Stop.LIMIT, FAILED: Stop.NO_CONVERGENCE}


@dataclass(frozen=True, eq=False)
class MovingRod:
    """Say what of one rod moves.

    Parameters
    ----------
    path : Path
        Where it begins; what held it there and is not given again lets go.
    supports, loads
        What holds it and acts on it while it moves.
    mass : Field
        Mass per unstressed length, kg/m: a number, a function of arc length, or (n_elements, 4).
    state : int
        Which state of the path.
    string : TautString, optional
        The string of a path that `pull` made. It must stretch (finite `EA`), and has no mass but
        that given to its ends.
    along : array_like, shape (n, 2)
        Directions (x, y), one or two, in which the string's far end is free to move.
    root_mass, tip_mass : float
        At the first and the last node, kg.
    drag : Field
        Drag of the air over length and over the square of the speed across the rod, kg/m2; 0.
    tip_drag : float
        The same at the tip, whichever way it moves, kg/m.
    moments : ndarray, shape (n_branches, n_elements, 4), optional
        Moments in the viscous branches at the start, N m; none by default.
    """

    path: Path
    supports: Iterable[Support | Spring]
    mass: Field
    state: int = -1
    string: TautString | None = None
    loads: Iterable[Load] = ()
    along: ArrayLike = ((0.0, 1.0),)
    root_mass: float = 0.0
    tip_mass: float = 0.0
    drag: Field = 0.0
    tip_drag: float = 0.0
    moments: Array | None = None


@dataclass(frozen=True)
class Instant:
    """A moment of a motion.

    Parameters
    ----------
    time : float
        s since it was let go.
    place, speed : float
        Of the string's far end along the first direction, m and m/s.
    tension : float
        Of the (first) string, N.
    """

    time: float
    place: float
    speed: float
    tension: float


@dataclass(frozen=True, eq=False, repr=False)
class Motion:
    """Hold the motion of rods; the first axis counts instants.

    Attributes
    ----------
    time : ndarray, shape (n,)
        s.
    nodes : tuple of ndarray, shape (n, n_elements + 1, 2)
        Position of each rod's nodes, m.
    bending : tuple of ndarray, shape (n, n_elements, 4)
        Bending strain at each rod's stations, 1/m.
    nock, speed, acceleration : ndarray, shape (n, n_directions)
        Of the strings' far end along its ways, m, m/s, m/s2; zero without a string.
    tension : ndarray, shape (n, n_rods)
        Of the strings, N; zero while slack.
    support_force : ndarray, shape (n, n_rods, 2)
        Of all that holds each rod, N.
    energy : ndarray, shape (n, 7)
        In the rods, in the strings, of the moving rods, of what moves at the far end, in viscous
        branches; lost in these, and given to air and stop since the start, J.
    table_share : ndarray, shape (n,)
        Largest bending strain over the end of the law's table; zero for a linear rod.
    release, slap : Instant or None
        When what was carried left, and when the far end first met its stop.
    iterations : int
        Newton iterations in all.
    stop : Stop
        Complete, the limit of the law, or no convergence.
    """

    time: Array
    nodes: tuple[Array, ...]
    bending: tuple[Array, ...]
    nock: Array
    speed: Array
    acceleration: Array
    tension: Array
    support_force: Array
    energy: Array
    table_share: Array
    release: Instant | None
    slap: Instant | None
    iterations: int
    stop: Stop

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        kind, last = self.stop.name.lower(), float(self.time[-1])
        return f"Motion({self.time.size} instants, {last:.4g} s: {kind})"


class _Mover:
    """One rod with its masses, laid out for the kernels."""

    def __init__(self, given: MovingRod) -> None:
        path, string = given.path, given.string
        rod = path.rod
        self.rod = rod
        self.engine = engine = _Engine(rod, given.supports, given.loads, string, Settings())
        self.force, self.length = engine.force, rod.length
        self.unit = rod.length / engine.force  # of mass, with time in s
        lengths = GAUSS_W * np.diff(rod.nodes)[:, None]
        spread = check_field("mass", given.mass, rod.stations, 0.0) * lengths
        ends = [_mass("root_mass", given.root_mass), _mass("tip_mass", given.tip_mass)]
        self.mass = np.append(spread, ends) * self.unit
        air, tip = np.zeros(rod.EI.shape), _mass("tip_drag", given.tip_drag, "kg/m")
        if callable(given.drag) or np.any(given.drag):
            air = check_field("drag", given.drag, rod.stations, 0.0) * lengths
        self.drag = np.append(air, [0.0, tip]) * rod.length**2 / engine.force
        if not np.any(self.drag):  # the kernel then skips it
            self.drag = np.zeros(0)
        self.controls, self.ways = np.zeros(4), np.zeros((0, 2))
        self.controls[0] = 1.0
        at = check_state(given.state, len(path))
        self.state = path.raw[at].copy()
        self.nock = path.nock[at]
        if string is not None:
            if not np.isfinite(string.EA):
                raise InputError("EA", string.EA, "finite: a string in motion stretches")
            self.ways = np.atleast_2d(check_numbers("along", given.along))
            fits = self.ways.shape in ((1, 2), (2, 2))
            if not fits or not np.all(np.abs(np.hypot(*self.ways.T) - 1.0) < 1e-9):
                raise InputError("along", given.along, "one or two directions (x, y) of length 1")
            self.controls[1:3] = (self.nock - np.array(rod.origin)) / rod.length
            self.controls[3] = path.string_length[at] / rod.length

    def moments(self, given: MovingRod, branches: Branches) -> Array:
        """Return the branches' moments at the start, over the rod's own."""
        shape = (branches.share.size, *self.rod.EI.shape)
        if given.moments is None:
            return np.zeros(shape)
        values = check_numbers("moments", given.moments)
        if values.shape != shape or not np.all(np.isfinite(values)):
            raise InputError("moments", values.shape, f"finite, of shape {shape}")
        return values / (self.force * self.length)


def _mass(name: str, value: float, unit: str = "kg") -> float:
    return check_number(name, value, f"at least 0 {unit}", lambda x: 0.0 <= x < np.inf)


def _movers(rods: MovingRod | Sequence[MovingRod]) -> tuple[list[MovingRod], list[_Mover]]:
    given = [rods] if isinstance(rods, MovingRod) else list(rods)
    if len(given) not in (1, 2):
        raise InputError("rods", len(given), "one or two")
    movers = [_Mover(each) for each in given]
    if len(given) == 2 and (
        any(each.string is None for each in given) or movers[0].ways.shape != movers[1].ways.shape
    ):
        raise InputError("rods", "two", "each with a string, and as many directions of its end")
    return given, movers


def let_go(
    rods: MovingRod | Sequence[MovingRod],
    duration: float,
    *,
    nock_mass: float = 0.0,
    nock_drag: float = 0.0,
    carried: float = 0.0,
    clip: float = 0.0,
    stop: float = -np.inf,
    after: float = np.inf,
    limit: float = np.inf,
    branches: Branches | None = None,
    step: float = 4e-5,
    strict: bool = True,
) -> Motion:
    """Let a rod go from an equilibrium, at rest, or two whose strings end in one point.

    Parameters
    ----------
    rods : MovingRod or two of them
        What moves.
    duration, step : float
        How long, and step of time, s.
    nock_mass, carried : float
        At the strings' far end; carried there until it is pulled back by more than `clip`, kg.
    nock_drag : float
        Drag of the air at the far end over the square of its speed, kg/m.
    clip : float
        Force that holds what is carried, N.
    stop : float
        Where along its first way the far end is stopped, m; what it brings there is lost.
    after : float
        How long the motion is followed once what was carried has left, s.
    limit : float
        Stop where a bending strain exceeds this share of the reach of the law.
    branches : Branches, optional
        Viscous branches beside the bending law. With `MovingRod.moments`, the rods first come to
        rest with the far end held.
    strict : bool
        Raise when the motion is lost; else return what was found, with `Motion.stop`.

    Raises
    ------
    ConvergenceError
        A step was not found.

    Notes
    -----
    Rotary inertia is left out. Generalised alpha (Arnold and Bruels, Multibody Syst. Dyn. 18 (2007)
    185; from memory), in positions of the masses: order 2 in the step. Position of a station is a
    cubic between its element's ends: order 4 in the mesh.

    Examples
    --------
    A bar let go upright swings about its pinned end: it comes down with ``sqrt(3 g / L)``:

    >>> from bowfem.rod import LineLoad, MovingRod, Rod, clamp, follow, let_go, pin
    >>> bar = Rod.straight(1.0, 1, EI=1e6, angle=np.pi / 2 - 1e-3)
    >>> rest = follow(bar, [clamp(0)])
    >>> weight = LineLoad(y=-2.0 * 9.81)
    >>> fall = let_go(MovingRod(rest, [pin(0)], 2.0, loads=[weight]), 4.0, step=1e-3)
    >>> bool(fall.nodes[0][:, -1, 1].min() < -0.99)
    True
    """
    check_number("limit", limit, "above 0", lambda x: x > 0.0)
    check_number("after", after, "at least 0 s", lambda x: x >= 0.0)
    check_number("clip", clip, "at least 0 N", lambda x: 0.0 <= x < np.inf)
    check_number("stop", stop, "a place, m, or -inf", lambda x: x < np.inf)
    check_number("duration", duration, "above 0 s", lambda x: 0.0 < x < np.inf)
    check_number("step", step, "above 0 s, at most the duration", lambda x: 0.0 < x <= duration)
    count = int(np.ceil(duration / step - 1e-9))
    if count > MOST:
        raise InputError("duration", duration, f"at most {MOST} steps")
    given, movers = _movers(rods)
    total = _mass("nock_mass", nock_mass) + _mass("carried", carried)
    _mass("nock_drag", nock_drag, "kg/m")
    if movers[0].ways.size and not total > 0.0:
        raise InputError("nock_mass, carried", total, "above 0 kg together")
    kinds = Branches.none() if branches is None else branches
    first, pair = movers[0], (movers[0], movers[-1])
    sizes = np.array([each.length / first.length for each in movers])
    weights = np.array([each.force / first.force for each in movers]) * sizes
    start = _far_end(movers)
    rules = np.zeros(RULES)
    rules[:] = (
        step,
        RHO,
        TOLERANCE,
        carried * first.unit,
        clip / first.force,
        after,
        (stop - start[0]) / first.length if start.size else -np.inf,
        limit,
        (count - 1e-6) * step,
    )
    rows = ROOM[0] * count + ROOM[1]  # what happens within a step parts it
    told, left, slap = np.zeros((rows, TOLD)), np.zeros(TOLD), np.zeros(TOLD)
    shapes = [each.rod.EI.shape for each in pair]
    nodes = [np.zeros((rows, n + 1, 2)) for n, _ in shapes]
    bends = [np.zeros((rows, *shape)) for shape in shapes]
    moments = [
        each.moments(rod, kinds) for each, rod in zip(pair, (given[0], given[-1]), strict=True)
    ]
    status, reached, iterations = move(
        tuple(each.engine.model for each in pair),
        tuple(each.engine.loads for each in pair),
        tuple(each.engine.string for each in pair),
        np.array([each.controls for each in movers]),
        np.array([each.ways / size for each, size in zip(movers, sizes, strict=True)]),
        weights,
        tuple(each.mass for each in pair),
        tuple(each.drag for each in pair),
        tuple(each.state for each in pair),
        tuple(moments),
        np.array([kinds.share, kinds.time]),
        kinds.scale,
        total * first.unit,
        nock_drag * first.length**2 / first.force,
        rules,
        first.engine.settings.iterations,
        any(each.moments is not None for each in given),
        told,
        tuple(nodes),
        tuple(bends),
        left,
        slap,
    )
    if not reached:
        raise ConvergenceError("no rest to let go from: " + STOPS[status].value, STOPS[status])
    if status == FAILED and strict:
        raise ConvergenceError(f"the motion was lost after {told[reached - 1, TIME]:.3g} s")
    told, way, n = told[:reached], first.ways.shape[0], len(movers)
    length, energy = first.length, first.force * first.length
    forces = np.array([each.force for each in movers])

    def instant(row: Array) -> Instant | None:
        if not row[TIME] > 0.0:
            return None
        return Instant(
            float(row[TIME]),
            float(start[0] + length * row[END]),
            float(length * row[END_SPEED]),
            float(first.force * row[TAUT]),
        )

    return Motion(
        time=told[:, TIME],
        nodes=tuple(
            np.array(each.rod.origin) + each.length * at[:reached]
            for each, at in zip(movers, nodes, strict=False)
        ),
        bending=tuple(at[:reached] / each.length for each, at in zip(movers, bends, strict=False)),
        nock=start + length * told[:, END : END + way],
        speed=length * told[:, END_SPEED : END_SPEED + way],
        acceleration=length * told[:, END_PUSH : END_PUSH + way],
        tension=forces * told[:, TAUT : TAUT + n],
        support_force=forces[:, None] * told[:, HELD : HELD + 2 * n].reshape(reached, n, 2),
        energy=energy * told[:, STORED : GIVEN + 1],
        table_share=told[:, REACH],
        release=instant(left),
        slap=instant(slap),
        iterations=int(iterations),
        stop=STOPS[status],
    )


def _far_end(movers: Sequence[_Mover]) -> Array:
    """Return where the strings' far end is along its ways, read off the first rod."""
    return movers[0].ways @ movers[0].nock


def natural_frequencies(
    rods: MovingRod | Sequence[MovingRod], count: int = 4, *, nock_mass: float = 0.0
) -> Array:
    """Return the lowest natural frequencies about a stable equilibrium, Hz, rising.

    Parameters are those of `let_go`; fewer than `count` are returned where there are fewer masses.

    Raises
    ------
    InputError
        There is no mass, the rod is not held, or the state is not stable.
    """
    given, movers = _movers(rods)
    first, nq = movers[0], movers[0].ways.shape[0]
    sizes = [NODE * (each.rod.n_elements + MAX_CUTS) + 3 + MAX_BORDER for each in movers]
    K, M = np.zeros((sum(sizes) + nq,) * 2), np.zeros((sum(sizes) + nq,) * 2)
    used, at = [], 0
    for each, room in zip(movers, sizes, strict=True):
        k, m = np.zeros((room, room)), np.zeros((room, room))
        by_end, end = np.zeros((room, nq)), np.zeros((nq, nq))
        ratio = each.length / first.length
        weight = each.force / first.force * ratio
        n = linearised(
            each.engine.model,
            each.engine.loads,
            each.engine.string,
            each.state,
            each.controls,
            each.ways / ratio,
            each.mass[:-2].reshape(each.rod.EI.shape),
            each.mass[-2:],
            k,
            m,
            by_end,
            end,
        )
        own, ends = slice(at, at + n), slice(sum(sizes), sum(sizes) + nq)
        K[own, own], M[own, own] = weight * k[:n, :n], weight * m[:n, :n]
        K[own, ends] += weight * by_end[:n]
        K[ends, own] += weight * by_end[:n].T
        K[ends, ends] += weight * end
        used += [*range(at, at + n)]
        at += room
    for i in range(nq):
        M[sum(sizes) + i, sum(sizes) + i] = _mass("nock_mass", nock_mass) * first.unit
    used += range(sum(sizes), sum(sizes) + nq)
    K, M = K[np.ix_(used, used)], M[np.ix_(used, used)]
    # what has no mass follows: the flexibility of what has
    moving = np.flatnonzero(np.diag(M) > 0.0)
    if not moving.size:
        raise InputError("mass", given[0].mass, "above 0 somewhere")
    try:
        give = np.linalg.solve(K, np.eye(len(used))[:, moving])[moving]
    except np.linalg.LinAlgError:
        raise InputError("supports", given[0].supports, "enough to hold the rod") from None
    values, ways = np.linalg.eigh(M[np.ix_(moving, moving)])
    root = ways * np.sqrt(np.maximum(values, 0.0))
    squares = np.linalg.eigvalsh(root.T @ (0.5 * (give + give.T)) @ root)[::-1]
    if squares[-1] < -1e-9 * squares[0]:
        raise InputError("state", given[0].state, "a stable one")
    return 1.0 / (2.0 * np.pi * np.sqrt(squares[:count][squares[:count] > 1e-12 * squares[0]]))
