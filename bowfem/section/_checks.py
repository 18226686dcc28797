"""Checks of numbers: one clear error, raised before any arithmetic."""

import math
from numbers import Real

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError


def finite(key: str, value: object, allowed: str = "a finite number") -> float:
    """Return the value as a float, refusing what is not a finite real number."""
    if isinstance(value, bool) or not isinstance(value, Real) or not math.isfinite(value):
        raise InputError(key, value, allowed)
    return float(value)


def positive(key: str, value: object, allowed: str = "a finite number above 0") -> float:
    """Return the value as a float above zero."""
    number = finite(key, value, allowed)
    if number <= 0.0:
        raise InputError(key, value, allowed)
    return number


def between(key: str, value: object, low: float, high: float, unit: str = "") -> float:
    """Return the value as a float inside a closed range; round-off at the ends is forgiven."""
    allowed = f"between {low:.6g} and {high:.6g} {unit}".rstrip()
    number = finite(key, value, allowed)
    slack = 1e-9 * max(abs(low), abs(high))
    if not low - slack <= number <= high + slack:
        raise InputError(key, value, allowed)
    return min(max(number, low), high)


def row_between(
    key: str, values: ArrayLike, low: float, high: float, unit: str
) -> tuple[NDArray[np.float64], bool]:
    """Return values inside a closed range as a row, and whether there was a single one."""
    wanted = np.asarray(values, dtype=float)
    slack = 1e-9 * high
    wrong = ~((wanted >= low - slack) & (wanted <= high + slack))
    if wanted.ndim > 1 or np.any(wrong):
        value = wanted[wrong][0] if np.any(wrong) and wanted.ndim else values
        raise InputError(key, value, f"between {low:.6g} and {high:.6g} {unit}, one row")
    return np.clip(np.atleast_1d(wanted), low, high), wanted.ndim == 0
