"""A rod laid out for the kernels: nondimensional arrays, made once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels.basis import P
from bowfem._kernels.records import Model
from bowfem.rod.shape import Rod

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Layout:
    """Hold a rod over its length and largest stiffness.

    Attributes
    ----------
    model : Model
        What the kernels read.
    force : float
        Unit of force, largest EI over the length squared, N.
    rest : ndarray
        State of the rod as formed.
    no_control : ndarray, shape (n_elements + 2, 3)
        A control that controls nothing.
    """

    model: Model
    force: float
    rest: Array
    no_control: Array


@lru_cache(maxsize=32)
def layout_of(rod: Rod) -> Layout:
    """Lay a rod out; a rod once laid out is kept in memory, as long as few others follow."""
    length = rod.length
    stiffness = float(np.max(rod.EI))
    force = stiffness / length**2
    shape = rod.EI.shape
    if rod.table is None:
        knot, reach = np.ones(shape), np.full((*shape, 2), np.inf)
        moment = tangent = energy = np.zeros((*shape, 0))
    else:
        t = rod.table
        knot = (t.curvature[..., 1] - t.curvature[..., 0]) * length
        reach = np.ascontiguousarray(t.reach * length)
        moment = np.ascontiguousarray(t.moment / (force * length))
        tangent = np.ascontiguousarray(t.tangent / stiffness)
        energy = np.ascontiguousarray(t.energy / force)
    model = Model(
        np.diff(rod.nodes) / length,
        rod.angle0,
        rod.curvature0 * length,
        rod.EI / stiffness,
        knot,
        reach,
        moment,
        tangent,
        energy,
        rod.stretch * force,
        rod.shear * force,
        rod.belly / length,
        rod.belly_slope,
        (rod.position0 - np.array(rod.origin)) / length,
    )
    n = rod.n_elements
    rest = np.concatenate([np.zeros(n * (P + 1)), model.reference.ravel(), np.zeros(2 * n + 1)])
    return Layout(model, force, rest, np.zeros((n + 2, 3)))
