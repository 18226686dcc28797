"""A limb out of the bow's plane: how near the string's pull comes to rolling it over."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.limb_model import LimbModel
from bowfem.design import Design
from bowfem.rod import Path, Sideways, side_factors
from bowfem.section import read_on_knots

Array = NDArray[np.float64]

#: Points on a quarter of a round edge, and on half a flat, at which the wall is looked at.
EDGE, FLAT = 6, 3


def limb_sideways(
    design: Design,
    model: LimbModel,
    path: Path,
    state: int = -1,
    *,
    nock: float,
    loop: float = 0.0,
) -> Sideways:
    """Look at a limb's state out of the plane.

    Parameters
    ----------
    design : Design
        The bow.
    model : LimbModel
        The limb.
    path : Path
        Its states.
    state : int
        Which of them.
    nock : float
        Stiffness with which the nock point is held sideways, N/m: infinite at full draw, in the
        fingers; 0 at brace, where it follows the tips.
    loop : float
        What the string's loop adds to the tie, m, see `Sideways`.

    Notes
    -----
    The pipe is held in the handle. The wall is softer where the limb bends it toward yield:
    sideways bending by the law's tangent at each fibre, ``B = int E_t x^2 dA``, torsion by its
    secant round the wall and the square of the loaded height (Bredt), a lower bound (D). Both as
    shares, of an outline of two round edges and two flats as wide and as thick.
    """
    stiffness = _softened(design, model, path.bending[state])
    return Sideways(path, *stiffness, state=state, nock=nock, loop=loop)


def limb_side_factors(design: Design, model: LimbModel, path: Path) -> Array:
    """Return the factor of each state of a limb, the nock point held in the fingers, (n,)."""
    return side_factors(path, *_softened(design, model, path.bending))


def _softened(design: Design, model: LimbModel, bending: Array) -> tuple[Array, Array]:
    """Return sideways and torsional stiffness under a change of curvature, (..., n_elements, 4)."""
    sections = model.sections
    bent, twisted = wall_left(design, model, bending.reshape(*bending.shape[:-2], -1))
    return (
        (bent * sections.side_stiffness).reshape(bending.shape),
        (twisted * sections.twist_stiffness).reshape(bending.shape),
    )


def wall_left(design: Design, model: LimbModel, bending: Array) -> tuple[Array, Array]:
    """Return the shares left of sideways and of torsional stiffness, each (..., n_stations).

    Parameters
    ----------
    bending : ndarray, shape (..., n_stations)
        Change of curvature, 1/m.
    """
    sections, law, wall = model.sections, design.material, design.pipe.wall
    across, high = sections.width - wall, sections.thickness - wall
    radius, flat = 0.5 * np.minimum(across, high), 0.5 * np.abs(across - high)
    at, weight = np.polynomial.legendre.leggauss(EDGE)
    turn = 0.25 * np.pi * (at + 1.0)
    on, share = np.polynomial.legendre.leggauss(FLAT)
    # along the longer axis and the shorter one, and length of wall
    longer = np.concatenate(
        [flat[:, None] + radius[:, None] * np.cos(turn), 0.5 * flat[:, None] * (on + 1.0)], axis=1
    )
    shorter = radius[:, None] * np.concatenate([np.sin(turn), np.ones(FLAT)])
    length = np.concatenate(
        [0.25 * np.pi * radius[:, None] * weight, 0.5 * flat[:, None] * share], axis=1
    )
    lying = (across >= high)[:, None]
    x, y = np.where(lying, longer, shorter), np.where(lying, shorter, longer)
    tangent, secant = np.zeros((2, *bending.shape, y.shape[-1]))
    rest = law.initial_modulus
    for side in (1.0, -1.0):
        strain = side * bending[..., None] * y
        stress, slope = law.stress_and_tangent(strain)
        tangent += 0.5 * slope / rest
        small = np.abs(strain) < 1e-9
        secant += 0.5 * rest * np.where(small, 1.0 / rest, strain / np.where(small, 1.0, stress))
    area = length * x**2
    bent = np.sum(area * tangent, axis=-1) / np.sum(area, axis=-1)
    rows = bending.reshape(-1, y.shape[0])
    loaded, resting = (
        read_on_knots(sections, "loaded_thickness", each).reshape(bending.shape)
        for each in (rows, np.zeros_like(rows))
    )
    twisted = np.sum(length, axis=-1) / np.sum(length * secant, axis=-1) * (loaded / resting) ** 2
    return bent, twisted
