"""Frames: rods joined at their ends, rigidly, by hinges or by springs.

Each rod keeps its own narrow band. What the rods ask of the joints, forces and their slopes, is
condensed to the ends, and the joints are moved until nothing is left over.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.inertia import linearised
from bowfem._kernels.newton import CONVERGED
from bowfem._kernels.records import MAX_BORDER, MAX_CUTS, NODE, Loads
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod._checks import check_number, check_numbers
from bowfem.rod.engine import Settings, _Engine
from bowfem.rod.loads import COMPONENTS, Component, Load
from bowfem.rod.shape import Rod
from bowfem.rod.states import Path, Stop, joined

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Rods whose ends at a joint lie further apart than this share of their lengths do not meet.
APART = 1e-9
#: Newton's iterations at the joints in a step, the largest move of one, rad and lengths of the
#: frame, and the smallest part of a step that is tried.
ITERATIONS, MOST, FINEST = 25, 0.3, 1.0 / 1024
#: What is left over at the joints, as a share of the largest end force, or of EI over the length
#: squared, once a state counts as found.
LEFT = 1e-10


@dataclass(frozen=True)
class Joint:
    """Where ends of rods meet, or where one is held.

    Parameters
    ----------
    ends : sequence of (int, int)
        Number of each rod, and 0 for its first node or -1 for its last.
    turns : {"together", "free"}
        Whether the ends turn as one, or each by itself, as round a pin.
    stiffness : float
        With "free": of a spring between each end and the first one, N m/rad.
    holds : sequence of {"x", "y", "turn"}
        What a support holds.
    x, y, couple : float
        Load on the joint, N and N m, times the load factor; the couple on its first end.
    """

    ends: Sequence[tuple[int, int]]
    turns: str = "together"
    stiffness: float = 0.0
    holds: Sequence[Component] = ()
    x: float = 0.0
    y: float = 0.0
    couple: float = 0.0


@dataclass(frozen=True, eq=False)
class FramePath:
    """Hold the equilibrium states of a frame; the first axis counts n of them.

    Attributes
    ----------
    factor : ndarray, shape (n,)
        Load factor.
    rods : tuple of Path
        Each rod's states.
    unstable : ndarray of int, shape (n,)
        In how many independent ways each state would leave its equilibrium: 0 for a stable one.
    iterations : ndarray of int, shape (n,)
        Newton's iterations at the joints.
    stop : Stop
        Why there are no more.
    """

    factor: Array
    rods: tuple[Path, ...]
    unstable: NDArray[np.int64]
    iterations: NDArray[np.int64]
    stop: Stop

    def __len__(self) -> int:
        """Return the number of states."""
        return len(self.factor)


class Frame:
    """Rods joined at their ends.

    Parameters
    ----------
    rods : sequence of Rod
        Each where it stands unloaded (`Rod.origin`, angles). An end in no joint is free.
    joints : sequence of Joint
        How they are joined and held.
    loads : mapping of int to loads, optional
        On the rods, by their number; those of joints stand with these.

    Raises
    ------
    InputError
        A joint names what there is not, ends that do not meet, or an end twice.

    Examples
    --------
    A right angle of two rods, its foot held, pushed at the corner:

    >>> from bowfem.rod import Frame, Joint, Rod
    >>> post = Rod.straight(1.0, 4, EI=1.0, EA=1e4, angle=np.pi / 2)
    >>> beam = Rod.straight(1.0, 4, EI=1.0, EA=1e4, origin=(0.0, 1.0))
    >>> foot = Joint([(0, 0)], holds=("x", "y", "turn"))
    >>> corner = Joint([(0, -1), (1, 0)], x=3e-3)
    >>> end = Joint([(1, -1)], holds=("x", "y"))
    >>> bent = Frame([post, beam], [foot, corner, end]).follow([1.0])
    >>> bool(bent.rods[0].tip[0, 0] > 0.0), bent.unstable.tolist()
    (True, [0])
    """

    def __init__(
        self,
        rods: Sequence[Rod],
        joints: Sequence[Joint],
        loads: Mapping[int, Iterable[Load]] | None = None,
        settings: Settings = Settings(),  # noqa: B008 - frozen
    ) -> None:
        self.rods, self.joints = tuple(rods), tuple(joints)
        if not self.rods or not all(isinstance(rod, Rod) for rod in self.rods):
            raise InputError("rods", rods, "one or more rods")
        given = {} if loads is None else dict(loads)
        for number in given:
            if number not in range(len(self.rods)):
                raise InputError("loads", number, f"a rod's number, below {len(self.rods)}")
        self._engines = [
            _Engine(rod, (), tuple(given.get(i, ())), None, settings, 1.0)
            for i, rod in enumerate(self.rods)
        ]
        self._lay_out()

    def _lay_out(self) -> None:
        """Give numbers to the unknowns: each joint's place, and its turn or that of each end."""
        self._ends: list[list[tuple[int, Ints]]] = [[] for _ in self.rods]  # node, unknowns
        held: list[int] = []
        springs: list[tuple[int, int, float]] = []
        load, count = [], 0
        for joint in self.joints:
            ends = [self._end(end) for end in joint.ends]
            if not ends:
                raise InputError("ends", joint.ends, "one or more ends of rods")
            if joint.turns not in ("together", "free"):
                raise InputError("turns", joint.turns, "'together' or 'free'")
            stiffness = check_number("stiffness", joint.stiffness, "at least 0", lambda k: k >= 0.0)
            meet = np.array([self.rods[i].position0[node] for i, node in ends])
            size = max(self.rods[i].length for i, _ in ends)
            if np.max(np.abs(meet - meet[0])) > APART * size:
                raise InputError("ends", joint.ends, "ends that meet")
            free = joint.turns == "free"
            for k, (i, node) in enumerate(ends):
                turn = count + 2 + (k if free else 0)
                if any(each == node for each, _ in self._ends[i]):
                    raise InputError("ends", (i, node), "in one joint alone")
                self._ends[i].append((node, np.array([count, count + 1, turn])))
                if free and k and stiffness > 0.0:
                    springs.append((count + 2, turn, stiffness))
            turns = len(ends) if free else 1
            for name in joint.holds:
                if name not in COMPONENTS:
                    raise InputError("holds", name, "x, y or turn")
                at = COMPONENTS[name]
                held += range(count + at, count + at + (turns if at == 2 else 1))
            values = [joint.x, joint.y, joint.couple, *[0.0] * (turns - 1)]
            load += [check_number("load", value) for value in values]
            count += 2 + turns
        for i, (rod, ends) in enumerate(zip(self.rods, self._ends, strict=True)):
            if len(ends) == 2 and not np.all(rod.stretch > 0.0):
                allowed = "finite, of a rod joined at both ends: its thrust is not known else"
                raise InputError(f"rods[{i}].EA", np.inf, allowed)
        self._load, self._springs = np.array(load), springs
        self._free = np.setdiff1d(np.arange(count), held)
        self.length = max(rod.length for rod in self.rods)
        self._unit = max(each.force for each in self._engines)

    def _end(self, end: tuple[int, int]) -> tuple[int, int]:
        try:
            number, node = end
        except (TypeError, ValueError):
            raise InputError("ends", end, "pairs of a rod's number and 0 or -1") from None
        if number not in range(len(self.rods)) or node not in (0, -1):
            raise InputError("ends", end, "pairs of a rod's number and 0 or -1")
        return int(number), 0 if node == 0 else self.rods[number].n_elements

    def follow(
        self, factors: ArrayLike = (1.0,), *, start: FramePath | None = None, strict: bool = True
    ) -> FramePath:
        """Follow equilibrium through given load factors.

        Parameters
        ----------
        factors : array_like, shape (n,)
            In order, from zero or from the end of `start`.
        start : FramePath, optional
            Go on from its last state.
        strict : bool
            Raise when the path stops early; else return what was reached.

        Raises
        ------
        ConvergenceError
            The path stopped early; its `status` is the path reached.

        Notes
        -----
        Newton's method on the joints. In an iteration each rod goes with its ends from where they
        were to where they are to be, in steps of its own where it needs them; its slope by its ends
        is the Schur complement of its tangent (exact). States are stable where that of rods with
        held ends and of the joints are (Haynsworth's inertia theorem; from memory).
        """
        values = np.atleast_1d(check_numbers("factors", factors))
        if values.ndim != 1 or values.size == 0:
            raise InputError("factors", factors, "one or more finite load factors")
        now = _State.at_rest(self) if start is None else _State.last(self, start)
        found: list[_State] = []
        stop = Stop.COMPLETE
        for goal in values:
            begin, done, step = now.factor, 0.0, 1.0
            while done < 1.0 and stop is Stop.COMPLETE:
                share = min(1.0, done + step)
                ahead = self._newton(now, begin + share * (float(goal) - begin))
                if ahead is None:
                    step *= 0.5
                    if step < FINEST:
                        stop = Stop.NO_CONVERGENCE
                    continue
                now, done, step = ahead, share, 2.0 * step
            if stop is not Stop.COMPLETE:
                break
            found.append(now)
        path = FramePath(
            np.array([each.factor for each in found]),
            tuple(joined([each.paths[i] for each in found]) for i in range(len(self.rods)))
            if found
            else (),
            np.array([each.unstable for each in found], dtype=np.int64),
            np.array([each.iterations for each in found], dtype=np.int64),
            stop,
        )
        if strict and stop is not Stop.COMPLETE:
            raise ConvergenceError(f"the frame's path stopped: {stop.value}", status=path)
        return path

    def _newton(self, start: _State, factor: float) -> _State | None:
        """Find the state at a load factor from another; None where it is not found."""
        now = self._moved(start, factor, start.joints)
        for iteration in range(1, ITERATIONS + 1):
            if now is None:
                return None
            parts = [self._end_slopes(i, raw, factor) for i, raw in enumerate(now.raws)]
            slope, inner = self._assembled(parts)
            left, largest = self._left(now.paths, now.joints, factor)
            if np.max(np.abs(left), initial=0.0) <= LEFT * max(largest, 1.0):
                least = np.linalg.eigvalsh(0.5 * (slope + slope.T)) if left.size else np.ones(1)
                unstable = inner + int(np.sum(least < 0.0))
                return replace(now, iterations=iteration, unstable=unstable)
            try:
                way = np.linalg.solve(slope, left)
            except np.linalg.LinAlgError:
                return None
            way *= min(1.0, MOST / max(float(np.max(np.abs(way))), 1e-300))
            joints = now.joints.copy()
            joints[self._free] += way
            now = self._moved(now, factor, joints)
        return None

    def _moved(self, start: _State, factor: float, joints: Array) -> _State | None:
        """Take every rod from a state to other ends and load factor; None where one gives way."""
        raws, paths = [], []
        for i, engine in enumerate(self._engines):
            held = self._held(i, start.joints, joints, start.factor, factor)
            own = engine.loads
            engine.loads = held
            try:
                target = np.array([[1.0, 0.0, 0.0, 0.0]])
                status, reached, _, _, out = engine.run(np.zeros(4), target, start.raws[i])
            finally:
                engine.loads = own
            if status != CONVERGED or reached != 1:
                return None
            controls = np.array([[factor, 0.0, 0.0, 0.0]])
            paths.append(engine.path(Stop.COMPLETE, controls, out, 1))
            raws.append(out["state"][0])
        return _State(factor, joints, raws, paths, 0, 0)

    def _held(self, i: int, before: Array, after: Array, low: float, high: float) -> Loads:
        """Return a rod's loads, from one state to another as the kernels' factor goes to 1."""
        own, length = self._engines[i].loads, self.rods[i].length

        def part(values: Array) -> Array:
            return np.stack([values[0] + low * values[1], (high - low) * values[1]])

        fixed, value = own.fixed.copy(), np.zeros_like(own.value)
        scale = self.length * np.array([1.0, 1.0, 0.0]) / length + np.array([0.0, 0.0, 1.0])
        for node, at in self._ends[i]:
            fixed[node] = 1
            value[0, node] = before[at] * scale
            value[1, node] = (after[at] - before[at]) * scale
        return own._replace(
            dead=part(own.dead),
            follower=part(own.follower),
            line=part(own.line),
            pressure=part(own.pressure),
            fixed=fixed,
            value=value,
        )

    def _end_slopes(self, i: int, raw: Array, factor: float) -> tuple[Array, int]:
        """Return how a rod's end forces go with its ends, and its own unstable ways, ends held."""
        engine = self._engines[i]
        n = self.rods[i].n_elements
        room = NODE * (n + MAX_CUTS) + 3 + MAX_BORDER
        K, M = np.zeros((room, room)), np.zeros((room, room))
        controls = np.array([factor, 0.0, 0.0, 0.0])
        size = linearised(
            engine.model,
            engine.loads,
            engine.string,
            raw,
            controls,
            np.zeros((0, 2)),
            np.zeros(self.rods[i].EI.shape),
            np.zeros(2),
            K,
            M,
            np.zeros((room, 0)),
            np.zeros((0, 0)),
        )
        K = K[:size, :size]
        ends = np.concatenate([NODE * node + np.arange(3) for node, _ in self._ends[i]] or [[]])
        ends = ends.astype(np.int64)
        inner = np.setdiff1d(np.arange(size), ends)
        own = K[np.ix_(inner, inner)]
        between = K[np.ix_(inner, ends)]
        schur = K[np.ix_(ends, ends)] - between.T @ np.linalg.solve(own, between)
        negative = int(np.sum(np.linalg.eigvalsh(0.5 * (own + own.T)) < 0.0)) - 2 * n
        return schur, negative

    def _assembled(self, parts: list[tuple[Array, int]]) -> tuple[Array, int]:
        """Return the joints' stiffness, lengths and turns over the frame's units; unstable ways."""
        count = self._load.size
        whole = np.zeros((count, count))
        for i, (schur, _) in enumerate(parts):
            if not self._ends[i]:
                continue
            at: Ints = np.concatenate([unknowns for _, unknowns in self._ends[i]])
            ratio = self.length / self.rods[i].length
            scale = np.tile([ratio, ratio, 1.0], len(self._ends[i]))
            energy = self._engines[i].force * self.rods[i].length / (self._unit * self.length)
            np.add.at(whole, np.ix_(at, at), energy * scale[:, None] * schur * scale)
        for a, b, stiffness in self._springs:
            k = stiffness / (self._unit * self.length)
            whole[a, a] += k
            whole[b, b] += k
            whole[a, b] -= k
            whole[b, a] -= k
        return whole[np.ix_(self._free, self._free)], sum(negative for _, negative in parts)

    def _left(self, paths: list[Path], joints: Array, factor: float) -> tuple[Array, float]:
        """Return what loads leave over at the joints, over the frame's units, and the largest."""
        scale = np.array([1.0, 1.0, 1.0 / self.length]) / self._unit
        left = np.zeros(self._load.size)
        largest = 0.0
        for i, path in enumerate(paths):
            for node, at in self._ends[i]:
                force = path.reaction[0, node] * scale
                left[at] -= force
                largest = max(largest, float(np.max(np.abs(force))) * self._unit)
        start = 0
        for joint in self.joints:
            turns = len(joint.ends) if joint.turns == "free" else 1
            left[start : start + 3] += factor * self._load[start : start + 3] * scale
            start += 2 + turns
        for a, b, stiffness in self._springs:
            couple = stiffness * (joints[b] - joints[a]) * scale[2]
            left[a] += couple
            left[b] -= couple
        return left[self._free], largest / self._unit


@dataclass(frozen=True, eq=False)
class _State:
    """One state: joints over the frame's length and in rad, rods as the kernels and we see them."""

    factor: float
    joints: Array
    raws: list[Array]
    paths: list[Path]
    iterations: int
    unstable: int

    @classmethod
    def at_rest(cls, frame: Frame) -> _State:
        rest = [engine.rest for engine in frame._engines]
        return cls(0.0, np.zeros(frame._load.size), rest, [], 0, 0)

    @classmethod
    def last(cls, frame: Frame, path: FramePath) -> _State:
        if len(path) == 0 or tuple(each.rod for each in path.rods) != frame.rods:
            raise InputError("start", path, "a path of this frame, not empty")
        joints = np.zeros(frame._load.size)
        for i, each in enumerate(path.rods):
            for node, at in frame._ends[i]:
                joints[at[:2]] = (each.nodes[-1, node] - each.rod.position0[node]) / frame.length
                joints[at[2]] = each.turn[-1, node]
        raws = [each.raw[-1] for each in path.rods]
        return cls(float(path.factor[-1]), joints, raws, list(path.rods), 0, 0)
