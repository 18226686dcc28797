"""Shape of a limb along the pipe: pressed thickness, formed curvature, turning edge-on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.design.entries import SLACK
from bowfem.design.limb import Limb, Tip
from bowfem.design.parts import Handle
from bowfem.errors import InputError
from bowfem.section import Pipe

Array = NDArray[np.float64]
Size = TypeVar("Size", float, Array)


@dataclass(frozen=True)
class ThicknessRun:
    """Outer thickness against distance from the bow's centre.

    Parameters
    ----------
    knots : (n,) ndarray
        Distances from the centre, increasing, m: the end of the round handle, then the marks.
    thicknesses : (n,) ndarray
        Outer thickness at the knots, m.
    slopes : (n,) ndarray or None
        Slope at the knots of a smooth run; None for straight lines.
    rounded : bool
        Whether the first stretch, the fade, begins and ends along its neighbours: half a cosine.
    """

    knots: Array
    thicknesses: Array
    slopes: Array | None
    rounded: bool = False

    @classmethod
    def from_limb(cls, limb: Limb, handle: Handle, pipe: Pipe) -> ThicknessRun:
        """Run from the round handle through the marks of a limb."""
        knots, thicknesses = [0.5 * handle.length], [pipe.outer_diameter]
        for mark in limb.marks:
            thickness = pipe.outer_diameter if mark.thickness == "round" else mark.thickness
            if mark.at <= knots[0] + SLACK:
                continue  # a round mark at the handle's end says what is known
            fade = knots[0] + (handle.fade or 0.0)
            if len(knots) == 1 and handle.fade is not None and fade < mark.at - SLACK:
                knots.append(fade)
                thicknesses.append(float(thickness))
            knots.append(mark.at)
            thicknesses.append(float(thickness))
        x, y = np.array(knots), np.array(thicknesses)
        slopes = _monotone_slopes(x, y) if limb.taper == "smooth" else None
        return cls(x, y, slopes, handle.fade_shape == "rounded" and len(x) > 1)

    @property
    def fade(self) -> tuple[float, float]:
        """Where the fade from the round handle begins and ends, m."""
        return float(self.knots[0]), float(self.knots[1])

    def at(self, s: ArrayLike) -> Array:
        """Return the outer thickness at distances `s` from the centre, m, same shape."""
        s = np.clip(np.asarray(s, dtype=float), self.knots[0], self.knots[-1])
        found = self._along(s)
        if not self.rounded:
            return found
        (a, b), (round_, flat) = self.fade, self.thicknesses[:2]
        half = 0.5 * (1.0 - np.cos(np.pi * np.clip((s - a) / (b - a), 0.0, 1.0)))
        return np.where(s < b, round_ + (flat - round_) * half, found)

    def _along(self, s: Array) -> Array:
        x, y, slopes = self.knots, self.thicknesses, self.slopes
        if slopes is None or len(x) == 1:
            return np.asarray(np.interp(s, x, y))
        cell = np.clip(np.searchsorted(x, s, side="right") - 1, 0, len(x) - 2)
        width = x[cell + 1] - x[cell]
        u = (s - x[cell]) / width
        v = 1.0 - u
        ends = v * v * (1.0 + 2.0 * u) * y[cell] + u * u * (1.0 + 2.0 * v) * y[cell + 1]
        return ends + u * v * width * (v * slopes[cell] - u * slopes[cell + 1])


def _monotone_slopes(x: Array, y: Array) -> Array:
    """Return slopes at the knots of a run that has no hump between them.

    Notes
    -----
    Weighted harmonic mean of the neighbouring secants, zero at a turn (F. N. Fritsch and
    J. Butland 1984, M); zero at both ends, where the run joins the handle and the constant end.
    """
    slopes = np.zeros_like(x)
    if len(x) < 3:
        return slopes
    h, secants = np.diff(x), np.diff(y) / np.diff(x)
    same_way = secants[1:] * secants[:-1] > 0.0
    before, after = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    safe = np.where(same_way, secants[:-1], 1.0), np.where(same_way, secants[1:], 1.0)
    means = (before + after) / (before / safe[0] + after / safe[1])
    slopes[1:-1] = np.where(same_way, means, 0.0)
    return slopes


@dataclass(frozen=True)
class Fade:
    """The run from the round handle to the pressed limb.

    Parameters
    ----------
    start, stop : float
        Distances from the bow's centre, m.
    thickness : float
        What the pipe is pressed to at its end, m.
    rounded : bool
        Whether its ends are rounded.
    bump : str
        Side on which the round handle stands out: "middle", "back" or "belly".
    offset : float
        How far the middle of the limb lies toward the archer of the handle's axis at its end, m:
        ``(D - h) / 2`` where the limb is flush with the handle on one side.
    """

    start: float
    stop: float
    thickness: float
    rounded: bool
    bump: str
    offset: float

    @property
    def length(self) -> float:
        """Its length, m."""
        return self.stop - self.start


@dataclass(frozen=True)
class Turning:
    """Formed curvature, constant from break to break, and the angle it adds up to.

    Parameters
    ----------
    breaks : (n,) ndarray
        Distances from the centre where the curvature changes, m; the first is 0.
    curvatures : (n,) ndarray
        Curvature from each break to the next, 1/m; positive toward the archer.
    angles : (n,) ndarray
        Angle at the breaks, rad; positive toward the archer.
    """

    breaks: Array
    curvatures: Array
    angles: Array

    @classmethod
    def from_limb(cls, limb: Limb, handle: Handle, fade: Fade | None = None) -> Turning:
        """Turn by the set in the handle, to one side and back through a fade, then by each bend.

        Angles are summed from the bends themselves, so that the end of a 90-degree bend stands
        at 90 degrees whatever the round-off of its ends.
        """
        half_handle = 0.5 * handle.length
        breaks, curvatures, angles = (
            [0.0, half_handle],
            [(0.0 - handle.set) / half_handle, 0.0],
            [0.0],
        )
        angles.append(0.0 - handle.set)
        if fade is not None and fade.offset:
            middle = 0.5 * (fade.start + fade.stop)
            curvature = fade.offset / (middle - fade.start) ** 2
            breaks += [middle, fade.stop]
            curvatures[-1] = curvature
            curvatures += [-curvature, 0.0]
            angles += [angles[-1] + curvature * (middle - fade.start), angles[-1]]
        for bend in limb.bends:
            if bend.start > breaks[-1]:
                breaks.append(bend.start)
                curvatures.append(bend.curvature)
                angles.append(angles[-1])
            else:  # begins where the handle or the bend before it ends
                curvatures[-1] = bend.curvature
            breaks.append(bend.stop)
            curvatures.append(0.0)
            angles.append(angles[-1] + bend.turn)
        return cls(np.array(breaks), np.array(curvatures), np.array(angles))

    def curvature(self, s: ArrayLike) -> Array:
        """Return the curvature at distances `s`, 1/m; at a break, that beyond it."""
        s = np.asarray(s, dtype=float)
        return self.curvatures[np.searchsorted(self.breaks, s, side="right") - 1]

    def angle(self, s: ArrayLike) -> Array:
        """Return the angle at distances `s`, rad."""
        return np.asarray(np.interp(np.asarray(s, dtype=float), self.breaks, self.angles))


def edge_on_share(tip: Tip | None, s: ArrayLike) -> Array:
    """Return how far the section is turned at distances `s`: 0 flat, 1 edge-on.

    Notes
    -----
    ``3 u^2 - 2 u^3`` over the transition: no kink at either end.
    """
    s = np.asarray(s, dtype=float)
    if tip is None:
        return np.zeros_like(s)
    u = np.clip((s - tip.edge_on_from) / tip.transition, 0.0, 1.0)
    return u * u * (3.0 - 2.0 * u)


def flat_width(pipe: Pipe, thickness: Size) -> Size:
    """Return the outer width of pipe pressed to an outer thickness, m.

    Notes
    -----
    Flats joined by half circles with the perimeter of the mid-wall kept (D):
    ``pi (D - h) / 2 + h + t`` with ``h`` the height and ``D`` the diameter of the mid-wall.
    Good to a few per cent: enough to refuse bends that no section could take, and for a box.
    """
    height = thickness - pipe.wall
    return 0.5 * math.pi * (pipe.mid_diameter - height) + height + pipe.wall


@dataclass(frozen=True)
class LimbShape:
    """One limb along the pipe, from the bow's centre to the end of the pipe.

    Stations `s` are distances from the bow's centre along the pipe, m. Angles and curvatures are
    positive toward the archer, so a set forward (positive `handle.set`) is a negative angle.

    Parameters
    ----------
    limb : Limb
        What the maker says of it.
    handle : Handle
        The round middle.
    pipe : Pipe
        The round pipe.
    length : float
        From the bow's centre to the end of the pipe, m.
    inset : float
        From there back to the string groove, m.

    Examples
    --------
    >>> from bowfem.design.limb import Mark
    >>> limb = Limb((Mark(0.1, "round"), Mark(0.5, 0.008)))
    >>> shape = LimbShape(limb, Handle(0.12), Pipe.from_size("3/4 in Sch 40"), 0.6, 0.02)
    >>> shape.thickness_at([0.0, 0.5]).round(5).tolist(), round(shape.nock_station, 3)
    ([0.02667, 0.008], 0.58)
    """

    limb: Limb
    handle: Handle
    pipe: Pipe
    length: float
    inset: float

    @property
    def nock_station(self) -> float:
        """From the bow's centre to the string groove, along the pipe, m."""
        return self.length - self.inset

    @property
    def fade_end(self) -> float:
        """Where the fade from the round handle ends, m."""
        return self.fade.stop

    @cached_property
    def breaks(self) -> tuple[float, ...]:
        """Stations where thickness, curvature, turning or sleeves change their rule, increasing, m.

        Strictly between the bow's centre and the end of the pipe.
        """
        limb = self.limb
        stations = [*self._turning.breaks[1:], *self._run.knots]
        stations += [mark.at for mark in limb.marks]
        for bend in limb.bends:
            stations += [bend.start, bend.stop]
        if limb.tip is not None:
            start = limb.tip.edge_on_from
            stations += [start, start + limb.tip.transition]
        for span in (*limb.sleeves, *limb.overlays):
            stations += [span.start, span.end]
        kept: list[float] = []
        for s in sorted(stations):
            if s - (kept[-1] if kept else 0.0) > SLACK and self.length - s > SLACK:
                kept.append(s)
        return tuple(kept)

    @cached_property
    def _run(self) -> ThicknessRun:
        return ThicknessRun.from_limb(self.limb, self.handle, self.pipe)

    @cached_property
    def fade(self) -> Fade:
        """The run from the round handle to the pressed limb."""
        (start, stop), thickness = self._run.fade, float(self._run.thicknesses[1])
        bump, half = self.handle.bump, 0.5 * (self.pipe.outer_diameter - thickness)
        offset = {"middle": 0.0, "back": half, "belly": -half}[bump]
        return Fade(start, stop, thickness, self._run.rounded, bump, offset)

    @cached_property
    def _turning(self) -> Turning:
        return Turning.from_limb(self.limb, self.handle, self.fade)

    def _stations(self, s: ArrayLike) -> Array:
        stations = np.asarray(s, dtype=float)
        inside = (stations >= -SLACK) & (stations <= self.length + SLACK)
        if not np.all(inside):
            wrong = stations[~inside].flat[0]
            raise InputError("s", f"{wrong:g} m", f"between 0 and {self.length:g} m")
        return np.maximum(stations, 0.0)

    def thickness_at(self, s: ArrayLike) -> Array:
        """Return the outer pressed thickness of the bow's pipe at stations `s`, m, same shape.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        return self._run.at(self._stations(s))

    def depth_at(self, s: ArrayLike) -> Array:
        """Return the outer extent of the bow's pipe in the plane of the bow, m, same shape.

        Its pressed thickness, or where it stands edge-on its width; see `flat_width`.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        thickness, share = self.thickness_at(s), self.edge_on_share(s)
        return thickness + share * (flat_width(self.pipe, thickness) - thickness)

    def natural_curvature(self, s: ArrayLike) -> Array:
        """Return the formed curvature at stations `s`, 1/m, same shape; constant between `breaks`.

        Raises
        ------
        InputError
            A station is not on the limb.

        Notes
        -----
        At a break, that beyond it. The set is spread evenly over the handle.
        """
        return self._turning.curvature(self._stations(s))

    def formed_curvature(self, s: ArrayLike) -> Array:
        """Return the curvature to which the wall was formed at stations `s`, 1/m, same shape.

        That of the axis but for the fade: there the middle of the section shifts as the pipe is
        pressed to one side, and the wall is not bent.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        s = self._stations(s)
        inside = (s >= self.fade.start) & (s < self.fade.stop)
        return np.where(inside, 0.0, self._turning.curvature(s))

    def natural_angle(self, s: ArrayLike) -> Array:
        """Return the angle of the unstrung limb against the axis at the centre, rad, same shape.

        The integral of `natural_curvature`.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        return self._turning.angle(self._stations(s))

    def edge_on_share(self, s: ArrayLike) -> Array:
        """Return how far the section is turned edge-on: 0 not at all, 1 wholly; same shape.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        return edge_on_share(self.limb.tip, self._stations(s))
