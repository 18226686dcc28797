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
    curves, change = _curves(ring, unknowns)
    parts: list[list[Array]] = []
    for a, b in pairwise(ring.ends.tolist()):
        value, integral = _reading(b - a, samples)
        from_first = (integral - gauss(b - a)[2][0]).T
        speed = ring.speed[:, None, a:b]
        parts.append(
            [at[..., a, None] + (rate[..., a:b] * speed) @ from_first for at, rate in curves]
        )
        parts[-1].append(change[..., a:b] @ value.T)
    return _scaled(ring, [np.concatenate(part, axis=2) for part in zip(*parts, strict=True)])


def at_points(ring: Ring, unknowns: Array) -> Wall:
    """Return the wall at its collocation points, between the middles of back and belly.

    Arguments as in `sampled`; arrays (b, n_k, m + 2).
    """
    curves, change = _curves(ring, unknowns)
    inner = _scaled(ring, [*(at for at, _ in curves), change])
    ends = sampled(ring, unknowns, 2)
    return Wall(
        *(
            np.concatenate([end[..., :1], points, end[..., -1:]], axis=2)
            for points, end in zip(inner, ends, strict=True)
        )
    )


def _curves(ring: Ring, unknowns: Array) -> tuple[list[tuple[Array, Array]], Array]:
    """Return arc, x, y and angle at the points, each with its rate along the wall; the change."""
    p, root = unknowns[..., : ring.root.shape[1]], ring.root[:, None]
    change = np.divide(p, root, out=np.zeros_like(p), where=root > 0.0)
    angle = ring.angle[:, None] + p @ np.swapaxes(ring.turning, 1, 2)
    sine, cosine, one = np.sin(angle), np.cos(angle), np.ones_like(p)
    lifting, running = (np.swapaxes(part, 1, 2) for part in (ring.lifting, ring.running))
    y = ring.height[:, None] + (sine - np.sin(ring.angle)[:, None]) @ lifting
    curves = [(one @ running, one), (cosine @ running, cosine), (y, sine)]
    return [*curves, (angle, ring.bend[:, None] + change)], change


def _scaled(ring: Ring, parts: list[Array]) -> Wall:
    radius = ring.radius[:, None, None]
    arc, x, y, angle, change = parts
    return Wall(arc * radius, x * radius, y * radius, angle, change / radius)


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
