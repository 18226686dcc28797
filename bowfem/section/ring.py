"""The wall of a section as a closed thin rod: unknowns, energy, and its exact derivatives.

Seen in cross-section the mid-wall is a rod that keeps its length and bends with the plane-strain
stiffness ``D = E t^3 / (12 (1 - nu^2))``. Left and right are mirror images, so half of it is
solved, counter-clockwise from the middle of the back to the middle of the belly. Many sections
are solved at once: the first axis of every array is the section.

Inside, lengths are in units of ``R = half mid-wall length / pi``, stresses of the initial modulus,
energies per length of ``D / R``.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels.crosswise import bent_wall
from bowfem.errors import InputError
from bowfem.section._numerics import gauss
from bowfem.section.material import Law
from bowfem.section.outline import Outline
from bowfem.section.plane_stress import plane_stress

Array = NDArray[np.float64]

WALL_POINTS = 8
#: Width over which the contact of two faces sets in, as a share of the wall.
SOFT = 1e-3


class Forces(NamedTuple):
    """Hold the derivatives of the energy at one state; n unknowns, see `Ring.forces`."""

    gradient: Array  # (b, n)
    hessian: Array  # (b, n, n)
    mixed: Array  # (b, n): derivative of the gradient by the bending curvature
    moment: Array  # (b,): derivative of the energy by the bending curvature
    stiffness: Array  # (b,): its second derivative, unknowns held


@dataclass(frozen=True, eq=False)
class Ring:
    """Hold the half walls of b sections on m collocation points, in units of the ring.

    Attributes
    ----------
    radius : ndarray, shape (b,)
        Half the mid-wall's length over pi, m.
    wall : ndarray, shape (b,)
        Wall over radius.
    angle, height, bend : ndarray, shape (b, m)
        Of the unloaded mid-wall at the points: angle of its tangent from the width axis, height
        above the middle, curvature.
    weights : ndarray, shape (b, m)
        Length that belongs to each point; they sum to pi.
    root : ndarray, shape (b, m)
        Square roots of the weights.
    running : ndarray, shape (b, m, m)
        Integral of point values from the back up to each point.
    turning : ndarray, shape (b, m, m)
        The same, of unknowns: from unknowns to angle changes.
    lifting : ndarray, shape (b, m, m)
        The same as `running`, less its mean over the wall.
    facing : ndarray, shape (m,)
        One where the flats face each other and may touch, else zero.
    offset, share : ndarray, shape (n_wall,)
        Gauss points through the wall in units of it, and their weights.
    speed : ndarray, shape (b, m)
        Length per element parameter, which runs from 0 to 1.
    ends : ndarray, shape (n_elements + 1,)
        First point of each element, and m.

    Notes
    -----
    The unknowns of a section are the curvature change at the Gauss points, times the root of
    the point's weight; the bending strain of the limb at the reference height; and two
    multipliers that keep the half ring closed: no turn and no sideways shift from back to belly.
    Angle is then a polynomial in each element, of degree one above its curvature's: the Gauss
    collocation of `bowfem.rod`, with more points to an element. Heights count from the mean height
    of the mid-wall.
    """

    radius: Array
    wall: Array
    angle: Array
    height: Array
    bend: Array
    weights: Array
    root: Array
    running: Array
    turning: Array
    lifting: Array
    facing: Array
    offset: Array
    share: Array
    speed: Array
    ends: NDArray[np.int64]

    @classmethod
    def from_outlines(
        cls,
        outlines: Sequence[Outline],
        n_elements: int = 1,
        points: int = 8,
        flat_points: int = 6,
        wall_points: int = WALL_POINTS,
    ) -> "Ring":
        """Lay collocation points on the walls of like outlines.

        Parameters
        ----------
        outlines : sequence of Outline
            Sections made the same way, as by `pressed`, all lying or all turned.
        n_elements : int, optional
            Elements on each piece, equal in the piece's parameter.
        points, flat_points : int, optional
            Collocation points of each element of a curved piece and of a flat.
        wall_points : int, optional
            Gauss points through the wall; 1 leaves the wall's own thickness out, the thin limit.

        Raises
        ------
        InputError
            When the outlines are not whole or not alike.
        """
        halves = [_half(outline) for outline in outlines]
        pieces = halves[0].pieces
        if any(each.pieces != pieces for each in halves):
            raise InputError("outlines", "of several kinds", "made the same way")
        degree = [flat_points if flat else points for flat in halves[0].flats]
        blocks, facing, ends = [], [], [0]
        for n, m, flat in zip(pieces, degree, halves[0].flats, strict=True):
            blocks.append(_resampling(n, n_elements, m))
            lies = flat and (not facing or len(blocks) == len(pieces))
            facing += [float(lies)] * (n_elements * m)
            ends += [ends[-1] + m * (j + 1) for j in range(n_elements)]
        stacked = np.stack([each.values for each in halves])  # (b, 4, points of the outline)
        starts = np.cumsum([0, *pieces])
        values = np.concatenate(
            [
                stacked[:, :, a:b] @ block.T
                for a, b, block in zip(starts[:-1], starts[1:], blocks, strict=True)
            ],
            axis=2,
        )
        angle, height, bend, speed = np.moveaxis(values, 1, 0)
        pointwise, running = _running(ends)
        pointwise, running = pointwise / n_elements, running / n_elements
        radius = np.array([0.5 * outline.perimeter / np.pi for outline in outlines])
        weights = pointwise * speed / radius[:, None]
        running = running * (speed / radius[:, None])[:, None, :]
        root = np.sqrt(weights)
        with np.errstate(divide="ignore", invalid="ignore"):
            turning = np.where(root[:, None] > 0.0, running / root[:, None], 0.0)
        lifting = running - (weights[:, None] @ running) / np.pi
        node, share, _ = gauss(wall_points)
        return cls(
            radius,
            np.array([outline.wall for outline in outlines]) / radius,
            angle,
            height / radius[:, None],
            bend * radius[:, None],
            weights,
            root,
            running,
            turning,
            lifting,
            np.array(facing),
            node - 0.5,
            share,
            speed / (n_elements * radius[:, None]),
            np.array(ends),
        )

    def __getitem__(self, rows: NDArray[np.int64]) -> "Ring":
        """Pick sections."""
        return Ring(
            self.radius[rows],
            self.wall[rows],
            self.angle[rows],
            self.height[rows],
            self.bend[rows],
            self.weights[rows],
            self.root[rows],
            self.running[rows],
            self.turning[rows],
            self.lifting[rows],
            self.facing,
            self.offset,
            self.share,
            self.speed[rows],
            self.ends,
        )

    @property
    def touches(self) -> bool:
        """Whether faces may touch."""
        return bool(np.any(self.facing))

    def without_contact(self) -> "Ring":
        """Copy the walls so that faces can pass through each other."""
        return replace(self, facing=np.zeros_like(self.facing))

    @property
    def size(self) -> int:
        """Number of unknowns of a section."""
        return self.root.shape[1] + 3

    def shape(self, unknowns: Array) -> tuple[Array, Array, Array]:
        """Return sine and cosine of the tangent's angle, and height, each (b, m)."""
        turn = np.squeeze(self.turning @ unknowns[:, : self.root.shape[1], None], 2)
        angle = self.angle + turn
        sine, cosine = np.sin(angle), np.cos(angle)
        rise = np.squeeze(self.lifting @ (sine - np.sin(self.angle))[..., None], 2)
        return sine, cosine, self.height + rise

    def closing(self, unknowns: Array) -> Array:
        """Return by how much the middles of back and belly have come closer, (b,)."""
        sine, _, _ = self.shape(unknowns)
        return np.sum(self.weights * (np.sin(self.angle) - sine), axis=1)

    def closing_rate(self, unknowns: Array, slope: Array) -> Array:
        """Return the derivative of `closing` along a slope of the unknowns, (b,)."""
        _, cosine, _ = self.shape(unknowns)
        turn = np.squeeze(self.turning @ slope[:, : self.root.shape[1], None], 2)
        return -np.sum(self.weights * cosine * turn, axis=1)

    def energy(
        self,
        material: Law,
        unknowns: Array,
        curvature: Array,
        natural: Array | None = None,
        force: Array | None = None,
    ) -> Array:
        """Return the energy of each half section less the work of the axial force, (b,).

        Parameters and units as in `forces`. The multipliers have no part in it.
        """
        _, cosine, y = self.shape(unknowns)
        n_q = self.root.shape[1]
        area, lever, strain = self._fibres(unknowns, cosine, y, curvature, natural)
        stretch = np.sum(material.energy(strain) * (area / lever), (1, 2))
        scale = self.scale(material.poisson)
        wall = self._bent(material, unknowns, y, curvature, natural)
        idle = np.where(self.root == 0.0, unknowns[:, :n_q], 0.0)
        total = np.sum(wall[0] + 0.5 * idle**2, axis=1) + scale * stretch / material.initial_modulus
        total += np.sum(self._contact(y, material.poisson)[2], axis=1)
        return total if force is None else total - 0.5 * force * unknowns[:, n_q]

    def forces(
        self,
        material: Law,
        unknowns: Array,
        curvature: Array,
        natural: Array | None = None,
        force: Array | None = None,
    ) -> Forces:
        """Return gradient and second derivatives of the energy, constraints added.

        Parameters
        ----------
        material : Law
            Stress-strain law along the limb; initial modulus and Poisson's ratio of the wall.
        unknowns : ndarray, shape (b, m + 3)
            See the class.
        curvature : ndarray, shape (b,)
            Change of the limb's curvature times radius.
        natural : ndarray, shape (b,), optional
            The limb's curvature as formed times radius; default straight.
        force : ndarray, shape (b,), optional
            Axial force over ``D / radius``; default none.

        Notes
        -----
        Strain along the limb ``(e - k y - k0 (y - y0)) / (1 - k0 y0)`` with ``y`` the fibre's
        height, ``y0`` that before loading, and ``k0`` the natural curvature; energy
        ``int W (1 - k0 y0) dA + 1/2 int (curvature change)^2 ds``. The area element is that of
        the wall as formed: ``W`` is energy per volume of material, which bending doesn't change.
        """
        n_q = self.root.shape[1]
        sine, cosine, y = self.shape(unknowns)
        total = curvature if natural is None else curvature + natural
        n = -cosine
        area, lever, strain = self._fibres(unknowns, cosine, y, curvature, natural)
        area *= (self.scale(material.poisson) / material.initial_modulus)[:, None, None]
        stress, slope = material.stress_and_tangent(strain)
        stress, slope = stress * area, slope * (area * lever)
        t0, t1 = np.sum(stress, 2), stress @ self.offset * self.wall[:, None]
        e0, e1 = np.sum(slope, 2), slope @ self.offset * self.wall[:, None]
        e2 = slope @ self.offset**2 * self.wall[:, None] ** 2
        bent = self._bent(material, unknowns, y, curvature, natural)
        t0, e0 = t0 + bent[1], e0 + bent[3]
        # a piece without length has no unknown of its own: it is held at rest
        inverse, idle = self._inverse_root(), self.root == 0.0
        by_change, both, by_changes = (bent[j] * inverse for j in (2, 4, 5))
        press, stiff, _ = self._contact(y, material.poisson)
        k = total[:, None]

        lifted = np.swapaxes(self.lifting, 1, 2)
        turned = np.swapaxes(self.turning, 1, 2)
        multiplier = unknowns[:, n_q + 2, None]
        pull = np.squeeze(lifted @ (press - k * t0)[..., None], 2)
        by_angle = cosine * pull - sine * k * t1 - multiplier * sine * self.weights
        closing = np.squeeze(turned @ (sine * self.weights)[..., None], 2)
        gradient = np.empty((len(y), self.size))
        gradient[:, :n_q] = np.squeeze(turned @ by_angle[..., None], 2)
        gradient[:, :n_q] += by_change + unknowns[:, n_q + 1, None] * self.root
        gradient[:, n_q] = np.sum(t0, 1)
        if force is not None:
            gradient[:, n_q] -= 0.5 * force
        gradient[:, n_q + 1] = np.sum(self.root * unknowns[:, :n_q], 1)
        gradient[:, n_q + 2] = np.sum(self.weights * (cosine - np.cos(self.angle)), 1)

        # changes of height and of angle at the points, by the unknowns
        lift = (self.lifting * cosine[:, None, :]) @ self.turning
        tilt = sine[:, :, None] * self.turning
        k2 = k**2
        mass = (k2 * e0 + stiff)[..., None] * lift
        mass += (k2 * e1)[..., None] * tilt
        if self.touches:
            mass -= stiff[..., None] * lift[:, ::-1]
        turn = sine**2 * k2 * e2 - sine * pull - cosine * (k * t1 + multiplier * self.weights)
        bend = (sine * k2 * e1)[..., None] * lift
        bend += turn[..., None] * self.turning
        inner = np.swapaxes(lift, 1, 2) @ mass
        inner += turned @ bend
        hessian = np.zeros((len(y), self.size, self.size))
        hessian[:, :n_q, :n_q] = inner
        cross = -(k * both)[..., None] * lift
        hessian[:, :n_q, :n_q] += cross + np.swapaxes(cross, 1, 2)
        hessian[:, np.arange(n_q), np.arange(n_q)] += by_changes * inverse + idle
        gradient[:, :n_q] += idle * unknowns[:, :n_q]
        row = -k * (e0[:, None] @ lift + e1[:, None] @ tilt)[:, 0] + both
        hessian[:, n_q, n_q] = np.sum(e0, 1)
        for j, side in ((n_q, row), (n_q + 1, self.root), (n_q + 2, -closing)):
            hessian[:, j, :n_q] = hessian[:, :n_q, j] = side

        first, second = e0 * y + e1 * n, e1 * y + e2 * n
        mixed = np.zeros((len(y), self.size))
        pull = np.squeeze(lifted @ (k * first - t0)[..., None], 2)
        by_angle = cosine * pull + sine * (k * second - t1)
        mixed[:, :n_q] = np.squeeze(turned @ by_angle[..., None], 2)
        mixed[:, :n_q] -= both * y
        mixed[:, n_q] = -np.sum(first, 1)
        moment = -np.sum(t0 * y + t1 * n, 1)
        return Forces(gradient, hessian, mixed, moment, np.sum(first * y + second * n, 1))

    def _fibres(
        self, unknowns: Array, cosine: Array, y: Array, curvature: Array, natural: Array | None
    ) -> tuple[Array, float | Array, Array]:
        """Return area, lever ``1 / (1 - k0 y0)`` and strain of the fibres, (b, m, n_wall)."""
        zeta = self.wall[:, None, None] * self.offset
        area = self.weights[..., None] * self.share * (1.0 + zeta * self.bend[..., None])
        fibre = y[..., None] - zeta * cosine[..., None]
        strain = unknowns[:, -3, None, None] - curvature[:, None, None] * fibre
        if natural is None:
            return area, 1.0, strain
        formed = self.height[..., None] - zeta * np.cos(self.angle)[..., None]
        k0 = natural[:, None, None]
        lever = 1.0 / (1.0 - k0 * formed)
        return area, lever, lever * (strain - k0 * (fibre - formed))

    def _bent(
        self, material: Law, unknowns: Array, y: Array, curvature: Array, natural: Array | None
    ) -> Array:
        """Return energy and derivatives of bending round the section at the points, (7, b, m).

        As `bowfem._kernels.crosswise.bent_wall`, weights included. Where the wall's own thickness
        is left out there is nothing to spread strain over: it then bends elastically.
        """
        q = unknowns[:, : self.root.shape[1]]
        if len(self.offset) == 1:
            found = np.zeros((7, *q.shape))
            found[0], found[2], found[5] = 0.5 * q**2, q * self.root, self.root**2
            return found
        strain, lever = self.mid_strain(unknowns, y, curvature, natural)
        law = plane_stress(material)
        depth = self.wall[:, None] * self.offset
        nu, change = material.poisson, q * self._inverse_root()
        found = bent_wall(law.table, law.step, nu, strain, lever, depth, self.share, change)
        found[:6] *= self.scale(nu)[:, None] * self.weights
        return found

    def _inverse_root(self) -> Array:
        """Return one over the roots of the weights; nothing where a piece has no length."""
        return np.divide(1.0, self.root, out=np.zeros_like(self.root), where=self.root > 0.0)

    def mid_strain(
        self, unknowns: Array, y: Array, curvature: Array, natural: Array | None
    ) -> tuple[Array, Array]:
        """Return the strain of the mid-wall along the limb, and its lever, (b, m)."""
        strain = unknowns[:, -3, None] - curvature[:, None] * y
        if natural is None:
            return strain, np.ones_like(strain)
        lever = 1.0 / (1.0 - natural[:, None] * self.height)
        return lever * (strain - natural[:, None] * (y - self.height)), lever

    def scale(self, poisson: float) -> Array:
        """Return stretching over bending stiffness of the wall, ``E t R^2 / D``, (b,)."""
        return 12.0 * (1.0 - poisson**2) / self.wall**2

    def _contact(self, y: Array, poisson: float) -> tuple[Array, Array, Array]:
        """Return the force on each point, its stiffness, and the energy of touching faces, (b, m).

        Two half walls pressed together give by ``pressure = E r(d)``, ``d`` the share of the wall
        by which the mid-walls are closer than one wall: what the halves of the two walls give when
        pressed on each other (D, elastic). ``r = d^3 / (d + SOFT)^2`` starts softly, so that forces
        have two continuous derivatives; for ``d`` well above SOFT it is ``d``. Faces touch
        straight across, flat on flat, nowhere else. In limbs ``d`` stays below two per cent.
        """
        if not self.touches:
            none = np.zeros_like(y)
            return none, none, none
        wall = self.wall[:, None]
        over = np.where(self.facing > 0.0, 1.0 - np.abs(y[:, ::-1] - y) / wall, -1.0)
        d = np.maximum(over, 0.0)
        u = d + SOFT
        strength = self.scale(poisson)[:, None] * self.weights
        sign = np.where(np.arange(d.shape[1]) < d.shape[1] // 2, 1.0, -1.0)
        stiff = strength * d**2 * (d + 3.0 * SOFT) / u**3 / wall
        log = np.log1p(d / SOFT)
        stored = 0.5 * (u**2 - SOFT**2) - 3.0 * SOFT * d + 3.0 * SOFT**2 * log
        stored += SOFT**2 * (SOFT / u - 1.0)
        return sign * strength * d**3 / u**2, stiff, 0.5 * strength * stored * wall


class _Half(NamedTuple):
    """Hold angle, height, curvature and length per piece parameter of the right half wall."""

    values: Array  # (4, points)
    pieces: tuple[int, ...]
    flats: tuple[bool, ...]


def _half(outline: Outline) -> _Half:
    """Cut the right half out of a whole outline, from back to belly."""
    n, pieces = outline.x.size, outline.pieces
    starts = np.cumsum([0, *pieces])
    for first in (6, 4, 2, 0):  # a lying section begins with a flat, a turned one with a side
        if len(pieces) != 8 or starts[-1] != n:
            break
        order = np.roll(np.arange(n), -starts[first])[: n // 2]
        if np.all(outline.x[order] >= 0.0):
            return _cut(outline, order, first)
    raise InputError("outline", outline.name, "a whole one, as `pressed` or `circle` makes it")


def _cut(outline: Outline, order: NDArray[np.int64], first: int) -> _Half:
    """Take the points of the right half, which begins with a piece."""
    half = tuple(np.roll(outline.pieces, -first)[:4].tolist())
    flats = tuple(np.roll(np.tile([False, True, True, False], 2), -first)[:4].tolist())
    speed = outline.weights[order] / np.concatenate([gauss(k)[1] for k in half])
    angle = np.unwrap(np.arctan2(outline.normal_x[order], -outline.normal_y[order]))
    values = np.stack([angle, outline.y[order], outline.curvature[order], speed])
    return _Half(values, half, flats)


@lru_cache(maxsize=32)
def _resampling(n: int, elements: int, points: int) -> Array:
    """Return the matrix from n Gauss points of a piece to the points of each of its elements."""
    wanted = np.concatenate([(j + gauss(points)[0]) / elements for j in range(elements)])
    point, weight, _ = gauss(n)
    # Legendre series through the Gauss points, evaluated at the wanted ones
    degree = np.arange(n)
    legendre = np.polynomial.legendre.legvander
    fit = (2.0 * degree[:, None] + 1.0) * legendre(2.0 * point - 1.0, n - 1).T * weight
    return legendre(2.0 * wanted - 1.0, n - 1) @ fit


def _running(ends: list[int]) -> tuple[Array, Array]:
    """Return weights, and integrals from the start to each point, for elements of unit length."""
    weights, matrix = np.zeros(ends[-1]), np.zeros((ends[-1], ends[-1]))
    for a, b in pairwise(ends):
        _, weights[a:b], matrix[a:b, a:b] = gauss(b - a)
        matrix[b:, a:b] = weights[a:b]
    return weights, matrix
