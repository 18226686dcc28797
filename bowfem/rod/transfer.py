"""Take an equilibrium state over to a neighbouring rod, as a first guess of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels.basis import NODE_COEF, NODE_X, SLOPE, P
from bowfem.errors import InputError
from bowfem.rod.shape import Rod
from bowfem.rod.states import Path

Array = NDArray[np.float64]


#: Largest distance of nodes, as a share of the length, at which two meshes are the same: rotations
#: at nodes of a mesh that has moved so little are as good a guess.
APART = 0.02


def transferred(path: Path, rod: Rod) -> Path:
    """Take the last state of a path over to another rod.

    The state returned is no equilibrium of the other rod: it is where Newton's method starts for a
    rod that differs little. Its arrays other than the state itself and, on another mesh,
    the bending are still those of the path.

    Parameters
    ----------
    path : Path
        A path of at least one state.
    rod : Rod
        The other rod.

    Raises
    ------
    InputError
        The path has no state.

    Notes
    -----
    Rotations are kept, positions scale with the length; forces are kept in newtons. Between rods of
    unlike meshes, rotations are read off their polynomials at the same shares of the length.

    Examples
    --------
    >>> from bowfem.rod import Rod, TautString, clamp, pull
    >>> limb, other = (Rod.straight(0.6, n_elements=8, EI=EI) for EI in (40.0, 40.4))
    >>> drawn = pull(limb, [clamp(0)], TautString(), [(0.0, 0.3)], 0.58, begin=(0.0, 0.15, 0.62))
    >>> again = pull(other, [clamp(0)], TautString(), [(0.0, 0.3)], 0.58, begin=(0.0, 0.0, 0.0),
    ...              start=transferred(drawn, other))
    >>> round(float(again.pull[-1, 1] / drawn.pull[-1, 1]), 6)
    1.01
    """
    if len(path) == 0:
        raise InputError("path", "no state", "of at least one state")
    n, raw = rod.n_elements, path.raw[-1].copy()
    here, there = path.rod.nodes / path.rod.length, rod.nodes / rod.length
    if n != path.rod.n_elements or np.max(np.abs(here - there)) > APART:
        raw = _on_mesh(raw, here, there)
        turns = raw[: n * (P + 1)].reshape(1, n, P + 1)
        path = replace(path, bending=turns @ SLOPE.T / np.diff(rod.nodes)[:, None])
    first, last = n * (P + 1), n * (P + 1) + 2 * (n + 1)
    raw[first:last] *= path.rod.length / rod.length
    force, other = (float(np.max(one.EI)) / one.length**2 for one in (path.rod, rod))
    raw[last:] *= force / other
    return replace(path, rod=rod, raw=raw[None])


def _on_mesh(raw: Array, here: Array, there: Array) -> Array:
    """Read a base vector off at the nodes of another mesh; nodes as shares of the length."""
    n = here.size - 1
    turn = raw[: n * (P + 1)].reshape(n, P + 1)
    place = raw[n * (P + 1) : n * (P + 1) + 2 * (n + 1)].reshape(n + 1, 2)
    force = raw[-1 - 2 * n : -1].reshape(n, 2)
    h = np.diff(there)
    at = there[:-1, None] + h[:, None] * NODE_X
    inside = there[:-1] + 0.5 * h  # of each new element
    e = np.clip(np.searchsorted(here, at, side="right") - 1, 0, n - 1)
    e[:, -1] = np.clip(np.searchsorted(here, there[1:], side="left") - 1, 0, n - 1)
    t = (at - here[e]) / np.diff(here)[e]
    powers = t[..., None] ** np.arange(P + 1)
    weights = np.einsum("...k,jk->...j", powers, NODE_COEF)
    turned = np.sum(weights * turn[e], axis=-1)
    placed = np.stack([np.interp(there, here, place[:, i]) for i in range(2)], axis=-1)
    forced = force[np.clip(np.searchsorted(here, inside) - 1, 0, n - 1)]
    return np.concatenate([turned.ravel(), placed.ravel(), forced.ravel(), raw[-1:]])
