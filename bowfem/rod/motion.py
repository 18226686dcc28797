"""Motion of a rod in time, with a string and a mass on its far end."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import GAUSS_W
from bowfem._kernels.inertia import linearised
from bowfem._kernels.motion import (
    BEYOND,
    FAILED,
    NOCK,
    NOCK_MOVING,
    NOCK_PUSH,
    NOCK_SPEED,
    REACH,
    STORED,
    TAUT,
    TIME,
    TOLD,
    move,
)
from bowfem._kernels.records import MAX_BORDER, MAX_CUTS, NODE
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod.engine import Settings, _Engine
from bowfem.rod.loads import Load, Spring, Support
from bowfem.rod.shape import Field, _field
from bowfem.rod.states import Path, Stop
from bowfem.rod.string import TautString

Array = NDArray[np.float64]

#: Share of high frequencies' amplitude that a step leaves, and Newton's tolerance.
RHO, TOLERANCE = 0.9, 1e-10
#: Most steps followed at once.
MOST = 200_000


@dataclass(frozen=True)
class Release:
    """The moment in which the mass that was carried leaves.

    Parameters
    ----------
    time, place, speed, tension : float
        s since it was let go; along its way, m and m/s; tension of the string, N.
    """

    time: float
    place: float
    speed: float
    tension: float


@dataclass(frozen=True, eq=False)
class Motion:
    """Hold a rod's motion; the first axis counts instants.

    Attributes
    ----------
    time : ndarray, shape (n,)
        s.
    nodes : ndarray, shape (n, n_elements + 1, 2)
        Position of the nodes, m.
    nock, speed, acceleration : ndarray, shape (n,)
        Of the string's far end along its way, m, m/s, m/s2; zero without a string.
    tension : ndarray, shape (n,)
        Of the string, N; zero while it is slack.
    energy : ndarray, shape (n, 4)
        Stored in the rod, stored in the string, of the moving rod, of what moves at the string's
        far end, J.
    table_share : ndarray, shape (n,)
        Largest bending strain over the end of the law's table; zero for a linear rod.
    release : Release or None
        When what was carried left; None where nothing did.
    iterations : int
        Newton iterations in all.
    stop : Stop
        Complete, or the limit of the law.
    """

    time: Array
    nodes: Array
    nock: Array
    speed: Array
    acceleration: Array
    tension: Array
    energy: Array
    table_share: Array
    release: Release | None
    iterations: int
    stop: Stop


class _Mover:
    """One rod with its masses, laid out for the kernels."""

    def __init__(
        self,
        path: Path,
        state: int,
        supports: Iterable[Support | Spring],
        mass: Field,
        string: TautString | None,
        loads: Iterable[Load],
        along: ArrayLike,
        tip_mass: float,
        nock_mass: float,
        carried: float,
    ) -> None:
        rod = path.rod
        self.engine = engine = _Engine(rod, supports, loads, string, Settings())
        self.force, self.length = engine.force, rod.length
        self.unit = rod.length / engine.force  # of mass, with time in s
        spread = _field("mass", mass, rod.stations, 0.0)
        self.mass = spread * GAUSS_W * np.diff(rod.nodes)[:, None] * self.unit
        given = {"tip_mass": tip_mass, "nock_mass": nock_mass, "carried": carried}
        for name, value in given.items():
            if not 0.0 <= value < np.inf:
                raise InputError(name, value, "at least 0 kg")
        if string is not None and not nock_mass + carried > 0.0:
            raise InputError("nock_mass, carried", nock_mass + carried, "above 0 kg together")
        self.masses = np.array([tip_mass, nock_mass + carried]) * self.unit
        self.controls, self.way = np.zeros(4), np.zeros(4)
        self.controls[0] = 1.0
        at = state % len(path)
        self.state = path.raw[at].copy()
        if string is not None:
            way = np.asarray(along, dtype=float)
            if way.shape != (2,) or not abs(np.hypot(*way) - 1.0) < 1e-9:
                raise InputError("along", along, "a direction (x, y) of length 1")
            self.controls[1:3] = (path.nock[at] - np.array(rod.origin)) / rod.length
            self.controls[3] = path.string_length[at] / rod.length
            self.way[1:3] = way
        self.offset = float(np.array(rod.origin) @ self.way[1:3])


def let_go(
    path: Path,
    supports: Iterable[Support | Spring],
    mass: Field,
    duration: float,
    *,
    state: int = -1,
    string: TautString | None = None,
    loads: Iterable[Load] = (),
    along: ArrayLike = (0.0, 1.0),
    tip_mass: float = 0.0,
    nock_mass: float = 0.0,
    carried: float = 0.0,
    after: float = np.inf,
    limit: float = np.inf,
    step: float = 4e-5,
) -> Motion:
    """Let a rod go from an equilibrium, at rest, and follow it.

    Parameters
    ----------
    path : Path
        Where it begins; what held it there and is not given again lets go.
    supports, loads
        What holds it and acts on it while it moves.
    mass : Field
        Mass per unstressed length, kg/m: a number, a function of arc length, or (n_elements, 4).
    duration, step : float
        How long, and step of time, s.
    state : int
        Which state of the path.
    string : TautString, optional
        The string of a path that `pull` made; it carries no pressure, and has no mass but that
        given to its ends. It must stretch (finite `EA`).
    along : array_like, shape (2,)
        Direction along which its far end is free to move.
    tip_mass, nock_mass, carried : float
        At the last node; at the string's far end, and carried there until it is no longer pushed,
        kg.
    after : float
        How long the motion is followed once that has left, s.
    limit : float
        Stop where a bending strain exceeds this share of the reach of the law.

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

    >>> from bowfem.rod import LineLoad, Rod, clamp, follow, let_go, pin
    >>> bar = Rod.straight(1.0, 1, EI=1e6, angle=np.pi / 2 - 1e-3)
    >>> rest = follow(bar, [clamp(0)])
    >>> fall = let_go(rest, [pin(0)], 2.0, 4.0, loads=[LineLoad(y=-2.0 * 9.81)], step=1e-3)
    >>> bool(fall.nodes[:, -1, 1].min() < -0.99)
    True
    """
    if not limit > 0.0:
        raise InputError("limit", limit, "above 0")
    if not after >= 0.0:
        raise InputError("after", after, "at least 0 s")
    if not 0.0 < step < np.inf or not step <= duration:
        raise InputError("step", step, "above 0 s, at most the duration")
    count = int(np.ceil(duration / step - 1e-9))
    if count > MOST:
        raise InputError("duration", duration, f"at most {MOST} steps")
    if string is not None and not np.isfinite(string.EA):
        raise InputError("EA", string.EA, "finite: a string in motion stretches")
    mover = _Mover(path, state, supports, mass, string, loads, along, tip_mass, nock_mass, carried)
    engine, rod = mover.engine, path.rod
    told = np.zeros((count + 1, TOLD))
    nodes = np.zeros((count + 1, rod.n_elements + 1, 2))
    left = np.zeros(TOLD)
    status, reached, iterations = move(
        engine.model,
        engine.loads,
        engine.string,
        mover.state,
        mover.controls,
        mover.way,
        mover.mass,
        mover.masses,
        carried * mover.unit,
        after,
        limit,
        step,
        RHO,
        TOLERANCE,
        engine.settings.iterations,
        told,
        nodes,
        left,
    )
    if status == FAILED:
        raise ConvergenceError(f"the motion was lost after {told[reached - 1, TIME]:.3g} s")
    told, nodes = told[:reached], nodes[:reached]
    length, energy = mover.length, mover.force * mover.length
    return Motion(
        time=told[:, TIME],
        nodes=np.array(rod.origin) + length * nodes,
        nock=mover.offset + length * told[:, NOCK],
        speed=length * told[:, NOCK_SPEED],
        acceleration=length * told[:, NOCK_PUSH],
        tension=mover.force * told[:, TAUT],
        energy=energy * told[:, STORED : NOCK_MOVING + 1],
        table_share=told[:, REACH],
        release=None
        if not left[TIME] > 0.0
        else Release(
            float(left[TIME]),
            float(mover.offset + length * left[NOCK]),
            float(length * left[NOCK_SPEED]),
            float(mover.force * left[TAUT]),
        ),
        iterations=int(iterations),
        stop=Stop.LIMIT if status == BEYOND else Stop.COMPLETE,
    )


def natural_frequencies(
    path: Path,
    supports: Iterable[Support | Spring],
    mass: Field,
    count: int = 4,
    *,
    state: int = -1,
    string: TautString | None = None,
    loads: Iterable[Load] = (),
    along: ArrayLike = (0.0, 1.0),
    tip_mass: float = 0.0,
    nock_mass: float = 0.0,
) -> Array:
    """Return the lowest natural frequencies about a stable equilibrium, Hz, rising.

    Parameters are those of `let_go`; fewer than `count` are returned where there are fewer masses.

    Raises
    ------
    InputError
        There is no mass, the rod is not held, or the state is not stable.
    """
    mover = _Mover(path, state, supports, mass, string, loads, along, tip_mass, nock_mass, 0.0)
    engine = mover.engine
    most = NODE * (path.rod.n_elements + MAX_CUTS) + 4 + MAX_BORDER
    K, M = np.zeros((most, most)), np.zeros((most, most))
    size = linearised(
        engine.model,
        engine.loads,
        engine.string,
        mover.state,
        mover.controls,
        mover.way,
        mover.mass,
        mover.masses,
        K,
        M,
    )
    # what has no mass follows: the flexibility of what has
    moving = np.flatnonzero(np.diag(M)[:size] > 0.0)
    if not moving.size:
        raise InputError("mass", mass, "above 0 somewhere")
    try:
        give = np.linalg.solve(K[:size, :size], np.eye(size)[:, moving])[moving]
    except np.linalg.LinAlgError:
        raise InputError("supports", supports, "enough to hold the rod") from None
    values, ways = np.linalg.eigh(M[np.ix_(moving, moving)])
    root = ways * np.sqrt(np.maximum(values, 0.0))
    squares = np.linalg.eigvalsh(root.T @ (0.5 * (give + give.T)) @ root)[::-1]
    if squares[-1] < -1e-9 * squares[0]:
        raise InputError("state", state, "a stable one")
    return 1.0 / (2.0 * np.pi * np.sqrt(squares[:count][squares[:count] > 1e-12 * squares[0]]))
