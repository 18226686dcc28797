"""Where a limb's elements lie: denser where it turns, twists or changes its stiffness."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import ceil

import numpy as np
from numpy.typing import NDArray

from bowfem.design import LimbShape
from bowfem.errors import InputError

Array = NDArray[np.float64]

#: Longest element, as a share of the limb.
ELEMENT = 1.0 / 10.0
#: Largest natural turn in an element, rad, part of a twist to edge-on, and change of the logarithm
#: of the stiffness.
TURN, TWIST, GRADE = 0.4, 0.25, 0.7
#: Places in a stretch between breaks at which these are looked at.
LOOKS = 33
#: Least distance between the wall's middle lines that counts, as a share of the wall.
OPEN = 1e-3


def breaks_of(shape: LimbShape) -> list[float]:
    """Return the ends of the stretches between which a limb changes at once, m."""
    end = shape.nock_station
    return [0.0, *(s for s in shape.breaks if s < end - 1e-6), end]


def element_counts(shape: LimbShape, wall: float, refine: int = 1) -> list[int]:
    """Return the number of elements in each stretch of a limb between breaks.

    `wall` of its pipe, m: the stiffness goes about as the square of what lies between the wall's
    middle lines.
    """
    _, reached = _looks(shape, wall)
    return [refine * max(1, ceil(each[-1] - 1e-9)) for each in reached]


def nodes_of(shape: LimbShape, counts: Sequence[int], wall: float) -> Array:
    """Return the ends of so many elements in each stretch, m from the bow's centre."""
    places, reached = _looks(shape, wall)
    if len(counts) != len(places):
        raise InputError("counts", len(counts), f"{len(places)} counts, one a stretch")
    nodes = [np.zeros(1)]
    for s, up_to, count in zip(places, reached, counts, strict=True):
        inner = np.arange(1, count) / count * up_to[-1]
        nodes += [np.interp(inner, up_to, s), s[-1:]]
    return np.concatenate(nodes)


def split(nodes: Array, which: NDArray[np.bool_]) -> Array:
    """Return nodes with some of the elements between them halved."""
    middle = 0.5 * (nodes[1:] + nodes[:-1])
    return np.sort(np.concatenate([nodes, middle[which]]))


def _looks(shape: LimbShape, wall: float) -> tuple[list[Array], list[Array]]:
    """Return places along each stretch, and how many elements are wanted up to each."""
    end = shape.nock_station
    places = [np.linspace(a, b, LOOKS) for a, b in pairwise(breaks_of(shape))]
    s = np.concatenate(places)
    between = np.maximum(shape.thickness_at(s) - wall, OPEN * wall)
    told = (shape.natural_angle(s), TURN), (shape.edge_on_share(s), TWIST)
    wanted = np.diff(s) / (ELEMENT * end)
    for values, most in (*told, (2.0 * np.log(between), GRADE)):
        wanted = np.maximum(wanted, np.abs(np.diff(values)) / most)
    parts = (wanted[i * LOOKS : (i + 1) * LOOKS - 1] for i in range(len(places)))
    return places, [np.concatenate([[0.0], np.cumsum(part)]) for part in parts]
