"""Checks of what is given to the rod: one clear error, raised before any arithmetic."""

from __future__ import annotations

from collections.abc import Callable
from numbers import Real
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError

Array = NDArray[np.float64]
#: A quantity along the rod: one number, a function of `s`, one number an element, or an array at
#: the stations.
Field = float | ArrayLike | Callable[[Array], ArrayLike]


def check_numbers(name: str, value: Any) -> Array:
    """Return numbers as an array."""
    try:
        if np.iscomplexobj(value):
            raise TypeError
        return np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise InputError(name, value, "a number or an array of numbers") from None


def check_field(
    name: str, value: Field, s: Array, above: float, *, infinite: bool = False
) -> Array:
    values = check_numbers(name, value(s) if callable(value) else value)
    if values.ndim == 1 and values.size == s.shape[0]:  # one an element
        values = values[:, None]
    if values.ndim and values.shape not in (s.shape, (s.shape[0], 1)):
        allowed = f"a number, one for each of {s.shape[0]} elements, or of shape {s.shape}"
        raise InputError(name, values.shape, allowed)
    full = np.broadcast_to(values, s.shape).copy()
    fine = (full > above) & (np.isfinite(full) | (infinite & (full == np.inf)))
    if not np.all(fine):
        limit = "finite" if above == -np.inf else f"above {above:g}"
        raise InputError(name, full[~fine].flat[0], limit)
    return full


def check_number(
    name: str,
    value: Any,
    allowed: str = "a finite number",
    good: Callable[[float], bool] = np.isfinite,
) -> float:
    """Return one number as it must be; what is none, or is not good, is refused."""
    fine = isinstance(value, Real) and not isinstance(value, bool)
    if not fine or not good(float(value)):
        raise InputError(name, value, allowed)
    return float(value)


def check_positive(name: str, value: Any) -> float:
    """Return a number above 0."""
    return check_number(name, value, "a number above 0", lambda x: 0.0 < x < np.inf)


def check_state(state: Any, count: int) -> int:
    """Return the number of a state, counted from the end if negative."""
    whole = isinstance(state, int | np.integer) and not isinstance(state, bool)
    if not whole or not -count <= state < count:
        raise InputError("state", state, f"one of {count} states")
    return int(state) % count


def check_count(n_elements: Any, name: str = "n_elements") -> int:
    """Return a whole number, at least 1."""
    whole = isinstance(n_elements, int | np.integer) and not isinstance(n_elements, bool)
    if not whole or n_elements < 1:
        raise InputError(name, n_elements, "a whole number, at least 1")
    return int(n_elements)
