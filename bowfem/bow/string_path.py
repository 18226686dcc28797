"""The string's way from groove to nock point, and how far it stands off the limb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def string_line(s: Array, surface: Array, contact: Array, leaves: Array, nock: Array) -> Array:
    """Draw the string's centre-line from groove to nock point, shape (n, k, 2), padded at the end.

    `surface` (n, m, 2) is the line the string's centre may touch; see `LimbStates` for the rest.
    """
    lines = []
    for i in range(len(surface)):
        points = [surface[i, -1]]
        for outer, inner in contact[i]:
            if np.isnan(outer):
                continue
            on = np.concatenate([[outer], s[(s < outer) & (s > inner)][::-1], [inner]])
            points += [np.array([np.interp(q, s, surface[i, :, k]) for k in (0, 1)]) for q in on]
        lines.append([*points, leaves[i], nock[i]])
    longest = max(map(len, lines))
    return np.array([line + [line[-1]] * (longest - len(line)) for line in lines])


def clearance(surface: Array, line: Array) -> Array:
    """Return the distance from each surface point to the string, m, shape (n, m)."""
    a, step = line[:, None, :-1], np.diff(line, axis=1)[:, None]
    size = np.sum(step**2, axis=-1)
    gap = surface[:, :, None] - a
    t = np.clip(np.sum(gap * step, axis=-1) / np.where(size > 0.0, size, 1.0), 0.0, 1.0)
    distance = np.linalg.norm(gap - t[..., None] * step, axis=-1)
    return np.min(distance, axis=-1)
