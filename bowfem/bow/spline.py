"""A smooth curve through the states of a walk."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

#: States from which the slope at an end is taken.
END = 5


@dataclass(frozen=True, eq=False)
class SmoothCurve:
    """Hold a cubic spline through points: value, slope and second derivative are continuous.

    scipy has one too, but importing it takes longer than the walk.

    Attributes
    ----------
    x, y, slope : ndarray, shape (n,)
        The points, at least two, ``x`` increasing, and the slope there.

    Notes
    -----
    De Boor, A Practical Guide to Splines, Springer 1978, ch. IV (from memory): complete spline,
    its end slopes those of the polynomial through the nearest points.
    """

    x: Array
    y: Array
    slope: Array

    @classmethod
    def through(cls, x: Array, y: Array) -> "SmoothCurve":
        """Lay the curve through points.

        Examples
        --------
        >>> curve = SmoothCurve.through(np.arange(5.0), np.arange(5.0) ** 3)
        >>> float(curve.at(1.5).round(12)), float(curve.area(2.0).round(12))
        (3.375, 4.0)
        """
        n = min(END, x.size)
        h = np.diff(x)
        rise = np.diff(y) / h
        matrix, right = np.eye(x.size), np.empty(x.size)
        right[0] = np.polyfit(x[:n] - x[0], y[:n], n - 1)[-2]
        right[-1] = np.polyfit(x[-n:] - x[-1], y[-n:], n - 1)[-2]
        inside = np.arange(1, x.size - 1)
        matrix[inside, inside - 1], matrix[inside, inside + 1] = h[1:], h[:-1]
        matrix[inside, inside] = 2.0 * (h[1:] + h[:-1])
        right[1:-1] = 3.0 * (h[1:] * rise[:-1] + h[:-1] * rise[1:])
        return cls(x, y, np.asarray(np.linalg.solve(matrix, right), dtype=float))

    def _piece(self, x: Array) -> tuple[NDArray[np.intp], Array, Array, Array, Array]:
        """Return interval, distance from its left end, and the polynomial's coefficients there."""
        i = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, self.x.size - 2)
        h = self.x[i + 1] - self.x[i]
        rise, s0, s1 = (self.y[i + 1] - self.y[i]) / h, self.slope[i], self.slope[i + 1]
        return i, x - self.x[i], s0, (3.0 * rise - 2.0 * s0 - s1) / h, (s0 + s1 - 2.0 * rise) / h**2

    def at(self, x: ArrayLike) -> Array:
        """Return the value, same shape as `x`."""
        i, t, a, b, c = self._piece(np.asarray(x, dtype=float))
        return self.y[i] + t * (a + t * (b + t * c))

    def slope_at(self, x: ArrayLike) -> Array:
        """Return the slope, same shape as `x`."""
        _, t, a, b, c = self._piece(np.asarray(x, dtype=float))
        return a + t * (2.0 * b + 3.0 * t * c)

    def area(self, x: ArrayLike) -> Array:
        """Return the integral from the first point to `x`, same shape."""
        h = np.diff(self.x)
        cells = h * (self.y[1:] + self.y[:-1]) / 2.0 - h**2 * np.diff(self.slope) / 12.0
        before = np.concatenate([[0.0], np.cumsum(cells)])
        i, t, a, b, c = self._piece(np.asarray(x, dtype=float))
        return before[i] + t * (self.y[i] + t * (a / 2.0 + t * (b / 3.0 + t * c / 4.0)))
