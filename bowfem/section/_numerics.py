"""Gauss points with running integrals, reading between knots, and a safe root finder."""

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import BowfemError

Array = NDArray[np.float64]
Index = int | NDArray[np.int64]


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


def barycentric(nodes: Array, wanted: Array) -> Array:
    """Return weights of values at Chebyshev points, ends included, at wanted places, (m, n)."""
    weight = (-1.0) ** np.arange(nodes.size)
    weight[[0, -1]] *= 0.5
    gap = wanted[:, None] - nodes
    exact = gap == 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        value = weight / gap
        value /= np.sum(value, axis=1, keepdims=True)
    hit = np.any(exact, axis=1)
    value[hit] = exact[hit]
    return value


def taken(table: Array, index: NDArray[np.intp]) -> Array:
    """Take knots of tables: `index` (..., k) of a table, or of each of a stack, (..., n_knots).

    As `numpy.take_along_axis`, but several times faster for tables as small as these.
    """
    rows = table.shape[table.ndim - index.ndim : -1]
    first = table.shape[-1] * np.arange(math.prod(rows)).reshape(*rows, 1)
    return table.reshape(*table.shape[: table.ndim - index.ndim], -1).take(first + index, axis=-1)


class FourPoint:
    """Read tables between their knots by the cubic through the four nearest.

    Parameters
    ----------
    place : ndarray, shape (..., k)
        Where, in knots from the first one.
    low, high : int or ndarray, shape (..., 1)
        First and last knot that may be used.
    """

    def __init__(self, place: Array, low: Index, high: Index) -> None:
        self.first = np.clip(np.floor(place).astype(int) - 1, low, high - 3)
        u = place - self.first
        self.weights = (
            (1.0 - u) * (u - 2.0) * (u - 3.0) / 6.0,
            u * (u - 2.0) * (u - 3.0) / 2.0,
            u * (1.0 - u) * (u - 3.0) / 2.0,
            u * (u - 1.0) * (u - 2.0) / 6.0,
        )

    def value(self, table: Array) -> Array:
        """Return a table, or a stack of them, (..., n_knots), at the places, (..., k)."""
        total = np.zeros((*table.shape[:-1], self.first.shape[-1]))
        for j, weight in enumerate(self.weights):
            total += weight * taken(table, self.first + j)
        return total


def osculating(
    value: Array, slope: Array, place: Array, low: Index, high: Index, nearest: int
) -> tuple[Array, Array]:
    """Read a table that comes with slopes by place: value and slope between knots.

    One polynomial through values and slopes of the two or four `nearest` knots: continuous with
    its slope from cell to cell. Shapes as in `FourPoint`.
    """
    first = np.floor(place).astype(int) - (nearest // 2 - 1)
    first = np.clip(first, low, high - (nearest - 1))
    u = place - first
    total, rate = np.zeros(place.shape), np.zeros(place.shape)
    for j in range(nearest):
        others = [i for i in range(nearest) if i != j]
        base, dbase = np.ones(place.shape), np.zeros(place.shape)
        for i in others:
            base, dbase = base * (u - i) / (j - i), (dbase * (u - i) + base) / (j - i)
        lean = sum(1.0 / (j - i) for i in others)
        v, s = (taken(part, first + j) for part in (value, slope))
        line, dline = v + (s - 2.0 * lean * v) * (u - j), s - 2.0 * lean * v
        total += line * base**2
        rate += dline * base**2 + 2.0 * line * base * dbase
    return total, rate


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
