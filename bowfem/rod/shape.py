"""The rod as it is before anything acts on it: mesh, natural shape, stiffness along it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import CUMUL, GAUSS_COEF, GAUSS_SLOPE, GAUSS_W, GAUSS_X
from bowfem.cards import card
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod._checks import (
    Field,
    check_count,
    check_field,
    check_number,
    check_numbers,
    check_positive,
)

Array = NDArray[np.float64]


#: Newton's iterations to the bending of a moment.
NEWTON = 50


@dataclass(frozen=True, eq=False)
class MomentTable:
    """Hold a nonlinear law `M(k)` at every station of a rod.

    Parameters
    ----------
    curvature : ndarray, shape (n_elements, 4, n_k)
        Knots of bending strain `k` (change of curvature), 1/m, uniform, symmetric about zero.
    moment, tangent : ndarray, shape (n_elements, 4, n_k)
        Moment, N m, and its slope, N m2, at the knots; between them a cubic (C1).
    limit : ndarray, shape (n_elements, 4, 2), optional
        Bending strain, 1/m and positive, up to which the law is good when bent negatively and
        positively: its peak, where it has one. By default the end of the table.

    Raises
    ------
    InputError
        Shapes differ, or the knots are not uniform and symmetric.
    """

    curvature: Array
    moment: Array
    tangent: Array
    limit: Array | None = None

    def __post_init__(self) -> None:
        """Refuse tables the rod cannot read."""
        for name in ("curvature", "moment", "tangent"):
            object.__setattr__(self, name, check_numbers(f"table.{name}", getattr(self, name)))
        k = self.curvature
        if not (np.ndim(k) == 3 and k.shape == self.moment.shape == self.tangent.shape):
            raise InputError("table", np.shape(k), "three arrays of one shape (n_elements, 4, n_k)")
        even = np.linspace(-1.0, 1.0, k.shape[2]) * k[..., -1:]
        if k.shape[2] < 3 or k.shape[2] % 2 == 0 or not np.allclose(k, even, rtol=1e-9, atol=0):
            raise InputError("table.curvature", "given knots", "uniform, odd in number, about zero")
        if not np.all(np.isfinite([self.moment, self.tangent])) or not np.all(k[..., -1] > 0.0):
            raise InputError("table", "given numbers", "finite, at increasing curvatures")
        middle = k.shape[2] // 2
        rise = (self.moment[..., middle + 1] - self.moment[..., middle - 1]) / (
            k[..., middle + 1] - k[..., middle - 1]
        )
        slope = self.tangent[..., middle]
        if not np.all((slope > 0.5 * np.abs(rise)) & (slope < 2.0 * np.abs(rise))):
            raise InputError("table.tangent", "given slopes", "about those of the moments")
        if not (self.reach.shape == (*k.shape[:2], 2) and np.all(self.reach > 0.0)):
            raise InputError("table.limit", "given limits", f"above 0, of shape {k.shape[:2]} x 2")

    @classmethod
    def from_points(
        cls, curvature: ArrayLike, moment: ArrayLike, n_elements: int, *, knots: int = 129
    ) -> Self:
        """Make the law of all stations from points of one measured or computed curve.

        Of an outline and a material, `bowfem.section.moment_curvature` computes the points.

        Parameters
        ----------
        curvature, moment : array_like, shape (n,)
            Bending strain, 1/m, rising, and moment, N m, rising with it. Points from zero on stand
            for both ways of bending.
        n_elements : int
            Of the rod.
        knots : int
            Of the table, an odd number; between the points the curve is a monotone cubic.

        Raises
        ------
        InputError
            Fewer than three points, or points that do not rise.

        Examples
        --------
        >>> law = MomentTable.from_points([0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 1.6, 1.9], n_elements=2)
        >>> law.moment_at(np.full((2, 4), -1.0))[0][0].round(4).tolist()
        [-1.0, -1.0, -1.0, -1.0]
        """
        from scipy.interpolate import PchipInterpolator

        k, m = check_numbers("curvature", curvature), check_numbers("moment", moment)
        if not (k.ndim == 1 and k.shape == m.shape and k.size > 2):
            raise InputError("curvature, moment", (k.shape, m.shape), "three or more points each")
        rises = (
            np.all(np.isfinite([k, m])) and np.all(np.diff(k) > 0.0) and np.all(np.diff(m) > 0.0)
        )
        if not rises:
            raise InputError("curvature, moment", "given points", "finite and rising together")
        if k[0] >= 0.0:
            first = 1 if k[0] == 0.0 else 0
            if first and m[0] != 0.0:
                raise InputError("moment", m[0], "0 at no bending")
            k = np.concatenate([-k[:first:-1], -k[first : first + 1], [0.0], k[first:]])
            m = np.concatenate([-m[:first:-1], -m[first : first + 1], [0.0], m[first:]])
        if check_count(knots, "knots") % 2 == 0:
            raise InputError("knots", knots, "odd")
        curve, far = PchipInterpolator(k, m), min(-float(k[0]), float(k[-1]))
        at = np.linspace(-far, far, knots)
        shape = (check_count(n_elements), 4, 1)
        return cls(*(np.tile(each, shape) for each in (at, curve(at), curve.derivative()(at))))

    @property
    def reach(self) -> Array:
        """Bending strain the law is good for, 1/m, bent negatively and positively."""
        end = self.curvature[..., -1:]
        return np.broadcast_to(end, (*end.shape[:2], 2)) if self.limit is None else self.limit

    def moment_at(self, k: Array) -> tuple[Array, Array]:
        """Return moment and its slope at bending strains of the stations, shape (n_elements, 4)."""
        step = self.curvature[..., 1] - self.curvature[..., 0]
        last = self.curvature.shape[2] - 1
        cell = np.clip(np.floor((k - self.curvature[..., 0]) / step), 0, last - 1).astype(int)
        x = (k - np.take_along_axis(self.curvature, cell[..., None], -1)[..., 0]) / step

        def knot(values: Array, more: int) -> Array:
            return np.take_along_axis(values, (cell + more)[..., None], -1)[..., 0]

        m0, m1 = knot(self.moment, 0), knot(self.moment, 1)
        c0, c1 = step * knot(self.tangent, 0), step * knot(self.tangent, 1)
        a2, a3 = 3.0 * (m1 - m0) - 2.0 * c0 - c1, 2.0 * (m0 - m1) + c0 + c1
        return (
            m0 + x * (c0 + x * (a2 + x * a3)),
            (c0 + x * (2.0 * a2 + 3.0 * x * a3)) / step,
        )

    def bending_at(self, moment: Array) -> Array:
        """Return the bending strain of a moment at each station, shape (n_elements, 4), 1/m.

        Raises
        ------
        ConvergenceError
            A moment is more than a section carries.
        """
        k = moment / self.tangent[..., self.tangent.shape[2] // 2]
        for _ in range(NEWTON):
            value, slope = self.moment_at(k)
            change = (moment - value) / slope
            k = k + change
            if np.all(np.abs(change) <= 1e-12 * self.curvature[..., -1]):
                return k
        raise ConvergenceError("a moment is more than its section carries")

    @property
    def energy(self) -> Array:
        """Bending energy per length at the knots, N m/m, from zero curvature."""
        step = (self.curvature[..., 1] - self.curvature[..., 0])[..., None]
        m, c = self.moment, self.tangent
        cell = step * ((m[..., :-1] + m[..., 1:]) / 2 + step * (c[..., :-1] - c[..., 1:]) / 12)
        total = np.concatenate([np.zeros((*m.shape[:2], 1)), np.cumsum(cell, axis=-1)], axis=-1)
        middle = m.shape[2] // 2
        return total - total[..., middle : middle + 1]


@dataclass(frozen=True, eq=False, repr=False)
class Rod:
    """A slender planar rod, curved or straight when unstressed, cut into high-order elements.

    Build one with `straight`, `arc`, `polyline` or `from_curvature`. Stations are the four Gauss
    points of each element; arrays at stations have shape (n_elements, 4).

    Attributes
    ----------
    nodes : ndarray, shape (n_elements + 1,)
        Arc length of the element ends, m.
    angle0, curvature0 : ndarray, shape (n_elements, 4)
        Natural angle of the tangent, rad, counter-clockwise from x, and curvature, 1/m.
    EI : ndarray, shape (n_elements, 4)
        Bending stiffness at rest, N m2.
    stretch, shear : ndarray, shape (n_elements, 4)
        Compliances 1/EA and 1/GA, 1/N; zero is inextensible, unshearable.
    belly : ndarray, shape (n_elements, 4)
        Distance from the axis to the surface a string may lie on, m, along the left normal.
    origin : tuple of float
        Position of the first node, m.
    table : MomentTable or None
        Nonlinear law in place of `EI`.

    Notes
    -----
    Geometrically exact (Simo, Comput. Methods Appl. Mech. Eng. 49 (1985) 55-70; from memory), in
    mixed form. ``M = EI k`` or ``M(k)`` with ``k = kappa - kappa0`` per unstressed length.

    Examples
    --------
    >>> rod = Rod.arc(radius=2.0, angle=0.5, n_elements=4, EI=10.0)
    >>> rod.position0[-1].round(6).tolist()
    [0.958851, 0.244835]
    """

    nodes: Array
    angle0: Array
    curvature0: Array
    EI: Array
    stretch: Array
    shear: Array
    belly: Array
    origin: tuple[float, float] = (0.0, 0.0)
    table: MomentTable | None = None

    @classmethod
    def from_curvature(
        cls,
        nodes: ArrayLike,
        *,
        EI: Field,
        curvature0: Field = 0.0,
        EA: Field = np.inf,
        GA: Field = np.inf,
        belly: Field = 0.0,
        origin: tuple[float, float] = (0.0, 0.0),
        angle: float = 0.0,
        kinks: Mapping[int, float] | None = None,
    ) -> Self:
        """Build a rod from its element ends and its natural curvature.

        Parameters
        ----------
        nodes : array_like, shape (n_elements + 1,)
            Arc length of the element ends, m, from 0, increasing. Put one wherever a quantity
            jumps.
        EI, curvature0, EA, GA, belly : Field
            Number, function of arc length, or array (n_elements, 4) at the stations; in N m2,
            1/m, N, N, m.
        origin, angle : optional
            Position, m, and angle of the tangent, rad, of the first node.
        kinks : mapping of int to float, optional
            Rigid corners: node number to the jump of the angle there, rad.

        Raises
        ------
        InputError
            A quantity is not finite or not positive where it must be.
        """
        ends = check_numbers("nodes", nodes)
        rising = ends.ndim == 1 and ends.size > 1 and np.all(np.isfinite(ends))
        if not rising or ends[0] != 0.0 or not np.all(np.diff(ends) > 0.0):
            raise InputError("nodes", nodes, "two or more arc lengths from 0, increasing")
        h = np.diff(ends)
        s = ends[:-1, None] + h[:, None] * GAUSS_X
        kappa = check_field("curvature0", curvature0, s, -np.inf)
        jumps = np.zeros(ends.size)
        if kinks is not None and not isinstance(kinks, Mapping):
            raise InputError("kinks", kinks, "angles by node number")
        for node, jump in (kinks or {}).items():
            jump = check_number("kinks", jump)
            if not (node in range(ends.size) and np.isfinite(jump)):
                raise InputError("kinks", kinks, f"finite angles at nodes 0 to {ends.size - 1}")
            jumps[node] = jump
        start_at = check_numbers("origin", origin)
        if start_at.shape != (2,) or not np.all(np.isfinite(start_at)):
            raise InputError("origin", origin, "two finite numbers")
        angle = check_number("angle", angle)
        turned = np.concatenate([[0.0], np.cumsum(h * (kappa @ GAUSS_W))])
        start = angle + turned[:-1] + np.cumsum(jumps)[:-1]
        with np.errstate(divide="ignore"):
            stretch = 1.0 / check_field("EA", EA, s, 0.0, infinite=True)
            shear = 1.0 / check_field("GA", GA, s, 0.0, infinite=True)
        return cls(
            nodes=ends,
            angle0=start[:, None] + h[:, None] * (kappa @ CUMUL.T),
            curvature0=kappa,
            EI=check_field("EI", EI, s, 0.0),
            stretch=stretch,
            shear=shear,
            belly=check_field("belly", belly, s, -np.inf),
            origin=(float(start_at[0]), float(start_at[1])),
        )

    @classmethod
    def straight(
        cls,
        length: float,
        n_elements: int = 8,
        *,
        EI: Field,
        EA: Field = np.inf,
        GA: Field = np.inf,
        angle: float = 0.0,
        origin: tuple[float, float] = (0.0, 0.0),
    ) -> Self:
        """Build a straight rod of `n_elements` equal elements; see `from_curvature`."""
        nodes = np.linspace(0.0, check_positive("length", length), check_count(n_elements) + 1)
        return cls.from_curvature(nodes, EI=EI, EA=EA, GA=GA, angle=angle, origin=origin)

    @classmethod
    def arc(
        cls,
        radius: float,
        angle: float,
        n_elements: int = 8,
        *,
        EI: Field,
        EA: Field = np.inf,
        GA: Field = np.inf,
        start: float = 0.0,
    ) -> Self:
        """Build a circular arc through `angle`, rad, turning left for positive ones.

        `start` is the angle of the tangent at the first node.
        """
        angle = check_number(
            "angle", angle, "finite and not 0", lambda x: np.isfinite(x) and x != 0.0
        )
        radius = check_positive("radius", radius)
        length = radius * abs(angle)
        nodes = np.linspace(0.0, length, check_count(n_elements) + 1)
        bend = np.sign(angle) / radius
        return cls.from_curvature(nodes, EI=EI, curvature0=bend, EA=EA, GA=GA, angle=start)

    @classmethod
    def polyline(
        cls,
        corners: ArrayLike,
        n_elements: int = 8,
        *,
        EI: Field,
        EA: Field = np.inf,
        GA: Field = np.inf,
    ) -> Self:
        """Build a chain of straight members, rigidly joined at `corners` (n, 2), m.

        `n_elements` counts those of one member. Member `i` starts at node ``i * n_elements``.
        """
        points = check_numbers("corners", corners)
        if points.ndim != 2 or points.shape[0] < 2 or points.shape[1] != 2:
            raise InputError("corners", points.shape, "two or more points, of shape (n, 2)")
        sides = np.diff(points, axis=0)
        lengths = np.hypot(*sides.T)
        if not (np.all(np.isfinite(points)) and np.all(lengths > 0.0)):
            raise InputError("corners", corners, "finite points, none twice in a row")
        angles = np.unwrap(np.arctan2(sides[:, 1], sides[:, 0]))
        part = np.linspace(0.0, 1.0, check_count(n_elements) + 1)[1:]
        begin = np.concatenate([[0.0], np.cumsum(lengths)])
        nodes = np.concatenate([[0.0], (begin[:-1, None] + lengths[:, None] * part).ravel()])
        kinks = {(i + 1) * n_elements: float(d) for i, d in enumerate(np.diff(angles))}
        return cls.from_curvature(
            nodes,
            EI=EI,
            EA=EA,
            GA=GA,
            angle=float(angles[0]),
            kinks=kinks,
            origin=(float(points[0, 0]), float(points[0, 1])),
        )

    def with_table(self, table: MomentTable) -> Self:
        """Copy the rod with a nonlinear law in place of `EI`.

        Raises
        ------
        InputError
            The table's stations are not those of the rod, or its slope at rest is not above zero.
        """
        if table.moment.shape[:2] != self.EI.shape:
            raise InputError("table", table.moment.shape, f"of shape ({self.EI.shape}, n_k)")
        middle = table.tangent[:, :, table.tangent.shape[2] // 2]
        if not np.all(middle > 0.0):
            raise InputError("table.tangent", middle.min(), "above 0 at zero curvature")
        return replace(self, table=table, EI=middle)

    def reshaped(self, curvature0: Field) -> Self:
        """Copy the rod with another natural curvature, and its bending linear, by `EI`.

        Its first node stays where it is and points as it did.
        """
        kappa = check_field("curvature0", curvature0, self.stations, -np.inf)
        h, change = np.diff(self.nodes)[:, None], kappa - self.curvature0
        before = np.cumsum(h[:, 0] * (change @ GAUSS_W)) - h[:, 0] * (change @ GAUSS_W)
        angle = self.angle0 + before[:, None] + h * (change @ CUMUL.T)
        return replace(self, angle0=angle, curvature0=kappa, table=None)

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        law = "linear" if self.table is None else "by a table"
        return f"Rod({self.length:.4g} m, {self.n_elements} elements, {law})"

    def _repr_html_(self) -> str:
        """Return a table for notebooks."""
        rows = {
            "length, m": self.length,
            "elements": self.n_elements,
            "EI at rest, N m2": f"{np.min(self.EI):.4g} to {np.max(self.EI):.4g}",
            "law": "linear" if self.table is None else "by a table",
            "stretches, shears": f"{np.any(self.stretch)}, {np.any(self.shear)}",
        }
        return card("Rod", rows)

    @property
    def n_elements(self) -> int:
        """Number of elements."""
        return self.nodes.size - 1

    @property
    def length(self) -> float:
        """Unstressed length, m."""
        return float(self.nodes[-1])

    @property
    def stations(self) -> Array:
        """Arc length of the stations, m, shape (n_elements, 4)."""
        return self.nodes[:-1, None] + np.diff(self.nodes)[:, None] * GAUSS_X

    @property
    def position0(self) -> Array:
        """Natural position of the nodes, m, shape (n_elements + 1, 2)."""
        tangent = np.stack([np.cos(self.angle0), np.sin(self.angle0)], axis=-1)
        steps = np.diff(self.nodes)[:, None] * np.einsum("g,egi->ei", GAUSS_W, tangent)
        return np.array(self.origin) + np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])

    @property
    def station_position0(self) -> Array:
        """Natural position of the stations, m, shape (n_elements, 4, 2)."""
        tangent = np.stack([np.cos(self.angle0), np.sin(self.angle0)], axis=-1)
        steps = tangent * np.diff(self.nodes)[:, None, None]
        return self.position0[:-1, None] + np.einsum("gj,ejk->egk", CUMUL, steps)

    @property
    def surface0(self) -> Array:
        """Natural belly surface at the stations and the last node, m, shape (4 n + 1, 2)."""
        angle = np.append(self.angle0, GAUSS_COEF.sum(axis=1) @ self.angle0[-1])
        belly = np.append(self.belly, self.end_belly)
        axis = np.concatenate([self.station_position0.reshape(-1, 2), self.position0[-1:]])
        return axis + belly[:, None] * np.stack([-np.sin(angle), np.cos(angle)], axis=-1)

    @property
    def belly_slope(self) -> Array:
        """Slope of `belly` along the rod, shape (n_elements, 4)."""
        return (self.belly @ GAUSS_SLOPE.T) / np.diff(self.nodes)[:, None]

    @property
    def end_belly(self) -> float:
        """Distance from axis to surface at the last node, m."""
        return float(GAUSS_COEF.sum(axis=1) @ self.belly[-1])
