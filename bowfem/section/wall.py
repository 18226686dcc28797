"""The deformed wall between its collocation points: shape, and what is read off it."""

from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem.section._numerics import gauss
from bowfem.section.ring import Ring

Array = NDArray[np.float64]

#: Samples of each element, its ends included.
SAMPLES = 49


class Wall(NamedTuple):
    """Hold the right half of the mid-wall from back to belly; arrays (b, n_k, samples).

    Attributes
    ----------
    arc : ndarray
        Length from the middle of the back, m.
    x, y : ndarray
        Position across the width, and above the mean height of the mid-wall, m.
    angle : ndarray
        Angle of the tangent from the width axis, rad.
    change : ndarray
        Change of the wall's curvature, 1/m.
    """

    arc: Array
    x: Array
    y: Array
    angle: Array
    change: Array


def sampled(ring: Ring, unknowns: Array, samples: int = SAMPLES) -> Wall:
    """Sample the wall of every section in every state.

    Parameters
    ----------
    ring : Ring
        The walls of b sections.
    unknowns : ndarray, shape (b, n_k, n)
        States, as `RingPath` holds them.
    samples : int, optional
        Samples of each element, its ends included.
    """
    m, radius = ring.root.shape[1], ring.radius[:, None, None]
    p, root = unknowns[..., :m], ring.root[:, None]
    change = np.divide(p, root, out=np.zeros_like(p), where=root > 0.0)
    angle = ring.angle[:, None] + p @ np.swapaxes(ring.turning, 1, 2)
    sine, cosine, one = np.sin(angle), np.cos(angle), np.ones_like(p)
    lifting, running = (np.swapaxes(part, 1, 2) for part in (ring.lifting, ring.running))
    y = ring.height[:, None] + (sine - np.sin(ring.angle)[:, None]) @ lifting
    curves = (  # each with its rate along the wall
        (one @ running, one),
        (cosine @ running, cosine),
        (y, sine),
        (angle, ring.bend[:, None] + change),
    )
    parts: list[list[Array]] = []
    for a, b in pairwise(ring.ends.tolist()):
        value, integral = _reading(b - a, samples)
        from_first = (integral - gauss(b - a)[2][0]).T
        speed = ring.speed[:, None, a:b]
        parts.append([at[..., a, None] + (rate[..., a:b] * speed) @ from_first
                      for at, rate in curves])  # fmt: skip
        parts[-1].append(change[..., a:b] @ value.T)
    arc, x, y, turn, bend = (np.concatenate(part, axis=2) for part in zip(*parts, strict=True))
    return Wall(arc * radius, x * radius, y * radius, turn, bend / radius)


@lru_cache(maxsize=16)
def _reading(points: int, samples: int) -> tuple[Array, Array]:
    """Return matrices from Gauss points to samples: values, and integrals from the start."""
    u = np.linspace(0.0, 1.0, samples)
    node, weight, _ = gauss(points)
    degree = np.arange(points)
    legendre = np.polynomial.legendre.legvander
    fit = (2.0 * degree[:, None] + 1.0) * legendre(2.0 * node - 1.0, points - 1).T * weight
    values = legendre(2.0 * u - 1.0, points)
    integral = np.empty((samples, points))
    integral[:, 0] = u
    integral[:, 1:] = 0.5 * (values[:, 2:] - values[:, : points - 1]) / (2.0 * degree[1:] + 1.0)
    return values[:, :points] @ fit, integral @ fit
