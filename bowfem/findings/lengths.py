"""How long a bow is: unstrung and strung, along its back, in the trade's figure, in a parcel."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bowfem.findings.line import Figure, Line, Warned
from bowfem.units import System, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk
    from bowfem.design import LimbShape, Limits

Array = NDArray[np.float64]

#: Added to the string's length for the bow's trade length, m: 3 in (C, no source).
TRADE_ALLOWANCE = 0.0762
#: Pieces the pipe beyond a groove is cut into.
BEYOND = 32


@dataclass(frozen=True)
class Box:
    """The box round a bow, its length along the line from tip to tip.

    Parameters
    ----------
    length, depth, width : float
        Along that line, across it in the bow's plane, and square to the plane, m.
    """

    length: float
    depth: float
    width: float

    @property
    def longest(self) -> float:
        """The longest side, m."""
        return max(self.length, self.depth, self.width)

    @property
    def length_and_girth(self) -> float:
        """The longest side and the way round the box across it, m."""
        return 2.0 * (self.length + self.depth + self.width) - self.longest

    def wrapped(self, by: float) -> Box:
        """Return the box with so much on every side, m."""
        return Box(*(side + 2.0 * by for side in (self.length, self.depth, self.width)))

    def share(self, limits: Limits) -> float:
        """Return how much of what a parcel may have it takes up wrapped; 0 without a limit."""
        parcel = self.wrapped(limits.wrapping)
        pairs = (
            (parcel.longest, limits.longest),
            (parcel.length_and_girth, limits.length_and_girth),
        )
        return max((has / most for has, most in pairs if most is not None), default=0.0)


@dataclass(frozen=True)
class Lengths:
    """Hold the lengths of a bow.

    Parameters
    ----------
    tip_to_tip : float
        Unstrung, from end to end of the pipe in a straight line, m.
    unstrung, strung : Box
        Boxes round the bow, the string's in the second one included.
    along_back : float
        From groove to groove along the back of the unstrung bow, m.
    trade : float
        String length plus 3 in, m: common practice for the length a bow is sold by, no source.
    """

    tip_to_tip: float
    unstrung: Box
    strung: Box
    along_back: float
    trade: float

    @classmethod
    def from_walk(cls, walk: Walk) -> Lengths:
        """Measure a bow.

        Notes
        -----
        The boxes go round belly and back at the stations of the walk. The back's length is that of
        the formed shape: ``int (1 + kappa h / 2) ds`` along the axis, `h` the thickness.
        """
        unstrung, strung, rest_ends, strung_ends = [], [], [], []
        for number, (limb, shape) in enumerate(zip(walk.limbs, walk.design.limbs, strict=True)):
            # each limb upright in its own frame; the lower one is then turned down
            own = np.array([1.0, -1.0 if number == 1 and not walk.is_symmetric else 1.0])
            place = np.array([1.0, -1.0 if number == 1 else 1.0])
            rest = np.stack([limb.unbraced_x, limb.unbraced_y], axis=-1) * own
            braced = np.stack([limb.x[0], limb.y[0]], axis=-1) * own
            string = np.stack([limb.string_x[0], limb.string_y[0]], axis=-1) * own
            for axis, angle, faces, ends in (
                (rest, limb.unbraced_angle, unstrung, rest_ends),
                (braced, limb.angle[0], strung, strung_ends),
            ):
                outline, end = _outline(limb, shape, axis, angle)
                faces.append(outline * place)
                ends.append(end * place)
            strung.append(string * place)
        width = max(float(np.max(limb.width)) for limb in walk.limbs)
        line = rest_ends[0] - rest_ends[1]
        return cls(
            tip_to_tip=float(np.hypot(*line)),
            unstrung=_box(np.concatenate(unstrung), line, width),
            strung=_box(np.concatenate(strung), strung_ends[0] - strung_ends[1], width),
            along_back=sum(_along_back(shape) for shape in walk.design.limbs),
            trade=walk.string_length + TRADE_ALLOWANCE,
        )


def _outline(limb: LimbStates, shape: LimbShape, axis: Array, angle: Array) -> tuple[Array, Array]:
    """Return points of belly and back, pipe beyond the groove included, and the pipe's end."""
    s = np.linspace(shape.nock_station, shape.length, BEYOND + 1)
    formed = shape.natural_angle(s)
    turned = angle[-1] + formed - formed[0]
    middle = 0.5 * (turned[1:] + turned[:-1])
    steps = np.stack([np.sin(middle), np.cos(middle)], axis=-1) * np.diff(s)[:, None]
    beyond = axis[-1] + np.cumsum(steps, axis=0)
    every, turn = np.concatenate([axis, beyond]), np.concatenate([angle, turned[1:]])
    thickness = np.concatenate([limb.thickness, shape.depth_at(s[1:])])
    half = 0.5 * thickness[:, None] * np.stack([np.cos(turn), -np.sin(turn)], axis=-1)
    return np.concatenate([every + half, every - half]), every[-1]


def _box(points: Array, along: Array, width: float) -> Box:
    """Box points along a line and across it."""
    way = along / np.hypot(*along)
    length = np.ptp(points @ way)
    depth = np.ptp(points @ np.array([way[1], -way[0]]))
    return Box(float(length), float(depth), width)


def _along_back(shape: LimbShape) -> float:
    """Length of the back of one formed limb, from the bow's centre to the groove, m."""
    end, parts = shape.nock_station, 64
    stops = [0.0, *(s for s in shape.breaks if s < end), end]
    total = 0.0
    for a, b in pairwise(stops):
        s = a + (b - a) * (np.arange(parts) + 0.5) / parts
        stretch = 1.0 + 0.5 * shape.depth_at(s) * shape.natural_curvature(s)
        total += float(np.mean(stretch)) * (b - a)
    return total


def length_lines(found: Lengths) -> list[Line]:
    """Say how long the bow is, and what box it goes in."""

    def box(key: str, of: Box) -> Sides:
        return Sides(key, np.array([of.length, of.depth, of.width]), "length")

    return [
        Line(
            "lengths",
            "{tip_to_tip_unstrung} from tip to tip unstrung, {along_back} along the back between "
            "the grooves; trade length {trade_length} (string plus 3 in, common practice)",
            (
                Figure("tip_to_tip_unstrung", found.tip_to_tip, "length"),
                Figure("along_back", found.along_back, "length"),
                Figure("trade_length", found.trade, "length"),
            ),
            180,
        ),
        Line(
            "box",
            "{box_unstrung} unstrung, {box_strung} strung",
            (box("box_unstrung", found.unstrung), box("box_strung", found.strung)),
            190,
        ),
    ]


class Sides(Figure):
    """The three sides of a box."""

    def text(self, system: System, spec: str = "") -> str:
        """Write the sides to a tenth of an inch or a millimetre."""
        places = 1 if system == "us" else 0
        sides = " x ".join(f"{side:.{places}f}" for side in self.number(system))
        return f"{sides} {shown_unit('length', system)}"


def parcel_lines(found: Lengths, limits: Limits) -> list[Line]:
    """Say what the unstrung bow comes to as a parcel, where the design limits it."""
    if limits.longest is None and limits.length_and_girth is None:
        return []
    parcel = found.unstrung.wrapped(limits.wrapping)
    sides = np.array([parcel.length, parcel.depth, parcel.width])
    return [
        Line(
            "parcel",
            "{parcel} with {wrapping:3} of wrapping on every side; length and girth "
            "{length_and_girth}",
            (
                Sides("parcel", sides, "length"),
                Figure("wrapping", limits.wrapping, "length"),
                Figure("length_and_girth", parcel.length_and_girth, "length"),
            ),
            195,
        )
    ]


def parcel_warning(walk: Walk, found: Lengths) -> list[Warned]:
    """Warn of a bow too long for the parcel that the design names."""
    limits = walk.design.limits
    parcel = found.unstrung.wrapped(limits.wrapping)
    wrapped = " and wrapped" if limits.wrapping else ""
    warned = []
    if limits.longest is not None and parcel.longest > limits.longest:
        words = (
            f"Unstrung{wrapped} the bow needs a box {{side}} long, {{more:2}} more than the "
            "{longest} of limits.longest."
        )
        warned.append(_over(words, "longest", parcel.longest, limits.longest))
    most = limits.length_and_girth
    if most is not None and parcel.length_and_girth > most:
        words = (
            "As a parcel the unstrung bow has {side} of length and girth, {more:2} more than the "
            "{length_and_girth} of limits.length_and_girth."
        )
        warned.append(_over(words, "length_and_girth", parcel.length_and_girth, most))
    return warned


def _over(words: str, key: str, side: float, most: float) -> Warned:
    figures = (
        Figure("side", side, "length"),
        Figure("more", side - most, "length"),
        Figure(key, most, "length"),
    )
    return Warned(words, figures)
