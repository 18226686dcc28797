"""What goes on the sheet of a bow: stations on the pipe as cut, and outlines in true size."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import sections_at
from bowfem.design import SLACK, Design, LimbShape, Side

Array = NDArray[np.float64]

#: Straight limb shown before the first bend, and least shown of any limb's end, m.
BEFORE, END = 0.02, 0.075
#: Distance of points of an outline along the limb, m.
OUTLINE_STEP = 0.5e-3


@dataclass(frozen=True)
class Station:
    """One station on the pipe as cut.

    Parameters
    ----------
    what : str
        What is there.
    s, near_end, far_end : float
        From the bow's centre, from this limb's end of the pipe and from the other end, m.
    pressed : float
        Outer thickness the bow's pipe is pressed to, m.
    thickness, width : float
        Outer extents of the whole section as it stands: in the bow's plane, and across it, m.
    """

    what: str
    s: float
    near_end: float
    far_end: float
    pressed: float
    thickness: float
    width: float


@dataclass(frozen=True, eq=False)
class Outline:
    """The end of a limb seen from the side, in true size, m; the archer is on the right.

    Attributes
    ----------
    belly, back : ndarray, shape (n, 2)
        The two faces, from the handle out, first across and then along the limb.
    ticks : tuple
        Of each station on it: its name, and the ends of a line across the limb, shape (2, 2).
    """

    belly: Array
    back: Array
    ticks: tuple[tuple[str, Array], ...]

    @property
    def points(self) -> Array:
        """All points of both faces."""
        return np.concatenate([self.belly, self.back])

    def turned(self, angle: float) -> Outline:
        """Turn it, rad, counter-clockwise."""
        c, s = np.cos(angle), np.sin(angle)
        turn = np.array([[c, s], [-s, c]])
        ticks = tuple((name, line @ turn) for name, line in self.ticks)
        return Outline(self.belly @ turn, self.back @ turn, ticks)

    def moved(self, by: Array) -> Outline:
        """Move it."""
        ticks = tuple((name, line + by) for name, line in self.ticks)
        return Outline(self.belly + by, self.back + by, ticks)


def stations(design: Design, side: Side | None = None) -> list[Station]:
    """Return the stations of a limb to be marked on the pipe, from the handle out."""
    shape = design.shape(side)
    named = _named(shape)
    s = np.array([at for at, _ in named])
    sections = sections_at(design, shape, s)
    cut = design.pipe_choice.cut_length
    return [
        Station(what, at, shape.length - at, cut - shape.length + at, float(p), float(t), float(w))
        for (at, what), p, t, w in zip(
            named, shape.thickness_at(s), sections.thickness, sections.width, strict=True
        )
    ]


def _named(shape: LimbShape) -> list[tuple[float, str]]:
    """Name every station; what falls on one place is told in one line."""
    limb = shape.limb
    found = [(0.0, "centre"), (0.5 * shape.handle.length, "handle ends")]
    found += [(mark.at, f"mark {n}") for n, mark in enumerate(limb.marks, 1)]
    for n, bend in enumerate(limb.bends, 1):
        found += [(bend.start, f"bend {n} begins"), (bend.stop, f"bend {n} ends")]
    if limb.tip is not None:
        start = limb.tip.edge_on_from
        found += [(start, "turning begins"), (start + limb.tip.transition, "edge-on")]
    for word, spans in (("sleeve", limb.sleeves), ("overlay", limb.overlays)):
        for n, span in enumerate(spans, 1):
            found += [(span.start, f"{word} {n} begins"), (span.end, f"{word} {n} ends")]
    found += [(shape.nock_station, "groove"), (shape.length, "end of pipe")]
    merged: list[tuple[float, str]] = []
    for at, what in sorted(each for each in found if each[0] <= shape.length + SLACK):
        if merged and at - merged[-1][0] <= SLACK:
            merged[-1] = merged[-1][0], f"{merged[-1][1]}, {what}"
        else:
            merged.append((min(at, shape.length), what))
    return merged


def outline(design: Design, side: Side | None = None) -> Outline:
    """Return the formed end of a limb in true size: bends, tip, groove.

    Notes
    -----
    The axis follows the formed curvature; either face is half the section's depth from it. Between
    breaks the curvature is constant, so that the points of the axis lie on true arcs.
    """
    shape = design.shape(side)
    limb = shape.limb
    starts = [bend.start for bend in limb.bends]
    if limb.tip is not None:
        starts.append(limb.tip.edge_on_from)
    first = max(0.0, min([*starts, shape.length - END]) - BEFORE)
    stops = [first, *(s for s in shape.breaks if s > first + SLACK), shape.length]
    s = np.unique(
        np.concatenate(
            [
                np.linspace(a, b, max(2, int(np.ceil((b - a) / OUTLINE_STEP)) + 1))
                for a, b in pairwise(stops)
            ]
        )
    )
    angle = shape.natural_angle(s)
    turn, middle = np.diff(angle), 0.5 * (angle[1:] + angle[:-1])
    chord = np.diff(s) * np.sinc(turn / (2.0 * np.pi))  # of a true arc
    steps = np.stack([np.sin(middle), np.cos(middle)], axis=-1) * chord[:, None]
    axis = np.concatenate([np.zeros((1, 2)), np.cumsum(steps, axis=0)])
    depth = sections_at(design, shape, s).thickness
    across = np.stack([np.cos(angle), -np.sin(angle)], axis=-1)
    half = 0.5 * depth[:, None] * across
    ticks = []
    for at, what in _named(shape):
        if at < first:
            continue
        i = int(np.argmin(np.abs(s - at)))
        over = half[i] + 2e-3 * across[i]
        ticks.append((what, np.stack([axis[i] - over, axis[i] + over])))
    return Outline(axis + half, axis - half, tuple(ticks))
