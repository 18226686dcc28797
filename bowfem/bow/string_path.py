"""The string's way from groove to nock point, and how far it stands off the limb."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Pairs of a point and a piece of string looked at together.
AT_ONCE = 1 << 18


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
    """Return the distance from each surface point to the string, m, shape (n, m).

    Some of the string's pieces are taken at a time, so that memory goes with their number, not with
    its square.
    """
    nearest = np.full(surface.shape[:2], np.inf)
    count = max(1, AT_ONCE // nearest.size)
    for first in range(0, line.shape[1] - 1, count):
        part = line[:, None, first : first + count + 1]
        a, step = part[:, :, :-1], np.diff(part, axis=2)
        size = np.sum(step**2, axis=-1)
        gap = surface[:, :, None] - a
        t = np.clip(np.sum(gap * step, axis=-1) / np.where(size > 0.0, size, 1.0), 0.0, 1.0)
        distance = np.linalg.norm(gap - t[..., None] * step, axis=-1)
        nearest = np.minimum(nearest, np.min(distance, axis=-1))
    return nearest
