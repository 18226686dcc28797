"""Out of the plane: whether a planar state of a rod is stable sideways, and how it answers there.

The second variation of the energy about a state of a path, in three fields along the rod: roll
about its tangent, turn about its left normal, and shift out of the plane. Roll and turn are
polynomials of degree 4 on the path's own elements, shift follows from them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels.basis import CUMUL, CUMUL_COEF, GAUSS_COEF, GAUSS_W, GAUSS_X, NODE_COEF, P
from bowfem._kernels.sideways import LOCAL, NEXT, solve, states, weakest
from bowfem.errors import InputError
from bowfem.rod._checks import Field, check_field
from bowfem.rod.states import Path

Array = NDArray[np.float64]
Held = Literal["shift", "roll", "turn"]

#: Share of an element below which what is left of it at a lift-off is no element of its own.
SLIVER = 1e-3
#: What can be held, in the kernel's order, and the least stiffness of a rod so held, as a share of
#: its largest entry.
ENDS = (("first", "roll"), ("first", "turn"), ("last", "roll"), ("last", "turn"), ("last", "shift"))
HOLDS = 1e-12


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
    loop : float
        What the loop adds to the tie, m: a loop whose legs grip the nock and join at a height `h`
        holds it against roll as ``T h``, one that slips round the back of a rod of half width `c`
        lets it go as ``-T c^2 / h``; 0 is a string tied to a point.
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
        loop: float = 0.0,
        tip_force: tuple[float, float] = (0.0, 0.0),
        tip_offset: tuple[float, float] = (0.0, 0.0),
    ) -> None:
        at = np.array([state % len(path)])
        held = _held({"first": tuple(first), "last": tuple(last)})
        laid = _Laid.of(path, at, side_stiffness, twist_stiffness, nock, loop)
        angle = float(laid.angle[0])
        turned = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        end = laid.end + _dead(turned @ np.array(tip_force), *tip_offset)
        solved = _Solved(laid, held, end)
        self.tension, self.lift_off = float(path.tension[at[0]]), float(laid.lift_off[0])
        self.s = np.append(0.0, np.cumsum(solved.length))
        self._solved, self._laid, self._held = solved, laid, held
        holds = solved.K.copy()
        holds[:, 0] -= HOLDS * np.max(np.abs(solved.K))
        if self._answer(holds, np.zeros(solved.size), tied=False)[1]:
            raise InputError("first, last", (first, last), "enough to hold the rod sideways")

    @property
    def matrices(self) -> tuple[Array, Array]:
        """Elastic and geometric stiffness, each (n, n), roll and turn of each node in turn.

        The string's spring is in; an unknown that is held has 1 on the elastic diagonal. A held
        shift is not in them.
        """
        found, size = [], self._solved.size
        for band in (self._solved.K, self._solved.G):
            one = np.zeros((size, size))
            for d in range(LOCAL):
                one += np.diag(band[d:, d], -d) + (np.diag(band[d:, d], d) if d else 0.0)
            found.append(one)
        z = self._solved.border[0]
        found[1] += np.outer(z, z) / self._solved.flex[0]
        return found[0], found[1]

    @property
    def factor(self) -> float:
        """All forces times this number, at this shape, and the rod gives way sideways; may be inf.

        At 1 it does; near 1 the number is exact, away from it an estimate.
        """
        return _factor(self._solved.share)

    @property
    def left(self) -> float:
        """Share of the elastic stiffness left in the weakest shape, below 0 where it gives way."""
        return 1.0 - float(self._solved.share[0])

    @cached_property
    def weakest(self) -> SideResponse:
        """The shape in which the rod is weakest, its largest shift 1 m (or roll 1 rad)."""
        found = self._read(self._solved.shape[0, : self._solved.size])
        most = found.shift[np.argmax(np.abs(found.shift))] or np.max(np.abs(found.roll))
        return SideResponse(found.s, found.shift / most, found.roll / most, found.turn / most)

    def _read(self, x: Array) -> SideResponse:
        each = [part @ x[NEXT * e : NEXT * e + LOCAL] for e, part in enumerate(self._solved.part)]
        return SideResponse(self.s, np.append(0.0, np.cumsum(each)), x[0::NEXT], x[1::NEXT])

    def _answer(self, band: Array, load: Array, *, tied: bool = True) -> tuple[Array, int]:
        """Solve for a load; count the ways in which the rod gives way."""
        x, found = np.array(load), self._solved
        flex = found.flex if tied else np.array([np.inf, found.flex[1]])
        return x, int(solve(band, found.size, found.border, flex, x))

    def _loaded(self, load: Array) -> Array:
        return self._answer(self._solved.K + self._solved.G, load)[0]

    def push(self, force: float) -> SideResponse:
        """Answer to a force out of the plane, N, where the string leaves, or at the last node."""
        return self._read(self._loaded(force * self._solved.border[0]))

    def give(self, force: float, *, loaded: bool = True) -> float:
        """Return how far that place moves under such a force, m, loaded or as if it were not."""
        z = self._solved.border[0]
        if loaded:
            return float(z @ self._loaded(force * z))
        return float(z @ self._answer(self._solved.K, force * z, tied=False)[0])

    def off_centre(self, offset: float) -> SideResponse:
        """Answer to a string that leaves the rod beside its middle by `offset`, m.

        Raises
        ------
        InputError
            There is no string.
        """
        if not self.tension > 0.0:
            raise InputError("offset", offset, "of a rod with a taut string")
        load = self._solved.border[0] / self._solved.flex[0]
        roll, turn = self.tension * self._laid.way[0, ::-1] * (1.0, -1.0)
        for place, value, held in ((-2, roll, self._held[2]), (-1, turn, self._held[3])):
            load[place] += 0.0 if held else value
        return self._read(self._loaded(-offset * load))

    def twisted(self, rate: float) -> SideResponse:
        """Answer to a rod formed with a twist all along, rad/m."""
        return self._read(self._loaded(rate * self._solved.twist))

    def together(self, other: Sideways) -> float:
        """Return the factor of two rods whose strings meet in a nock that nothing else holds.

        Both were looked at with ``nock=0``. Rods alike give way to one side, as each does alone.

        Raises
        ------
        InputError
            One has no string, or a nock that is held.
        """
        K, G, border, flex = self._joined(other)
        x = np.concatenate([each._solved.shape[0, : each._solved.size] for each in (self, other)])
        return _factor(np.array([weakest(K, G, len(K), border, flex, x)]))

    def give_beside(self, other: Sideways, force: float) -> float:
        """Return how far a force moves the place where the string leaves this one of two rods, m.

        As `give`, their strings meeting as in `together`.
        """
        K, G, border, flex = self._joined(other)
        x = np.zeros(len(K))
        x[: self._solved.size] = force * border[0, : self._solved.size]
        solve(K + G, len(K), border, flex, x)
        return float(border[0, : self._solved.size] @ x[: self._solved.size])

    def _joined(self, other: Sideways) -> tuple[Array, Array, Array, Array]:
        """Return bands, borders and their flexibilities of two rods on one string."""
        both = (self, other)
        for each in both:
            if not each.tension > 0.0 or np.isfinite(each._solved.flex[0]) or each._held[4]:
                raise InputError("other", "held", "two rods with taut strings and a free nock")
        sizes = [each._solved.size for each in both]
        border = np.zeros((2, sum(sizes)))
        border[0, : sizes[0]], border[0, sizes[0] :] = (each._solved.border[0] for each in both)
        border[0, sizes[0] :] *= -1.0
        K, G = (
            np.concatenate([getattr(each._solved, name) for each in both]) for name in ("K", "G")
        )
        apart = float(sum(each._laid.softness[0] for each in both))
        return K, G, border, np.array([apart, np.inf])


def side_factors(
    path: Path,
    side_stiffness: Field,
    twist_stiffness: Field,
    *,
    nock: float = np.inf,
    loop: float = 0.0,
) -> Array:
    """Return the factor of every state of a path, shape (n,), of a rod clamped at its first node.

    Parameters
    ----------
    path, side_stiffness, twist_stiffness, nock, loop
        As of `Sideways`; stiffness may also be that of each state, (n, n_elements, 4).
    """
    laid = _Laid.of(path, np.arange(len(path)), side_stiffness, twist_stiffness, nock, loop)
    share = _Solved(laid, _held({"first": ("shift", "roll", "turn"), "last": ()}), laid.end).share
    return np.where(share > 0.0, 1.0 / np.where(share > 0.0, share, 1.0), np.inf)


def _factor(share: Array) -> float:
    return 1.0 / float(share[0]) if share[0] > 0.0 else np.inf


def _held(ends: dict[str, tuple[str, ...]]) -> NDArray[np.int64]:
    """Return what is held in the kernel's order."""
    for names in ends.values():
        for name in names:
            if name not in ("shift", "roll", "turn"):
                raise InputError("first, last", name, "shift, roll or turn")
    if "shift" not in ends["first"]:
        raise InputError("first", ends["first"], "shift among them: it is counted from there")
    return np.array([name in ends[end] for end, name in ENDS], dtype=np.int64)


def _dead(force: Array, along: Array | float, across: Array | float) -> Array:
    """Return what forces that keep their direction do from their place in the end's frame, (n, 3).

    Its part of roll roll, roll turn and turn turn; `force` (..., 2) along tangent and normal.
    """
    t, n = force[..., 0], force[..., 1]
    arm = along * t + across * n
    return np.stack(
        [arm - along * t, -0.5 * (along * n + across * t), arm - across * n], axis=-1
    ).reshape(-1, 3)


class _Laid(NamedTuple):
    """States read out of a path, n of them, as far as the string's lift-off.

    Fields at the stations (n, n_elements, 4, 8); whole elements, and the part of the next, (n,);
    lift-off, m, and angle there, rad; what is added for roll and turn there, (n, 3); tie (n, 2);
    direction of the string (n, 2), both in the frame of the end; flexibility of the string
    sideways, m/N, by itself and with its nock's.
    """

    h: Array
    fields: Array
    whole: NDArray[np.int64]
    rest: Array
    lift_off: Array
    angle: Array
    end: Array
    tie: Array
    way: Array
    softness: Array
    flex: Array

    @classmethod
    def of(
        cls, path: Path, at: NDArray[np.int64], side: Field, twist: Field, nock: float, loop: float
    ) -> _Laid:
        rod, n, tension = path.rod, len(at), path.tension[at]
        B, GJ = (
            _stiffness(name, value, path, at)
            for name, value in (("side_stiffness", side), ("twist_stiffness", twist))
        )
        if not nock >= 0.0:
            raise InputError("nock", nock, "at least 0 N/m")
        if not np.isfinite(loop):
            raise InputError("loop", loop, "a finite length")
        N, Q, M = path.axial[at], path.shear[at], path.moment[at]
        v1, v2 = 1.0 + rod.stretch * N, rod.shear * Q
        fields = np.stack([rod.curvature0 + path.bending[at], v1, v2, N, Q, B, GJ, M], axis=-1)
        fields = fields[..., [0, 1, 2, 3, 4, 7, 5, 6]]
        contact = path.contact[at]
        # the contact's outer end alone is the tie at the groove
        inner = np.where(np.isnan(contact[..., 0]), np.inf, contact[..., 1])
        lift = np.min(inner, axis=1, initial=np.inf)
        lift = np.where(np.isfinite(lift) & (tension > 0.0), lift, rod.length)
        whole = np.searchsorted(rod.nodes, lift * (1.0 + 1e-12), side="right") - 1
        whole = np.minimum(whole, rod.n_elements)
        of = np.minimum(whole, rod.n_elements - 1)
        h = np.diff(rod.nodes)
        rest = np.where(whole < rod.n_elements, (lift - rod.nodes[of]) / h[of], 0.0)
        rest = np.where((rest > SLIVER) | (whole == 0), rest, 0.0)
        # the last element, and how much of it there is
        last, reach = np.where(rest > 0.0, whole, whole - 1), np.where(rest > 0.0, rest, 1.0)
        row = np.arange(n)
        powers = np.power(reach[:, None], np.arange(P + 1.0))
        turned = path.raw[at, : rod.n_elements * (P + 1)].reshape(n, -1, P + 1)[row, last]
        formed = np.sum(rod.curvature0[last] * (powers @ CUMUL_COEF.T - CUMUL[0]), axis=1)
        angle = rod.angle0[last, 0] + h[last] * formed
        angle = angle + np.sum(turned * (powers @ NODE_COEF.T), axis=1)
        inside: Array = np.power(np.outer(reach, GAUSS_X).reshape(n, P, 1), np.arange(P))
        inside = np.einsum("ngj,ij->ngi", inside, GAUSS_COEF)
        theta, stretch, slip = (
            np.einsum("ngj,nj->ng", inside, each[row, last]) for each in (path.angle[at], v1, v2)
        )
        c, s = np.cos(theta), np.sin(theta)
        tangent = np.stack([c * stretch - s * slip, s * stretch + c * slip], axis=-1)
        place = np.einsum("g,ngi->ni", GAUSS_W, tangent) * (reach * h[last])[:, None]
        place = path.nodes[at, last] + place
        c, s = np.cos(angle), np.sin(angle)
        frame = np.stack([np.stack([c, s], axis=-1), np.stack([-s, c], axis=-1)], axis=-2)
        taut = tension > 0.0
        string = np.where(taut[:, None], path.nock[at] - path.leaves[at], 1.0)
        size = np.hypot(*string.T)
        way = np.einsum("nij,nj->ni", frame, string / size[:, None])
        tie = np.einsum("nij,nj->ni", frame, path.leaves[at] - place) * taut[:, None]
        end = _dead(way * tension[:, None], *tie.T)
        end[:, 0] += loop * tension
        with np.errstate(divide="ignore"):
            softness = np.where(taut, size / tension, np.inf)
            flex = softness + np.float64(1.0) / nock
        return cls(h, fields, whole, rest, lift, angle, end, tie, way, softness, flex)


def _stiffness(name: str, value: Field, path: Path, at: NDArray[np.int64]) -> Array:
    """Read a stiffness at the stations of some states."""
    rod = path.rod
    if isinstance(value, np.ndarray) and value.shape == (len(path), rod.n_elements, P):
        if not np.all(value > 0.0):
            raise InputError(name, value, "above 0")
        return value[at]
    read = check_field(name, value, rod.stations, 0.0)
    return np.broadcast_to(read, (len(at), *read.shape))


class _Solved:
    """What the kernel makes of states: shares taken by the forces, and the last one's arrays."""

    def __init__(self, laid: _Laid, held: NDArray[np.int64], end: Array) -> None:
        n, most = len(laid.whole), len(laid.h)
        size = NEXT * most + 2
        K, G, part = np.zeros((size, LOCAL)), np.zeros((size, LOCAL)), np.zeros((most, LOCAL))
        length, twist, border = np.zeros(most), np.zeros(size), np.zeros((2, size))
        self.share, self.shape = np.zeros(n), np.zeros((n, size))
        given = (laid.fields, laid.h, laid.whole, laid.rest, held, end, laid.tie, laid.flex)
        arrays = [np.ascontiguousarray(each) for each in given]
        arrays += (length, K, G, part, twist, border, self.share, self.shape)
        self.size = int(states(*arrays))
        elements = (self.size - 2) // NEXT
        self.K, self.G, self.twist = K[: self.size], G[: self.size], twist[: self.size]
        self.border = np.ascontiguousarray(border[:, : self.size])
        self.length, self.part = length[:elements], part[:elements]
        self.flex = np.array([laid.flex[-1], 0.0 if held[4] else np.inf])
