"""What the string must clear: the loops the tips' width, a bridge what it must not lie on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import SmoothCurve
from bowfem.design import Side
from bowfem.errors import InputError
from bowfem.findings.line import Figure, Line, Place, side_figure
from bowfem.findings.string_run import pieces_at

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk

Array = NDArray[np.float64]

#: Half the angle between the loop's legs that is accepted (C): each leg then carries 6 % more than
#: half the tension.
HALF_ANGLE = math.radians(20.0)
#: Contact that begins this share of the limb inward of the groove is on another piece of limb.
INWARD = 0.02
#: Height below which a bridge is not told, m: less than a maker can see.
SEEN = 1e-4
#: Highest bridge looked for, m, and points along the limb at which it is tried.
HIGHEST, FINE = 0.15, 1001


@dataclass(frozen=True)
class Loop:
    """The least loop whose legs pass the limb's width at the tip without fouling it.

    Parameters
    ----------
    width : float
        Of the limb where the legs straddle it, m.
    beside : float
        Distance from the groove along which they must lie beside it, m.
    reach : float
        From the groove to where the legs join, along the string, m.
    around : float
        Once round the loop, m: both legs and the way round the back of the limb.
    half_angle : float
        Half the angle between the legs, rad, as accepted.
    side : Side or None
        Which limb; None where both are alike.
    """

    width: float
    beside: float
    reach: float
    around: float
    half_angle: float
    side: Side | None = None


def least_loops(walk: Walk, half_angle: float = HALF_ANGLE) -> tuple[Loop, ...]:
    """Return the least loop at brace, when the string lies nearest to the tips, on either limb.

    Parameters
    ----------
    half_angle : float
        Half the angle between the legs that is accepted, rad.

    Returns
    -------
    tuple of Loop
        One where both limbs are alike, else that of the upper and of the lower.

    Raises
    ------
    InputError
        The angle is not between 1 and 60 degrees.

    Notes
    -----
    Assumed (D): the groove leads round the limb, so that the legs leave its edges ``b`` apart at
    mid-thickness. As long as the string is nearer to the belly than its own diameter, the limb lies
    between the legs: over that distance ``d`` they run beside it. Beyond it they close at the half
    angle ``phi`` accepted: ``reach = d + b / (2 tan phi)``, each leg ``d + b / (2 sin phi)`` long,
    and ``b + h`` more round the back. Where the string lies on the limb from the groove on, as
    on a curl, the legs lie on it too and close at once, ``d = 0``. A tip filed to a `width` at the
    groove widens evenly to that of the limb over the length `filed`.
    """
    if not math.radians(1.0) <= half_angle <= math.radians(60.0):
        degrees = f"{math.degrees(half_angle):g} deg"
        raise InputError("half_angle", degrees, "between 1 and 60 deg")
    thick = walk.design.string.thickness
    return tuple(_least_loop(walk, side, thick, half_angle) for side, _ in walk.distinct_limbs)


def _least_loop(walk: Walk, side: Side | None, thick: float, half_angle: float) -> Loop:
    limb = walk.limb(side)
    s, gap = limb.s, limb.clearance[0]
    free = np.flatnonzero(gap >= thick)
    beside = 0.0
    if free.size and not _lies_on_tip(limb):
        # linear between the last station that is clear and the next
        j = min(int(free[-1]), s.size - 2)
        share = (gap[j] - thick) / max(gap[j] - gap[j + 1], 1e-12)
        beside = float(s[-1] - s[j] - (s[j + 1] - s[j]) * np.clip(share, 0.0, 1.0))
    widths = np.array(limb.width)
    nock = walk.design.nock
    if nock.width is not None:
        own = np.minimum(nock.width, widths)
        widths = own + (widths - own) * np.minimum((s[-1] - s) / nock.filed, 1.0)
    width = float(np.max(widths[s >= s[-1] - beside]))
    leg = beside + 0.5 * width / math.sin(half_angle)
    reach = beside + 0.5 * width / math.tan(half_angle)
    around = 2.0 * leg + width + float(limb.thickness[-1])
    return Loop(width, beside, reach, around, half_angle, side)


def _lies_on_tip(limb: LimbStates) -> bool:
    """Whether the string lies on the limb from the groove on at brace."""
    return any(outer >= (1.0 - INWARD) * limb.s[-1] for outer, _ in pieces_at(limb, 0)[:1])


@dataclass(frozen=True)
class Bridge:
    """A block on the belly that keeps the string off where it must not lie.

    Parameters
    ----------
    s : float
        Where it is lowest, m along the pipe from the bow's centre.
    height : float
        Least height over the belly, m, with which the string just clears the limb at brace.
    edge_on : bool
        Whether the string would else lie on the narrow side of a tip turned edge-on, from which it
        slides; else it would lie on the limb inward of the curl, and slap it at each shot.
    side : Side or None
        Which limb; None where both are alike.
    """

    s: float
    height: float
    edge_on: bool
    side: Side | None = None


def bridges(walk: Walk) -> tuple[Bridge, ...]:
    """Return the bridges a bow needs at brace, at most one on each limb that differs.

    Notes
    -----
    Needed (D) where the string lies on a section turned more than halfway edge-on, or on a piece of
    limb that is not the one the groove is on. The shape at brace is taken as it is: the bridge
    itself makes the string a little shorter.
    """
    found = (_bridge(walk, side) for side, _ in walk.distinct_limbs)
    return tuple(bridge for bridge in found if bridge is not None)


def _bridge(walk: Walk, side: Side | None) -> Bridge | None:
    limb, shape = walk.limb(side), walk.design.shape(side)
    for n, (outer, inner) in enumerate(pieces_at(limb, 0)):
        edge_on = bool(np.max(shape.edge_on_share([outer, inner])) > 0.5)
        if not edge_on and n == 0 and _lies_on_tip(limb):
            continue
        fine = np.linspace(0.0, limb.s[-1], FINE)
        angle, across, along = (
            SmoothCurve.through(limb.s[limb.single], values[limb.single]).at(fine)
            for values in (limb.angle[0], limb.x[0], abs(limb.y[0]))
        )
        normal = np.column_stack([-np.sin(angle), np.cos(angle)])
        offset = 0.5 * (np.interp(fine, limb.s, limb.thickness) + walk.design.string.thickness)
        surface = np.column_stack([along, across]) + offset[:, None] * normal
        nock = np.array([abs(limb.string_y[0, -1]), limb.string_x[0, -1]])
        places = np.flatnonzero((fine >= inner) & (fine <= outer) & (fine < limb.s[-1]))
        return Bridge(*bridge_over(fine, surface, normal, places, nock), edge_on, side)
    return None


def fit_lines(loops: Sequence[Loop], found: Sequence[Bridge]) -> list[Line]:
    """Say how long loops and how high bridges must be at least."""
    lines = [
        Line(
            _of("loops", loop.side),
            "loop at least {reach:3} long ({around:3} around) for a tip {width:3} wide, each leg "
            "{half_angle:.0} off the middle",
            (
                side_figure(loop.side),
                Figure("reach", loop.reach, "length"),
                Figure("around", loop.around, "length"),
                Figure("width", loop.width, "length"),
                Figure("beside", loop.beside, "length"),
                Figure("half_angle", loop.half_angle, "angle"),
            ),
            150,
            "string.loops[]",
            on_sheet=True,
        )
        for loop in loops
    ]
    lines += [
        Line(
            _of("bridge", bridge.side),
            "at least {height:2} high, {s:bare} from the centre, keeps the string off the "
            + ("side of the tip turned edge-on" if bridge.edge_on else "limb inward of the curl"),
            (
                side_figure(bridge.side),
                Place("s", bridge.s, side=bridge.side),
                Figure("height", bridge.height, "length"),
                Figure("edge_on", bridge.edge_on),
            ),
            160,
            "string.bridges[]",
            on_sheet=True,
        )
        for bridge in found
        if bridge.height >= SEEN
    ]
    return lines or [Line("", "", (), 160, "string.bridges[]")]


def _of(what: str, side: Side | None) -> str:
    return what if side is None else f"{what}, {side.value}"


def bridge_over(
    s: Array, surface: Array, normal: Array, places: NDArray[np.intp], nock: Array
) -> tuple[float, float]:
    """Find the lowest bridge over which a string from the last point clears a surface.

    Parameters
    ----------
    s : ndarray, shape (m,)
        Stations, m.
    surface, normal : ndarray, shape (m, 2)
        Points the string's centre may touch, m, and normals toward it; along, then toward the
        archer.
    places : ndarray of int
        Where the bridge may stand.
    nock : ndarray, shape (2,)
        The nock point, m.

    Returns
    -------
    s, height : float
        Where it is lowest and how high, m.
    """

    def clears(j: int, height: float) -> bool:
        top = surface[j] + height * normal[j]
        outer, inner = surface[j + 1 : -1], surface[:j]
        return _left(surface[-1], top, outer) and _left(top, nock, inner)

    best = (float(s[places[0]]), HIGHEST)
    for j in map(int, places):
        low, high = 0.0, best[1]
        if not clears(j, high):
            continue
        while high - low > 1e-6:
            middle = 0.5 * (low + high)
            low, high = (low, middle) if clears(j, middle) else (middle, high)
        best = (float(s[j]), high)
    return best


def _left(start: Array, end: Array, points: Array) -> bool:
    """Return whether all points lie on the left of the way from start to end, as the limb does."""
    u, w = end - start, points - start
    return bool(np.all(u[0] * w[:, 1] - u[1] * w[:, 0] >= -1e-12))
