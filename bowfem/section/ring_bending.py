"""Bend sections whose walls give way: states of the ring along a path of limb curvature."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.section.material import Law
from bowfem.section.ring import Ring

Array = NDArray[np.float64]

#: Newton's last step, in units of the unknowns (curvature change times ring radius). It is taken,
#: so that the state left is in error by about its square, the tangent by about itself.
TOLERANCE = 1e-5
MOST_STEPS = 12
MOST_HALVINGS = 8


@dataclass(frozen=True, eq=False)
class RingPath:
    """Hold the states of b sections at n_k curvatures each, in SI units.

    Attributes
    ----------
    ring : Ring
        The walls.
    curvature : ndarray, shape (b, n_k)
        Change of the limb's curvature, 1/m.
    moment, tangent : ndarray, shape (b, n_k)
        Bending moment, N m, and its slope at constant axial force, N m2.
    axial_strain : ndarray, shape (b, n_k)
        Strain at the mean height of the mid-wall.
    unknowns : ndarray, shape (b, n_k, n)
        States of the ring; nan where the path ended before.
    newton_steps : ndarray of int, shape (b, n_k)
        Steps of Newton's method, halved steps of the path included.
    """

    ring: Ring
    curvature: Array
    moment: Array
    tangent: Array
    axial_strain: Array
    unknowns: Array
    newton_steps: NDArray[np.int64]


class March:
    """Walk all sections together; those that fail halve their step, then drop out."""

    def __init__(
        self,
        ring: Ring,
        material: Law,
        natural: Array | None = None,
        force: Array | None = None,
        frozen: bool = False,
        tolerance: float = TOLERANCE,
    ) -> None:
        self.ring, self.material, self.frozen = ring, material, frozen
        self.natural, self.force, self.tolerance = natural, force, tolerance
        b, n = len(ring.radius), ring.size
        self.at = np.zeros(b)
        self.state, self.slope = np.zeros((b, n)), np.zeros((b, n))
        self.before: tuple[Array, Array, Array] | None = None
        self.moment, self.tangent = np.zeros(b), np.zeros(b)
        self.steps = np.zeros(b, dtype=np.int64)
        self.solve(np.arange(b), self.at, self.state)

    def solve(self, rows: NDArray[np.int64], kappa: Array, guess: Array) -> NDArray[np.bool_]:
        """Newton from a guess; rows that converge take the new state. Return which did."""
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):  # lost rows drop out
            return self._solve(rows, kappa, guess)

    def _solve(self, rows: NDArray[np.int64], kappa: Array, guess: Array) -> NDArray[np.bool_]:
        law, n_q = self.material, self.ring.size - 3
        ring = self.ring if len(rows) == len(self.at) else self.ring[rows]
        natural = None if self.natural is None else self.natural[rows]
        force = None if self.force is None else self.force[rows]
        stretch = np.sqrt(ring.scale(law.poisson))
        state, left = guess.copy(), np.arange(len(rows))
        good = np.zeros(len(rows), dtype=bool)
        for _ in range(MOST_STEPS):
            part = (None if each is None else each[left] for each in (natural, force))
            f = (ring if len(left) == len(rows) else ring[left]).forces(
                law, state[left], kappa[left], *part
            )
            right = -np.stack([f.gradient, f.mixed], axis=2)
            if self.frozen:
                change = np.zeros_like(right)
                change[:, n_q] = right[:, n_q] / f.hessian[:, n_q, n_q, None]
            else:
                change = _solved(f.hessian, right)
            step, slope = change[..., 0], change[..., 1]
            size = np.max(np.abs(step[:, :n_q]), axis=1)
            size = np.maximum(size, stretch[left] * np.abs(step[:, n_q]))
            state[left] += step
            self.steps[rows[left]] += 1
            done = size < self.tolerance
            if np.any(done):
                to = rows[left[done]]
                # what the last step changes is added to first order: exact to its square
                self.moment[to] = f.moment[done] + np.sum(f.mixed * step, 1)[done]
                self.tangent[to] = f.stiffness[done] + np.sum(f.mixed * slope, 1)[done]
                self.slope[to], self.state[to] = slope[done], state[left[done]]
                self.at[to] = kappa[left[done]]
                good[left[done]] = True
            left = left[~done & (size < 3.0)]
            if left.size == 0:
                break
        return good

    def advance(self, rows: NDArray[np.int64], to: Array, depth: int = 0) -> NDArray[np.bool_]:
        """Bring rows to new curvatures; return which arrived."""
        here = self.at[rows], self.state[rows], self.slope[rows]
        guess = here[1] + (to - here[0])[:, None] * here[2]
        if self.before is not None and depth == 0:
            guess = _extrapolate([part[rows] for part in self.before], here, to)
        good = self.solve(rows, to, guess)
        if not np.all(good) and depth < MOST_HALVINGS:
            bad = np.flatnonzero(~good)
            half = self.advance(rows[bad], 0.5 * (here[0] + to)[bad], depth + 1)
            bad = bad[half]
            if bad.size:
                good[bad] = self.advance(rows[bad], to[bad], depth + 1)
        return good


def _solved(matrices: Array, right: Array) -> Array:
    """Solve a stack of systems; one that is singular gives nan instead of spoiling the rest."""
    try:
        return np.asarray(np.linalg.solve(matrices, right), dtype=np.float64)
    except np.linalg.LinAlgError:
        found = np.full(right.shape, np.nan)
        if len(right) > 1:
            for i in range(len(right)):
                found[i] = _solved(matrices[i : i + 1], right[i : i + 1])[0]
        return found


def _extrapolate(before: list[Array], here: tuple[Array, Array, Array], to: Array) -> Array:
    """Follow the cubic through the last two states and their slopes."""
    (k0, z0, d0), (k1, z1, d1) = before, here
    h = (k1 - k0)[:, None]
    moved = h != 0.0
    h = np.where(moved, h, 1.0)
    u, rise = (to - k1)[:, None] / h, z0 - z1
    a = np.where(moved, h * (d0 + 2.0 * d1) + 3.0 * rise, 0.0)
    b = np.where(moved, h * (d0 + d1) + 2.0 * rise, 0.0)
    return z1 + u * (h * d1 + u * (a + u * b))


def follow_bending(
    ring: Ring,
    material: Law,
    curvatures: Array,
    *,
    natural: float = 0.0,
    force: float = 0.0,
    frozen: bool = False,
    tolerance: float = TOLERANCE,
) -> RingPath:
    """Follow sections through given curvatures.

    Parameters
    ----------
    ring : Ring
        The walls of b sections.
    material : Law
        Stress-strain law along the limb.
    curvatures : ndarray, shape (b, n_k)
        Changes of curvature, 1/m, each row a path that begins near zero.
    natural : float, optional
        Curvature of the limb as formed, 1/m.
    force : float, optional
        Axial force at the mean height of the mid-wall, N.
    frozen : bool, optional
        Keep the outlines as they are.
    tolerance : float, optional
        Largest last step of Newton's method.

    Notes
    -----
    Curvature is prescribed, so the moment's peak is passed like any other point. The guess is the
    cubic through the last two states and their slopes. A row that cannot go on keeps nan from
    there.
    """
    b, n_k = curvatures.shape
    radius, rigidity = ring.radius, bending_rigidity(ring, material)
    one = np.ones(b)
    march = March(
        ring,
        material,
        natural * radius if natural else None,
        force * one * radius / rigidity if force else None,
        frozen,
        tolerance,
    )
    shape = (b, n_k)
    moment, tangent, steps = np.full(shape, np.nan), np.full(shape, np.nan), np.zeros(shape, int)
    unknowns = np.full((b, n_k, ring.size), np.nan)
    rows = np.arange(b)
    for j in range(n_k):
        now = march.at.copy(), march.state.copy(), march.slope.copy()
        count = march.steps.copy()
        rows = rows[march.advance(rows, (curvatures[:, j] * radius)[rows])]
        march.before = now
        steps[:, j] = march.steps - count
        moment[rows, j], tangent[rows, j] = march.moment[rows], march.tangent[rows]
        unknowns[rows, j] = march.state[rows]
        if rows.size == 0:
            break
    return RingPath(
        ring,
        curvatures,
        2.0 * moment * rigidity[:, None],
        2.0 * tangent * (rigidity * radius)[:, None],
        unknowns[..., -3],
        unknowns,
        steps,
    )


def bending_rigidity(ring: Ring, material: Law) -> Array:
    """Return ``E t^3 / (12 (1 - nu^2))``, plane-strain bending stiffness of the wall, N m, (b,)."""
    wall = ring.wall * ring.radius
    return material.initial_modulus * wall**3 / (12.0 * (1.0 - material.poisson**2))
