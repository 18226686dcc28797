"""The formed ends of the limbs in true size, cut into pages."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bowfem.show.page.paper import FOOT, HEAD, MARGIN, Size, bars, heading, new_page, plane
from bowfem.show.page.sheet_parts import Outline
from bowfem.show.plot.bow import BLUE, GREY, INK

if TYPE_CHECKING:
    from bowfem.design import Design

#: Overlap of tiles, m.
OVERLAP = 0.012


@dataclass(frozen=True)
class Tile:
    """One page of an outline: its figure's name and the place of its lower left corner, m."""

    name: str
    corner: tuple[float, float]


def tiled(shape: Outline, size: Size) -> tuple[Outline, list[Tile]]:
    """Turn an outline so that it needs the fewest pages, and cut it into them.

    Parameters
    ----------
    shape : Outline
        The outline.
    size : tuple of float
        Paper, m.

    Returns
    -------
    turned : Outline
        In the plane of the pages joined, its lower left corner at zero.
    tiles : list of Tile
        Pages that have some of it.
    """
    room = np.array([size[0] - 2 * MARGIN, size[1] - 2 * MARGIN - HEAD - FOOT])
    step = room - OVERLAP
    pad = 0.008
    best: tuple[float, float, Outline, list[Tile]] | None = None
    for angle in np.deg2rad(np.arange(0.0, 180.0, 3.0)):
        turned = shape.turned(float(angle))
        every = np.concatenate([turned.points, *(line for _, line in turned.ticks)])
        turned = turned.moved(pad - np.min(every, axis=0))
        reach = np.ptp(every, axis=0) + 2 * pad
        across, up = (int(count) for count in np.maximum(1, np.ceil((reach - OVERLAP) / step)))
        # the joined pages are centred on the outline
        spare = 0.5 * (room + step * (np.array([across, up]) - 1) - reach)
        turned = turned.moved(np.maximum(spare, 0.0))
        points = np.concatenate([turned.points, *(line for _, line in turned.ticks)])
        tiles = []
        for j in range(up):
            for i in range(across):
                corner = step * np.array([i, j])
                inside = np.all((points >= corner) & (points <= corner + room), axis=1)
                if np.any(inside):
                    at = (float(corner[0]), float(corner[1]))
                    tiles.append(Tile(f"{chr(65 + j)}{i + 1}", at))
        key = (len(tiles), float(reach[0] * reach[1]))
        if best is None or key < best[:2]:
            best = (*key, turned, tiles)
    assert best is not None
    return best[2], best[3]


def outline_pages(shape: Outline, name: str, design: Design, size: Size) -> list[Any]:
    """Draw an outline in true size, on as many pages as it takes."""
    turned, tiles = tiled(shape, size)
    found = []
    for tile in tiles:
        figure = new_page(size)
        ax, wide, high = plane(figure, size)
        x, y = tile.corner
        ax.set_xlim(x, x + wide)
        ax.set_ylim(y, y + high)
        for line, gid in ((turned.belly, "belly"), (turned.back, "back")):
            ax.plot(*line.T, color=BLUE, lw=0.9, gid=gid)
        ax.plot(*np.stack([turned.belly[-1], turned.back[-1]]).T, color=BLUE, lw=0.9)
        _ticks(ax, turned, (x, y, wide, high))
        _sides(ax, turned)
        for spine in ax.spines.values():
            spine.set(color=GREY, lw=0.5, ls=(0, (4, 4)))
        more = f", {tile.name} of {len(tiles)} pages (frames overlap {1000 * OVERLAP:.0f} mm)"
        more = more if len(tiles) > 1 else ""
        heading(figure, size, design, f"end of the limb in true size, {name}{more}")
        bars(figure, size)
        found.append(figure)
    return found


def _ticks(ax: Any, shape: Outline, frame: tuple[float, float, float, float]) -> None:
    """Mark the stations across the limb, with their names to one side, apart from each other."""
    x, y, wide, high = frame
    taken: list[tuple[float, float]] = []
    for name, line in shape.ticks:
        ax.plot(*line.T, color=INK, lw=0.8)
        way = line[0] - line[1]
        way = way / np.hypot(*way)
        at = line[0] + 0.002 * way
        right = way[0] >= 0.0
        for _ in range(40):
            if all(abs(at[1] - b) > 0.0042 or abs(at[0] - a) > 0.045 for a, b in taken):
                break
            at = at + 0.0021 * way
        inside = x + 0.001 < at[0] < x + wide - 0.001 and y + 0.002 < at[1] < y + high - 0.002
        taken.append((float(at[0]), float(at[1])))
        if not inside:
            continue
        ax.plot([line[0, 0], at[0]], [line[0, 1], at[1]], color=GREY, lw=0.4)
        ax.text(
            at[0],
            at[1],
            f" {name} ",
            ha="left" if right else "right",
            va="center",
            fontsize=7.5,
            color=INK,
            clip_on=True,
        )


def _sides(ax: Any, shape: Outline) -> None:
    """Say which face is which, inside the outline's two lines or just outside them."""
    n = len(shape.belly)
    marks = np.array([0.5 * (line[0] + line[1]) for _, line in shape.ticks])
    middle = 0.5 * (shape.belly + shape.back)
    free = np.min(np.linalg.norm(middle[:, None] - marks, axis=-1), axis=1)
    for part in (slice(n // 20, 2 * n // 5), slice(3 * n // 5, n - n // 20)):
        i = part.start + int(np.argmax(free[part]))  # as far as can be from a mark's own text
        for line, other, text in (
            (shape.belly, shape.back, "belly"),
            (shape.back, shape.belly, "back"),
        ):
            out = line[i] - other[i]
            at = line[i] + 0.0035 * out / np.hypot(*out)
            along = line[min(i + 1, n - 1)] - line[i - 1]
            turn = float(np.rad2deg(np.arctan2(along[1], along[0])))
            turn = (turn + 90.0) % 180.0 - 90.0
            ax.text(
                *at,
                text,
                rotation=turn,
                ha="center",
                va="center",
                fontsize=7,
                color=GREY,
                clip_on=True,
            )
