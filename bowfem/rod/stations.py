"""Values at the stations of elements, read elsewhere in them by the elements' own polynomials."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.basis import GAUSS_COEF, GAUSS_W, GAUSS_X, NODE_X, P

Array = NDArray[np.float64]

#: Stations of an element: the Gauss points of order 8.
STATIONS = P
#: Where along an element, from 0 to 1, its turn is an unknown (Gauss and Lobatto's points): a
#: `guess` of `displace` has a turn at each of these.
TURN_PLACES = tuple(float(x) for x in NODE_X)
_TO_ENDS = np.stack([GAUSS_COEF[:, 0], GAUSS_COEF.sum(axis=1)], axis=-1)
_HALVES = np.stack([0.5 * GAUSS_X, 0.5 + 0.5 * GAUSS_X])
_TO_HALVES = np.einsum("hgk,ik->ihg", _HALVES[..., None] ** np.arange(P), GAUSS_COEF)


def element_ends(values: ArrayLike) -> tuple[Array, Array]:
    """Return values at either end of each element.

    Parameters
    ----------
    values : array_like, shape (..., n_elements, 4)
        At the stations.

    Returns
    -------
    begin, end : ndarray, shape (..., n_elements)
        The cubic through an element's four stations, read at its ends.

    Examples
    --------
    >>> from bowfem.rod import Rod
    >>> s = Rod.straight(2.0, 2, EI=1.0).stations
    >>> [end.round(12).tolist() for end in element_ends(s**3)]
    [[0.0, 1.0], [1.0, 8.0]]
    """
    both = np.asarray(values, dtype=float) @ _TO_ENDS
    return both[..., 0], both[..., 1]


def ends(values: ArrayLike) -> tuple[Array, Array]:
    """Return values at a rod's two ends from those at its stations.

    Parameters
    ----------
    values : array_like, shape (n, n_elements, 4)
        At the stations, which lie inside the elements.

    Returns
    -------
    first, last : ndarray, shape (n,)
        The polynomials of the first and last element, read at their ends.
    """
    begin, end = element_ends(values)
    return begin[:, 0], end[:, -1]


def at_halves(values: ArrayLike) -> Array:
    """Return values at the stations that the elements' halves would have.

    Parameters
    ----------
    values : array_like, shape (n_elements, 4)
        At the stations.

    Returns
    -------
    ndarray, shape (n_elements, 2, 4)
    """
    return np.einsum("ei,ihg->ehg", np.asarray(values, dtype=float), _TO_HALVES)


def station_lengths(nodes: ArrayLike) -> Array:
    """Return the length that each station stands for in an integral, m, shape (n_elements, 4).

    Parameters
    ----------
    nodes : array_like, shape (n_elements + 1,)
        Ends of the elements, m.
    """
    return np.diff(np.asarray(nodes, dtype=float))[:, None] * GAUSS_W
