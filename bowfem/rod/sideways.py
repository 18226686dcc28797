"""Out of the plane: whether a planar state of a rod is stable sideways, and how it answers there.

The second variation of the energy about a state of a path, in three fields along the rod: roll
about its tangent, turn about its left normal, and shift out of the plane. Roll and turn are
polynomials of degree 4 on the path's own elements, shift follows from them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels.basis import (
    CUMUL,
    CUMUL_COEF,
    GAUSS_COEF,
    GAUSS_W,
    GAUSS_X,
    NODE_COEF,
    SHAPE,
    SLOPE,
    P,
)
from bowfem.errors import InputError
from bowfem.rod.shape import Field, _field
from bowfem.rod.states import Path

Array = NDArray[np.float64]
Held = Literal["shift", "roll", "turn"]

#: Share of an element below which what is left of it at a lift-off is no element of its own.
SLIVER = 1e-3
#: Steps of the search for the weakest shape at most, and error of it, as a share, allowed.
STEPS, EXACT = 120, 1e-9


@dataclass(frozen=True)
class SideResponse:
    """How a rod answers out of its plane, along the nodes of `Sideways`.

    Attributes
    ----------
    s : ndarray, shape (n_elements + 1,)
        Arc length of the nodes, m.
    shift, roll, turn : ndarray, shape (n_elements + 1,)
        Out of the plane, m, toward ``tangent x left normal``; about the tangent and about the left
        normal, rad.
    """

    s: Array
    shift: Array
    roll: Array
    turn: Array


class Sideways:
    """The second variation of a rod's energy out of its plane, about one state of a path.

    Parameters
    ----------
    path : Path
        Where the state is.
    side_stiffness, twist_stiffness : Field
        Stiffness against bending out of the plane, and against torsion, N m2: a number, a function
        of arc length, or an array (n_elements, 4) at the stations.
    state : int
        Which state of the path.
    first, last : iterable of str
        What is held at the ends: "shift", "roll", "turn"; by default a clamp and a free end.
    nock : float
        Stiffness with which the string's far end is held out of the plane, N/m: infinite is held,
        0 is free, as that of a braced bow.
    tip_force, tip_offset : tuple of float
        A dead force at the last node among the path's loads, N, and where it acts: along the
        tangent and along the left normal, m, as it matters to which place it keeps.

    Raises
    ------
    InputError
        A stiffness is not above zero, what is held is not one of the three, or the rod can move
        out of its plane without resistance.

    Notes
    -----
    With the curvature ``k`` of the state, the forces ``N``, ``Q``, ``M`` of rod and string
    together, stretch and shear ``v1``, ``v2``::

        tau = roll' - k turn,  mu = turn' + k roll,  shift' = -v1 turn + v2 roll
        2 Pi = int GJ tau^2 + B mu^2 - M (roll turn' - turn roll' + k (roll^2 + turn^2))
                   - (N v2 + Q v1) roll turn + N v1 turn^2 + Q v2 roll^2 ds  +  string

    from the rotation ``exp(omega)`` to second order (D); shear out of the plane is left out. The
    straight piece of string, of length `l` and direction `u`, tied `a` along the tangent and `b`
    along the normal, adds ``T (z - z_nock)^2 / l`` with ``z = shift + b roll - a turn``, and
    ``T ((a u_t + b u_n) (roll^2 + turn^2) - (a roll + b turn) (u_t roll + u_n turn))``. Where the
    string lies on the rod, in a groove, rod and string beyond the lift-off carry nothing together:
    there the rod ends, for what happens sideways.

    Examples
    --------
    A narrow strip, clamped, with a dead load at its tip (Michell 1899, Prandtl 1899: 4.0126):

    >>> from bowfem.rod import Force, Rod, Sideways, clamp, follow
    >>> strip = Rod.straight(1.0, 8, EI=1e9)
    >>> loaded = follow(strip, [clamp(0)], [Force(y=-1.0)])
    >>> round(Sideways(loaded, 1.0, 1.0).factor, 4)
    4.0126
    """

    def __init__(
        self,
        path: Path,
        side_stiffness: Field,
        twist_stiffness: Field,
        *,
        state: int = -1,
        first: Iterable[Held] = ("shift", "roll", "turn"),
        last: Iterable[Held] = (),
        nock: float = np.inf,
        tip_force: tuple[float, float] = (0.0, 0.0),
        tip_offset: tuple[float, float] = (0.0, 0.0),
    ) -> None:
        rod = path.rod
        stations = rod.stations
        B = _field("side_stiffness", side_stiffness, stations, 0.0)
        GJ = _field("twist_stiffness", twist_stiffness, stations, 0.0)
        if not nock >= 0.0:
            raise InputError("nock", nock, "at least 0 N/m")
        at = state % len(path)
        self.tension = float(path.tension[at])
        self._lay(path, at, B, GJ)
        self._assemble()
        self._hold(tuple(first), tuple(last))
        self._z = self._node(-1, "shift")
        if self.tension > 0.0:
            self._tie(path, at, nock)
        self._add_dead(self._seen(np.array(tip_force)), *tip_offset)

    def _lay(self, path: Path, at: int, B: Array, GJ: Array) -> None:
        """Read the state at Gauss points, as far as the string's lift-off."""
        rod = path.rod
        angle, k = path.angle[at], rod.curvature0 + path.bending[at]
        N, Q, M = path.axial[at], path.shear[at], path.moment[at]
        fields = np.stack(
            [k, 1.0 + rod.stretch * N, rod.shear * Q, N, Q, M, B, GJ, angle, rod.belly], axis=-1
        )
        nodes = rod.nodes
        contact = path.contact[at]
        inner = contact[~np.isnan(contact[:, 0]), 1]
        self.lift_off = float(np.min(inner)) if inner.size and self.tension > 0.0 else rod.length
        # the contact's outer end alone is the tie at the groove
        n = int(np.searchsorted(nodes, self.lift_off * (1.0 + 1e-12), side="right")) - 1
        n = min(n, rod.n_elements)
        rest = (
            0.0 if n == rod.n_elements else (self.lift_off - nodes[n]) / (nodes[n + 1] - nodes[n])
        )
        whole = fields[:n]
        if rest > SLIVER or n == 0:
            cut = np.stack([_lagrange(rest * x) for x in GAUSS_X]) @ fields[n].reshape(P, -1)
            whole = np.concatenate([whole, cut[None]])
            nodes = np.append(nodes[: n + 1], nodes[n] + rest * (nodes[n + 1] - nodes[n]))
        else:
            nodes = nodes[: n + 1]
        self.s, self.fields = nodes, whole
        self.h = np.diff(nodes)
        e = len(self.h) - 1
        at_end = 1.0 if e < n else rest
        powers = np.power(at_end, np.arange(P + 1))
        turns = path.raw[at, : rod.n_elements * (P + 1)].reshape(-1, P + 1)[e]
        since = CUMUL_COEF @ powers - CUMUL[0]
        formed = rod.angle0[e, 0] + (rod.nodes[e + 1] - rod.nodes[e]) * (rod.curvature0[e] @ since)
        self.end_angle = float(formed + turns @ (NODE_COEF @ powers))

    def _assemble(self) -> None:
        """Assemble elastic and geometric stiffness, dense, roll and turn of each node in turn."""
        k, v1, v2, N, Q, M, B, GJ = (self.fields[..., i, None] for i in range(8))
        h = self.h[:, None, None]
        value = np.broadcast_to(SHAPE, (len(self.h), P, P + 1))
        slope = SLOPE / h
        zero = np.zeros_like(value)

        def row(roll: Array, turn: Array) -> Array:
            return np.stack([roll, turn], axis=-1).reshape(len(self.h), P, 2 * (P + 1))

        roll, turn = row(value, zero), row(zero, value)
        droll, dturn = row(slope, zero), row(zero, slope)
        tau, mu = droll - k * turn, dturn + k * roll
        weight = GAUSS_W[None, :, None] * h

        def summed(*terms: tuple[Array, Array, Array]) -> Array:
            local = np.zeros((len(self.h), 2 * (P + 1), 2 * (P + 1)))
            for factor, one, two in terms:
                half = np.einsum("egi,egj->eij", weight * factor * one, two)
                local += 0.5 * (half + half.transpose(0, 2, 1))
            size = 2 * (P * len(self.h) + 1)
            total = np.zeros((size, size))
            for e, each in enumerate(local):
                at = 2 * P * e
                total[at : at + each.shape[0], at : at + each.shape[0]] += each
            return total

        self.elastic = summed((GJ, tau, tau), (B, mu, mu))
        self.geometric = summed(
            (-M, roll, dturn),
            (M, turn, droll),
            (-M * k, roll, roll),
            (-M * k, turn, turn),
            (-(N * v2 + Q * v1), roll, turn),
            (N * v1, turn, turn),
            (Q * v2, roll, roll),
        )
        size = self.elastic.shape[0]
        # shift at each node, as a row on roll and turn
        rows = np.zeros((len(self.h) + 1, size))
        each = np.sum(weight * (v2 * roll - v1 * turn), axis=1)
        for e, part in enumerate(each):
            rows[e + 1 :, 2 * P * e : 2 * P * e + part.size] += part
        self._shift = rows
        self._twist = np.zeros(size)
        for e, part in enumerate(np.sum(weight * GJ * tau, axis=1)):
            self._twist[2 * P * e : 2 * P * e + part.size] += part

    def _node(self, end: int, name: Held) -> Array:
        """Return the row that reads a field at the first (0) or last (-1) node."""
        if name == "shift":
            return self._shift[end]
        row = np.zeros(self.elastic.shape[0])
        row[(0 if end == 0 else row.size - 2) + (name == "turn")] = 1.0
        return row

    def _hold(self, first: tuple[Held, ...], last: tuple[Held, ...]) -> None:
        """Find the motions that the supports leave."""
        rows = []
        for end, names in ((0, first), (-1, last)):
            for name in names:
                if name not in ("shift", "roll", "turn"):
                    raise InputError("first, last", name, "shift, roll or turn")
                if (end, name) != (0, "shift"):
                    rows.append(self._node(end, name))
        if "shift" not in first:
            raise InputError("first", first, "shift among them: it is counted from there")
        if "shift" in last:
            held = np.stack(rows)
            _, size, basis = np.linalg.svd(held)
            self.free = basis[int(np.sum(size > 1e-12)) :].T
        else:  # roll and turn of nodes alone
            size = self.elastic.shape[0]
            fixed = np.any(np.array(rows).reshape(-1, size) != 0.0, axis=0)
            self.free = np.eye(size)[:, ~fixed]
        inside = self.free.T @ self.elastic @ self.free
        try:
            pivots = np.diag(np.linalg.cholesky(inside)) ** 2
        except np.linalg.LinAlgError:
            pivots = np.zeros(1)
        if np.min(pivots) <= 1e-12 * np.max(np.abs(inside)):
            raise InputError("first, last", (first, last), "enough to hold the rod sideways")

    def _tie(self, path: Path, at: int, nock: float) -> None:
        """Add the straight piece of string."""
        way = path.nock[at] - path.leaves[at]
        length = float(np.hypot(*way))
        along, across = self._seen(path.leaves[at] - self._end_position(path, at)).tolist()
        u, T = self._seen(way / length), self.tension
        roll, turn = self._node(-1, "roll"), self._node(-1, "turn")
        z = self._node(-1, "shift") + across * roll - along * turn
        spring = T / length
        spring = spring if nock == np.inf else spring * nock / (spring + nock)
        self.geometric += spring * np.outer(z, z)
        self._add_dead(T * u, along, across)
        self._off_centre = spring * z + T * (u[1] * roll - u[0] * turn)
        self._z = z

    def _seen(self, vector: Array) -> Array:
        """Return a vector of the plane along the end's tangent and its left normal."""
        c, s = np.cos(self.end_angle), np.sin(self.end_angle)
        return np.array([[c, s], [-s, c]]) @ vector

    def _end_position(self, path: Path, at: int) -> Array:
        """Position of the last node, m."""
        e = len(self.h) - 1
        angle, v1, v2 = (self.fields[e, :, i] for i in (8, 1, 2))
        c, s = np.cos(angle), np.sin(angle)
        tangent = np.stack([c * v1 - s * v2, s * v1 + c * v2], axis=-1)
        return path.nodes[at, e] + self.h[e] * (GAUSS_W @ tangent)

    def _add_dead(self, force: Array, along: float, across: float) -> None:
        """Add what a force that keeps its direction does, from its place in the end's frame."""
        roll, turn = self._node(-1, "roll"), self._node(-1, "turn")
        one = np.outer(along * roll + across * turn, force[0] * roll + force[1] * turn)
        self.geometric -= 0.5 * (one + one.T)
        arm = along * force[0] + across * force[1]
        self.geometric += arm * (np.outer(roll, roll) + np.outer(turn, turn))

    @cached_property
    def _weakest(self) -> tuple[float, Array]:
        """Largest share of the elastic energy that the forces take, and the shape it is in.

        Lanczos' method, all vectors kept orthogonal in the elastic energy, from a shape that leaves
        out none: a cantilever's under many forces.
        """
        K, G = (self.free.T @ each @ self.free for each in (self.elastic, self.geometric))
        inverse = np.linalg.inv(K)
        size = len(K)
        vector = inverse @ np.cos(0.7 * np.arange(size))
        basis, found, before = np.zeros((min(size, STEPS), size)), np.zeros((2, STEPS)), np.inf
        energy = np.zeros_like(basis)
        count, taken, mixed = 0, 0.0, np.zeros((0, 1))
        for step in range(len(basis)):
            for _ in range(2):  # twice is enough
                vector = vector - basis[:step].T @ (energy[:step] @ vector)
            norm = np.sqrt(vector @ K @ vector)
            if not norm > 0.0:
                break
            basis[step], energy[step] = vector / norm, K @ (vector / norm)
            pulled = G @ basis[step]
            found[0, step] = -basis[step] @ pulled
            found[1, step] = norm
            vector = -(inverse @ pulled)
            count = step + 1
            along = np.diag(found[0, :count]) + sum(
                np.diag(found[1, 1:count], way) for way in (-1, 1)
            )
            shares, mixed = np.linalg.eigh(along)
            taken = float(shares[-1])
            # what is left of the residual, by the last component of the Ritz vector
            rest = vector - basis[:count].T @ (energy[:count] @ vector)
            error = abs(mixed[-1, -1]) * np.sqrt(max(rest @ K @ rest, 0.0))
            if count > 4 and error <= EXACT * abs(shares).max() and abs(taken - before) <= error:
                break
            before = taken
        return taken, self.free @ (basis[:count].T @ mixed[:, -1])

    @property
    def factor(self) -> float:
        """All forces times this number, at this shape, and the rod gives way sideways; may be inf.

        At 1 it does; near 1 the number is exact, away from it an estimate.
        """
        most = self._weakest[0]
        return 1.0 / most if most > 0.0 else np.inf

    @property
    def left(self) -> float:
        """Share of the elastic stiffness left in the weakest shape, below 0 where it gives way."""
        return 1.0 - self._weakest[0]

    @cached_property
    def weakest(self) -> SideResponse:
        """The shape in which the rod is weakest, its largest shift 1 m (or roll 1 rad)."""
        found = self._read(self._weakest[1])
        most = found.shift[np.argmax(np.abs(found.shift))] or np.max(np.abs(found.roll))
        return SideResponse(found.s, found.shift / most, found.roll / most, found.turn / most)

    def _read(self, x: Array) -> SideResponse:
        return SideResponse(self.s, self._shift @ x, x[0 :: 2 * P], x[1 :: 2 * P])

    def _vector(self, load: Array) -> Array:
        K = self.free.T @ (self.elastic + self.geometric) @ self.free
        return np.asarray(self.free @ np.linalg.solve(K, self.free.T @ load), dtype=float)

    def _solve(self, load: Array) -> SideResponse:
        return self._read(self._vector(load))

    def push(self, force: float) -> SideResponse:
        """Answer to a force out of the plane, N, where the string leaves, or at the last node."""
        return self._solve(force * self._z)

    def give(self, force: float, *, loaded: bool = True) -> float:
        """Return how far that place moves under such a force, m, loaded or as if it were not."""
        if loaded:
            return float(self._z @ self._vector(force * self._z))
        K = self.free.T @ self.elastic @ self.free
        z = self.free.T @ self._z
        return float(force * z @ np.linalg.solve(K, z))

    def off_centre(self, offset: float) -> SideResponse:
        """Answer to a string that leaves the rod beside its middle by `offset`, m.

        Raises
        ------
        InputError
            There is no string.
        """
        if not self.tension > 0.0:
            raise InputError("offset", offset, "of a rod with a taut string")
        return self._solve(-offset * self._off_centre)

    def twisted(self, rate: float) -> SideResponse:
        """Answer to a rod formed with a twist all along, rad/m."""
        return self._solve(rate * self._twist)


def _lagrange(x: float) -> Array:
    """Values of the Gauss points' polynomials at a place in an element, shape (4,)."""
    return GAUSS_COEF @ np.power(x, np.arange(P))
