"""A slice of pressed pipe, and a limb with its fade, as swept 20-node hexahedra; half of it, x > 0.

Lengths in mm. A node is counted by its place along the wall (i), through it (j) and along the limb
(k), on a grid twice as fine as the elements; grid places that are no node of a 20-node element are
left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.section import Outline
from bowfem.section.ring import Ring
from bowfem.section.wall import sampled

Array = NDArray[np.float64]

#: Corners, then midsides, of a 20-node hexahedron on its 3 x 3 x 3 grid, in CalculiX's order.
HEX20 = np.array([
    (0, 0, 0), (2, 0, 0), (2, 2, 0), (0, 2, 0), (0, 0, 2), (2, 0, 2), (2, 2, 2), (0, 2, 2),
    (1, 0, 0), (2, 1, 0), (1, 2, 0), (0, 1, 0), (1, 0, 2), (2, 1, 2), (1, 2, 2), (0, 1, 2),
    (0, 0, 1), (2, 0, 1), (2, 2, 1), (0, 2, 1),
])  # fmt: skip


def half_wall(outline: Outline, counts: tuple[int, int]) -> tuple[Array, Array]:
    """Return points of the right half wall, and outward normals, (2 n + 1, 2), mm.

    From the middle of the back (or of one edge, of a turned section) to that of the belly;
    `counts` elements on each flat and on each curved piece.
    """
    ring = Ring.from_outlines([outline])
    state = np.zeros((1, 1, ring.size))
    flats = [piece for piece in _flats(outline)]
    points, normals = [], []
    for number, flat in enumerate(flats):
        wall = sampled(ring, state, 2 * counts[0 if flat else 1] + 1)
        n = 2 * counts[0 if flat else 1] + 1
        part = slice(number * n, (number + 1) * n)
        x, y, angle = (getattr(wall, name)[0, 0, part] for name in ("x", "y", "angle"))
        keep = slice(0 if number == 0 else 1, None)
        points.append(np.stack([x, y], axis=-1)[keep] * 1e3)
        normals.append(np.stack([np.sin(angle), -np.cos(angle)], axis=-1)[keep])
    return np.concatenate(points), np.concatenate(normals)


def _flats(outline: Outline) -> list[bool]:
    lying = [True, False, False, True]
    turned = abs(outline.thickness - outline.width) > 1e-9 and outline.thickness > outline.width
    return [not flat for flat in lying] if turned else lying


@dataclass(frozen=True)
class Mesh:
    """Nodes of a body and its elements.

    Attributes
    ----------
    nodes : dict of int to (3,) ndarray
        Position, mm: across, toward the belly, along the limb.
    elements : ndarray of int, shape (n, 20)
        Node numbers.
    grid : ndarray of int, shape (2 a + 1, 2 b + 1, 2 c + 1)
        Node number at each place of the grid; 0 where there is none.
    """

    nodes: dict[int, Array]
    elements: NDArray[np.int64]
    grid: NDArray[np.int64]

    @classmethod
    def swept(cls, sections: Array) -> Mesh:
        """Make hexahedra of a grid of points, (2 a + 1, 2 b + 1, 2 c + 1, 3), mm."""
        size = sections.shape[:3]
        grid = np.zeros(size, dtype=np.int64)
        a, b, c = ((n - 1) // 2 for n in size)
        elements = []
        for i in range(a):
            for j in range(b):
                for k in range(c):
                    places = HEX20 + 2 * np.array([i, j, k])
                    elements.append(places)
                    grid[tuple(places.T)] = 1
        grid[grid > 0] = np.arange(1, int(grid.sum()) + 1)
        nodes = {int(grid[at]): sections[at] for at in zip(*np.nonzero(grid), strict=True)}
        table = np.array([grid[tuple(places.T)] for places in elements])
        return cls(nodes, table, grid)


def through(points: Array, normals: Array, wall: float, layers: int) -> Array:
    """Return points through the wall, outside first, (2 n + 1, 2 layers + 1, 2), mm."""
    depth = wall * np.linspace(0.5, -0.5, 2 * layers + 1)
    return points[:, None] + depth[:, None] * normals[:, None]
