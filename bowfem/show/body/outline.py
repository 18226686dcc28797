"""Outlines to sweep: a pressed pipe's wall at any thickness, and a round tube along a line."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bowfem.section import Outline, Pipe, circle, onset_thickness, pressed

Array = NDArray[np.float64]
Cells = NDArray[np.int64]

#: Thicknesses at which outlines are pressed; those between are interpolated.
PRESSED = 97


def outlines(pipe: Pipe, around: int, thickness: Array) -> tuple[Array, Array]:
    """Return a pressed pipe's wall at any thicknesses.

    Parameters
    ----------
    pipe : Pipe
        The pipe.
    around : int
        Points round the wall, a multiple of four.
    thickness : ndarray, shape (m,)
        Outer thickness as pressed, m; below twice the wall it counts as that.

    Returns
    -------
    across, high : ndarray, shape (m, n_around, 2)
        Places of inner and outer surface across the width and through the thickness, m.
    """
    table, x, y, normal_x, normal_y = _pressed(pipe, around)
    place = np.clip(np.searchsorted(table, thickness, side="right") - 1, 0, table.size - 2)
    part = (thickness - table[place]) / (table[place + 1] - table[place])
    part = np.clip(part, 0.0, 1.0)[:, None]  # faces that touch give a little

    def read(values: Array) -> Array:
        return (1.0 - part) * values[place] + part * values[place + 1]

    offset = 0.5 * pipe.wall * np.array([-1.0, 1.0])
    across = read(x)[..., None] + offset * read(normal_x)[..., None]
    return across, read(y)[..., None] + offset * read(normal_y)[..., None]


@lru_cache(maxsize=8)
def _pressed(pipe: Pipe, around: int) -> tuple[Array, Array, Array, Array, Array]:
    """Return thicknesses, and the mid-wall and its normals there at points round it."""
    closed, full, onset = 2.0 * pipe.wall, pipe.outer_diameter, onset_thickness(pipe)
    table = np.linspace(closed, full, PRESSED)
    if closed < onset < full:  # where flats begin the outline has a kink in thickness
        table = np.unique(np.append(table, onset))
    made = [pressed(pipe, float(each)) for each in table[:-1]] + [circle(pipe)]
    walls = [_round_the_wall(one, around) for one in made]
    x, y, normal_x, normal_y = (np.array(part) for part in zip(*walls, strict=True))
    return table, x, y, normal_x, normal_y


def _round_the_wall(outline: Outline, around: int) -> tuple[Array, Array, Array, Array]:
    """Read mid-wall and normals at points spaced half by arc, half by turn of the wall.

    Counter-clockwise from the middle of the edge at positive x; cubics with the wall's own
    direction between the outline's points.
    """
    arc, total = outline.arc, outline.perimeter
    angle = outline.angle - 0.5 * np.pi
    # the first and last point lie a little beside the middle of the edge: close the loop
    knots = np.concatenate([[arc[-1] - total], arc, [arc[0] + total]])
    turned = np.concatenate([[angle[-1] - 2.0 * np.pi], angle, [angle[0] + 2.0 * np.pi]])
    measure = 0.5 * (knots / total + turned / (2.0 * np.pi))
    at = np.interp(np.arange(around) / around, measure, knots)
    quarter = around // 4
    at[::quarter] = total * np.arange(4) / 4.0  # by symmetry

    def closed(values: Array) -> Array:
        return np.concatenate([values[-1:], values, values[:1]])

    x, y, nx, ny = (closed(v) for v in (outline.x, outline.y, outline.normal_x, outline.normal_y))
    cell = np.clip(np.searchsorted(knots, at, side="right") - 1, 0, knots.size - 2)
    h = (knots[cell + 1] - knots[cell]).clip(1e-12)  # a circle's flats have no length
    u = (at - knots[cell]) / h
    v = 1.0 - u

    def read(values: Array, way: Array) -> Array:
        return (
            v * v * (1.0 + 2.0 * u) * values[cell]
            + u * u * (1.0 + 2.0 * v) * values[cell + 1]
            + u * v * h * (v * way[cell] - u * way[cell + 1])
        )

    turn = np.interp(at, knots, turned)
    return read(x, -ny), read(y, nx), np.cos(turn), np.sin(turn)


def rod(radius: float, around: int, count: int) -> tuple[Array, Array]:
    """Return a solid rod as a ring with next to no bore; results as of `outlines`.

    Notes
    -----
    A cell keeps eight points of its own that way. What it lacks is a millionth of its area.
    """
    turn = 2.0 * np.pi * np.arange(around) / around
    radii = radius * np.array([1e-3, 1.0])
    shape = (count, around, 2)
    return (
        np.broadcast_to(np.cos(turn)[:, None] * radii, shape),
        np.broadcast_to(np.sin(turn)[:, None] * radii, shape),
    )


def plate(width: Array, back: Array, deep: float, across: int) -> tuple[Array, Array]:
    """Return a strip on the back, its glued face first; results as of `outlines`.

    Parameters
    ----------
    width, back : ndarray, shape (m,)
        Its width, and the distance of its glued face behind the axis, m.
    deep : float
        Its thickness, m.
    across : int
        Points across the width.
    """
    place = np.linspace(-0.5, 0.5, across)[None, :, None] * width[:, None, None]
    high = -back[:, None, None] - deep * np.array([0.0, 1.0])
    shape = (width.size, across, 2)
    return np.broadcast_to(place, shape), np.broadcast_to(high, shape)


def band(surface: Array, *, cut: bool = False) -> tuple[Array, Cells]:
    """Lay cells on a wrap's surface, (k, n_around, 3); all round it, or its half at positive z.

    Returns
    -------
    points, cells : ndarray
        As of `tube`.
    """
    count, around = surface.shape[:2]
    j = np.arange(-around // 4, around // 4) if cut else np.arange(around)
    i, j, after = np.arange(count - 1)[:, None] * around, j[None] % around, (j[None] + 1) % around
    cells = np.stack([i + j, i + after, i + around + after, i + around + j], axis=-1)
    return surface.reshape(-1, 3), cells.reshape(-1, 4)


def tube(line: Array, radius: float, around: int = 10) -> tuple[Array, Cells]:
    """Lay a round tube along a line in the plane of the bow.

    Parameters
    ----------
    line : ndarray, shape (k, 3)
        At least two points, no two of them alike, m.
    radius : float
        Its radius, m.
    around : int
        Points round it.

    Returns
    -------
    points : ndarray, shape (k * around, 3)
        m.
    cells : ndarray, shape (n, 4)
        Its surface without the ends.
    """
    way = np.gradient(line[:, :2], axis=0)
    way /= np.linalg.norm(way, axis=1)[:, None]
    side = np.stack([way[:, 1], -way[:, 0], np.zeros(len(line))], axis=-1)
    turn = 2.0 * np.pi * np.arange(around) / around
    ring = np.cos(turn)[:, None] * side[:, None] + np.sin(turn)[:, None] * np.array([0.0, 0.0, 1.0])
    i, j = np.arange(len(line) - 1)[:, None] * around, np.arange(around)[None]
    after = (j + 1) % around
    cells = np.stack([i + j, i + around + j, i + around + after, i + after], axis=-1)
    return (line[:, None] + radius * ring).reshape(-1, 3), cells.reshape(-1, 4)
