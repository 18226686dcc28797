"""Gauss points with running integrals, and a safe root finder."""

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import BowfemError

Array = NDArray[np.float64]


@lru_cache(maxsize=8)
def gauss(n: int) -> tuple[Array, Array, Array]:
    """Return Gauss points and weights on (0, 1), and the matrix of running integrals from 0."""
    point, weight = np.polynomial.legendre.leggauss(n)
    degree = np.arange(n)
    values = np.polynomial.legendre.legvander(point, n)
    # coefficients of the interpolant, then the integral of each Legendre polynomial from -1
    fit = (degree[:, None] + 0.5) * values[:, :n].T * weight
    integral = np.empty((n, n))
    integral[:, 0] = point + 1.0
    integral[:, 1:] = (values[:, 2:] - values[:, : n - 1]) / (2.0 * degree[1:] + 1.0)
    return 0.5 * (point + 1.0), 0.5 * weight, 0.5 * integral @ fit


def root(residual: Callable[[float], tuple[float, float]], low: float, high: float) -> float:
    """Find the root of a monotone function in a closed range by Newton, held in by bisection."""
    at = 0.5 * (low + high)
    falling = residual(high)[0] < residual(low)[0]
    for _ in range(100):
        value, slope = residual(at)
        if (value > 0.0) != falling:
            high = at
        else:
            low = at
        step = value / slope if slope else math.inf
        new = at - step
        if abs(step) <= 1e-15 * max(abs(at), 1.0) * 4.0 or high == low:
            return min(max(new, low), high)
        at = new if low <= new <= high else 0.5 * (low + high)
    raise BowfemError(f"section: no root between {low} and {high}; report this section")
