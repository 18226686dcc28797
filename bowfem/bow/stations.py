"""Where a limb's record is kept: at its elements' stations, its ends, and either side of a corner.

Bending peaks where thickness, turn or lining changes at once; no station lies there. Values go on
to there by the elements' own polynomials.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.limb_model import LimbModel
from bowfem.rod import STATIONS, element_ends

Array = NDArray[np.float64]

#: Distance of a corner's two sides from it, m.
SIDE = 1e-6


class RecordStations:
    """Stations of a limb's record, m of them, and how what the solver knows is laid on them.

    Attributes
    ----------
    s : ndarray, shape (m,)
        m along the pipe from the bow's centre, rising.
    """

    def __init__(self, model: LimbModel) -> None:
        self.rod, self.corners = model.rod, model.corners
        node, stations = self.rod.nodes[self.corners], self.rod.stations.ravel()
        inside = self._insert(stations, node - SIDE, node + SIDE)
        self.s = np.concatenate([[0.0], inside, [self.rod.length]])

    def along(self, values: Array) -> Array:
        """Lay values at the elements' stations on them, (n, m); the first axis counts states."""
        values = values.reshape(len(values), -1, STATIONS)
        begin, end = element_ends(values)
        first, last = begin[:, 0], end[:, -1]
        # no further from the next station than that is from the one after it
        begin = _near(begin, values[..., 0], values[..., 1])
        end = _near(end, values[..., -1], values[..., -2])
        flat = values.reshape(len(values), -1)
        inside = self._insert(flat, end[:, self.corners - 1], begin[:, self.corners])
        return np.concatenate([first[:, None], inside, last[:, None]], axis=1)

    def places(self, nodes: Array, inside: Array) -> Array:
        """Lay places of the nodes (n, n_elements + 1, 2) and of the stations on them, (n, m, 2)."""
        at, inside = nodes[:, self.corners], inside.reshape(len(inside), -1, 2)
        before = at + SIDE * _way(inside[:, STATIONS * self.corners - 1] - at)
        after = at + SIDE * _way(inside[:, STATIONS * self.corners] - at)
        pairs = [(inside[..., i], before[..., i], after[..., i]) for i in (0, 1)]
        middle = np.stack([self._insert(*each) for each in pairs], axis=-1)
        return np.concatenate([nodes[:, :1], middle, nodes[:, -1:]], axis=1)

    def _insert(self, values: Array, before: Array, after: Array) -> Array:
        """Put two values, before and after, at each corner."""
        pairs = np.stack([before, after], axis=-1).reshape(*before.shape[:-1], -1)
        return np.insert(values, np.repeat(STATIONS * self.corners, 2), pairs, axis=-1)


def _way(step: Array) -> Array:
    return step / np.linalg.norm(step, axis=-1, keepdims=True)


def _near(value: Array, beside: Array, next_: Array) -> Array:
    room = np.abs(beside - next_)
    return np.clip(value, beside - room, beside + room)
