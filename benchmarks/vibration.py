"""Small vibrations about any equilibrium, from what the public names give: unit forces.

In a mode of circular frequency ``w`` the rod moves as its inertia pushes, with ``w^2`` times mass
times displacement. The flexibility, displacements under small forces at the nodes, is measured by
`follow` from the equilibrium, so prestress and shape are in it. With masses at the nodes that are
quadrature weights this is Nystroem's method for the mode's integral equation. Rotary inertia is
left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from benchmarks.cases import Array
from bowfem.rod import Force, Path, Rod, Settings, Spring, Support, follow

#: Forces over EI / L^2; of a push and a pull half the difference is kept.
NUDGE, FINE = 1e-5, Settings(tolerance=1e-11)


def gauss_nodes(length: float, inner: int) -> tuple[Array, Array]:
    """Element ends at Gauss points of the whole length, and the length each inner one stands for.

    No mass is at the ends: a pointed tip has none, and a clamp does not move.
    """
    x, w = np.polynomial.legendre.leggauss(inner)
    nodes = np.concatenate([[0.0], 0.5 * (x + 1.0), [1.0]]) * length
    return nodes, np.concatenate([[0.0], 0.5 * w * length, [0.0]])


def frequencies(
    rod: Rod,
    supports: Sequence[Support | Spring],
    masses: Array,
    *,
    loads: Sequence[Force] = (),
    directions: Sequence[str] = ("x", "y"),
) -> Array:
    """Return the circular frequencies, rad/s, lowest first, about the equilibrium under `loads`.

    Parameters
    ----------
    rod, supports, loads
        As in `follow`.
    masses : ndarray, shape (n_elements + 1,)
        Masses at the nodes, kg.
    directions : sequence of {"x", "y"}
        Directions in which the nodes may move.
    """
    stiffness, length = float(np.max(rod.EI)), rod.length
    # as the root of the local stiffness, so that a pointed tip does not turn over
    local = np.minimum(np.append(rod.EI[:, 0], rod.EI[-1, -1]) / stiffness, 1.0)
    push = NUDGE * stiffness / length**2 * np.sqrt(local)
    heavy = np.flatnonzero(masses > 0.0)
    places = [(int(node), way) for way in directions for node in heavy]
    held = tuple(supports)
    still = follow(rod, held, [_constant(load) for load in loads], [1.0], settings=FINE)

    def moved(node: int, way: str, size: float) -> Array:
        x, y = (size, 0.0) if way == "x" else (0.0, size)
        nudge = Force(node=node, x=x, y=y, constant=True)
        both = [*map(_constant, loads), nudge]
        path: Path = follow(rod, held, both, [1.0], start=still, settings=FINE)
        return np.concatenate([path.nodes[0, heavy, "xy".index(d)] for d in directions])

    def per_force(node: int, way: str) -> Array:
        size = push[node]
        return (moved(node, way, size) - moved(node, way, -size)) / (2.0 * size)

    flexible = np.array([per_force(*place) for place in places])
    root = np.sqrt(np.tile(masses[heavy], len(directions)))
    values = np.linalg.eigvalsh(0.5 * (flexible + flexible.T) * np.outer(root, root))
    least = 1e-8 * values[-1]
    return 1.0 / np.sqrt(values[values > least][::-1])


def extrapolated(solve: Callable[[int], Array], n: int) -> Array:
    """Extrapolate from `n` and twice as many masses: the fourth power of their distance is left."""
    return (16.0 * solve(2 * n) - solve(n)) / 15.0


def _constant(load: Force) -> Force:
    return replace(load, constant=True)
