"""Results: equilibrium states along a path, as plain arrays in SI units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from enum import Enum
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import CUMUL, GAUSS_COEF, GAUSS_SLOPE, SHAPE, P
from bowfem._kernels.records import (
    BEND_ENERGY,
    LEAVES_X,
    LEAVES_Y,
    LENGTH,
    LOAD,
    POINT_ANGLE,
    POINT_K,
    POINT_M,
    POINT_N,
    POINT_Q,
    POINT_WRAPPED,
    POINT_X,
    POINT_Y,
    SHARE,
    STRING_ENERGY,
    TENSION,
)
from bowfem.cards import card
from bowfem.rod._checks import check_state
from bowfem.rod.shape import Rod

Array = NDArray[np.float64]


class Stop(Enum):
    """Why a path ended."""

    COMPLETE = "every state asked for was reached"
    NO_CONVERGENCE = (
        "Newton's method failed down to the smallest step: look for a limit point "
        "(follow with arc length), more elements, or a load that cannot be carried"
    )
    SINGULAR = (
        "the structure can move without resistance, or is held where it would have to stretch and "
        "cannot: add a support or a stiffness, or give the rod a finite EA"
    )
    LIMIT = "the section's law was used up to its limit"


#: Axes after that of the states.
_AXES: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("factor", "tension", "string_length", "table_share", "signs"), ()),
    **dict.fromkeys(("iterations", "substeps"), ()),
    **dict.fromkeys(("nodes",), ("node", "xy")),
    **dict.fromkeys(("turn",), ("node",)),
    **dict.fromkeys(("bending", "moment", "axial", "shear", "angle"), ("element", "station")),
    **dict.fromkeys(("pressure",), ("element", "station")),
    **dict.fromkeys(("reaction",), ("node", "force")),
    **dict.fromkeys(("energy",), ("stored",)),
    **dict.fromkeys(("nock", "pull", "leaves"), ("xy",)),
    **dict.fromkeys(("contact",), ("piece", "end")),
}


@dataclass(frozen=True, eq=False, repr=False)
class Path:
    """Hold the equilibrium states of a rod along a path; the first axis counts states.

    Attributes
    ----------
    rod : Rod
        The rod.
    stop : Stop
        Why the path ended.
    factor : ndarray, shape (n,)
        Load factor.
    nodes : ndarray, shape (n, n_elements + 1, 2)
        Position of the nodes, m.
    turn : ndarray, shape (n, n_elements + 1)
        Rotation of the nodes from the natural shape, rad.
    bending : ndarray, shape (n, n_elements, 4)
        Bending strain (change of curvature) at the stations, 1/m.
    moment, axial, shear : ndarray, shape (n, n_elements, 4)
        Bending moment, N m, axial and shear force, N, at the stations.
    angle : ndarray, shape (n, n_elements, 4)
        Angle of the section's normal, rad, at the stations.
    reaction : ndarray, shape (n, n_elements + 1, 3)
        Forces, N, and couple, N m, that supports put on the rod at the nodes.
    energy : ndarray, shape (n, 3)
        Stored in bending, in stretch and shear, in the string, J.
    tension : ndarray, shape (n,)
        Tension of the string, N; zero without one.
    nock : ndarray, shape (n, 2)
        Where the string's far end is held, m.
    pull : ndarray, shape (n, 2)
        Force on the string's far end that holds it, N.
    string_length : ndarray, shape (n,)
        Unstretched length of the string, m.
    leaves : ndarray, shape (n, 2)
        Point where the string leaves the rod for good toward the nock, m.
    contact : ndarray, shape (n, 6, 2)
        Pieces of contact from the end inward: arc length of outer and inner end, m; nan unused.
    pressure : ndarray, shape (n, n_elements, 4)
        Contact force of the string per length of rod at the stations, N/m.
    table_share : ndarray, shape (n,)
        Largest bending strain over the end of the law's table; zero for a linear rod.
    iterations, substeps : ndarray of int, shape (n,)
        Newton iterations and steps spent on each state.
    history : ndarray, shape (m, 2)
        Norms of residual and step, nondimensional, of the last Newton solve.
    signs : ndarray of int, shape (n,)
        Sign of the tangent's determinant; it turns at limits and bifurcations.
    limits : tuple of int
        States at which the load factor (arc length) had a limit.
    """

    rod: Rod
    stop: Stop
    factor: Array
    nodes: Array
    turn: Array
    bending: Array
    moment: Array
    axial: Array
    shear: Array
    angle: Array
    reaction: Array
    energy: Array
    tension: Array
    nock: Array
    pull: Array
    string_length: Array
    leaves: Array
    contact: Array
    pressure: Array
    table_share: Array
    iterations: NDArray[np.int64]
    substeps: NDArray[np.int64]
    history: Array
    signs: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    limits: tuple[int, ...] = ()
    raw: Array = field(default_factory=lambda: np.zeros((0, 0)), repr=False)

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        return f"Path({len(self)} states of {self.rod!r}: {self.stop.name.lower()})"

    def _repr_html_(self) -> str:
        """Return a table for notebooks."""
        rows: dict[str, object] = {"states": len(self), "ended": self.stop.name.lower()}
        if len(self):
            rows |= {
                "load factor": f"{self.factor[0]:.4g} to {self.factor[-1]:.4g}",
                "last tip, m": f"{self.tip[-1, 0]:.4g}, {self.tip[-1, 1]:.4g}",
                "last tension, N": float(self.tension[-1]),
                "largest share of the law": float(np.max(self.table_share)),
                "iterations": int(np.sum(self.iterations)),
            }
        return card(f"Path of {self.rod!r}", rows)

    def variables(self) -> dict[str, tuple[tuple[str, ...], Array]]:
        """Return what counts states, by name with its axes, as `xarray.Dataset` takes it.

        Examples
        --------
        >>> from bowfem.rod import Force, Rod, clamp, follow
        >>> path = follow(Rod.straight(1.0, 2, EI=1.0), [clamp(0)], [Force(y=1.0)], [1.0, 2.0])
        >>> axes, values = path.variables()["moment"]
        >>> axes, values.shape
        (('state', 'element', 'station'), (2, 2, 4))
        """
        return {name: (("state", *axes), getattr(self, name)) for name, axes in _AXES.items()}

    def turns(self, state: int = -1) -> Array:
        """Return a state's turn at the `TURN_PLACES` of each element, rad: a guess for another.

        Shape (n_elements, 5), as `displace` takes it.
        """
        n = self.rod.n_elements
        return self.raw[state][: n * (P + 1)].reshape(n, P + 1).copy()

    def __len__(self) -> int:
        """Return the number of states."""
        return self.factor.size

    @property
    def sign(self) -> int:
        """Sign of the tangent's determinant at the last state; 0 where there is none."""
        return int(self.signs[-1]) if self.signs.size else 0

    @property
    def tip(self) -> Array:
        """Position of the last node, m, shape (n, 2)."""
        return self.nodes[:, -1]

    def positions(self) -> Array:
        """Return the position of the stations, m, shape (n, n_elements, 4, 2)."""
        return self.nodes[:, :-1, None] + np.einsum("gj,...ejk->...egk", CUMUL, self._steps())

    def line(self, per_element: int = 8) -> Array:
        """Return a fine polyline through each state, m, shape (n, m, 2)."""
        t = np.linspace(0.0, 1.0, per_element, endpoint=False)
        fine = np.einsum("tj,...ejk->...etk", _integrals(t), self._steps())
        body = self.nodes[:, :-1, None] + fine
        return np.concatenate([body.reshape(len(self), -1, 2), self.nodes[:, -1:]], axis=1)

    def _steps(self) -> Array:
        c, s = np.cos(self.angle), np.sin(self.angle)
        along = 1.0 + self.rod.stretch * self.axial
        across = self.rod.shear * self.shear
        tangent = np.stack([c * along - s * across, s * along + c * across], axis=-1)
        return tangent * np.diff(self.rod.nodes)[:, None, None]


def _integrals(t: ArrayLike) -> Array:
    """Integrate the Gauss polynomials from 0 to `t`, shape (n_t, P)."""
    powers = np.power(np.asarray(t)[:, None], np.arange(1, P + 1)) / np.arange(1, P + 1)
    return powers @ GAUSS_COEF.T


def from_kernel(
    rod: Rod,
    stop: Stop,
    force: float,
    controls: Array,
    out: dict[str, Any],
    reached: int,
    limits: tuple[int, ...] = (),
) -> Path:
    """Give the kernels' nondimensional output its units back."""
    n, length = rod.n_elements, rod.length
    raw = out["state"][:reached]
    controls = controls[:reached]
    point, scalar = out["point"][:reached], out["scalar"][:reached]
    psi = raw[:, : n * (P + 1)].reshape(-1, n, P + 1)
    xy = raw[:, n * (P + 1) : n * (P + 1) + 2 * (n + 1)].reshape(-1, n + 1, 2)
    origin = np.array(rod.origin)
    tension = scalar[:, TENSION] * force
    leaves, nock = (
        scalar[:, LEAVES_X : LEAVES_Y + 1] * length,
        controls[:, POINT_X : POINT_Y + 1] * length,
    )
    way = nock - leaves
    size = np.hypot(way[:, 0], way[:, 1])[:, None]
    contact = out["contact"][:reached]
    some = ~np.isnan(contact)
    if np.any(some):
        contact = contact.copy()
        contact[some] = np.interp(contact[some], np.arange(n + 1), rod.nodes)
    turn = np.concatenate([psi[:, :, 0], psi[:, -1:, -1]], axis=1)
    theta = rod.angle0 + (psi @ SHAPE.T)
    wrapped = point[..., POINT_WRAPPED] > 0.5
    pressure = np.zeros(wrapped.shape)
    if np.any(wrapped):  # direction of the string on the rod turns at the surface's curvature
        bend = (rod.curvature0 + point[..., POINT_K] / length) + (
            (point[..., POINT_ANGLE] @ GAUSS_SLOPE.T) / np.diff(rod.nodes)[:, None]
        )
        pressure[wrapped] = np.abs(tension[:, None, None] * bend)[wrapped]
    scale = np.array([force, force, force * length])
    return Path(
        rod=rod,
        stop=stop,
        factor=controls[:, LOAD],
        nodes=xy * length + origin,
        turn=turn,
        bending=point[..., POINT_K] / length,
        moment=point[..., POINT_M] * force * length,
        axial=point[..., POINT_N] * force,
        shear=point[..., POINT_Q] * force,
        angle=theta,
        reaction=out["react"][:reached] * scale,
        energy=scalar[:, BEND_ENERGY : STRING_ENERGY + 1] * force * length,
        tension=tension,
        nock=nock + origin,
        pull=tension[:, None] * way / np.where(size > 0.0, size, 1.0),
        string_length=controls[:, LENGTH] * length,
        leaves=leaves + origin,
        contact=contact,
        pressure=pressure,
        table_share=scalar[:, SHARE],
        iterations=out["count"][:reached, 0],
        substeps=out["count"][:reached, 1],
        history=out["hist"][out["hist"][:, 1] > 0.0],
        signs=out["count"][:reached, 2],
        limits=limits,
        raw=raw,
    )


#: Arrays of a path whose first axis counts states.
_COUNTED = tuple(
    each.name for each in fields(Path) if each.name not in ("rod", "stop", "history", "limits")
)


def one_state(path: Path, state: int = -1) -> Path:
    """Return one state of a path alone."""
    at = check_state(state, len(path))
    one = {name: getattr(path, name)[at : at + 1] for name in _COUNTED}
    return replace(path, **one, limits=())


def joined(paths: Sequence[Path]) -> Path:
    """Put the states of paths of one rod one after another; there is at least one path."""
    every = {name: np.concatenate([getattr(p, name) for p in paths]) for name in _COUNTED}
    return replace(paths[-1], **every)


@dataclass(frozen=True, eq=False)
class Held:
    """States of a pulled rod as the kernels left them: what a search for another needs, no more.

    Attributes
    ----------
    rod : Rod
        The rod.
    stop : Stop
        Why no more states were found.
    """

    rod: Rod
    stop: Stop
    _force: float
    _controls: Array
    _out: dict[str, Any]
    _reached: int

    def __len__(self) -> int:
        """Return the number of states."""
        return self._reached

    @property
    def raw(self) -> Array:
        """The states in the kernels' own numbers."""
        return self._out["state"][: self._reached]

    @property
    def tension(self) -> Array:
        """Tension of the string, N, shape (n,)."""
        return self._out["scalar"][: self._reached, TENSION] * self._force

    @property
    def nock(self) -> Array:
        """Where the string's far end is held, m, shape (n, 2)."""
        places = self._controls[: self._reached, POINT_X : POINT_Y + 1]
        return places * self.rod.length + np.array(self.rod.origin)

    @property
    def string_length(self) -> Array:
        """Natural length of the string, m, shape (n,)."""
        return self._controls[: self._reached, LENGTH] * self.rod.length

    @property
    def pull(self) -> Array:
        """Force on the string's far end, N, shape (n, 2)."""
        scalar, controls = self._out["scalar"][: self._reached], self._controls[: self._reached]
        way = controls[:, POINT_X : POINT_Y + 1] - scalar[:, LEAVES_X : LEAVES_Y + 1]
        size = np.hypot(way[:, 0], way[:, 1])[:, None]
        return self.tension[:, None] * way / np.where(size > 0.0, size, 1.0)

    def path(self) -> Path:
        """Return the states in full."""
        return from_kernel(
            self.rod, self.stop, self._force, self._controls, self._out, self._reached
        )
