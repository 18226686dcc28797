"""How two limbs work together: tiller, turning in the hand, travel of the nock, the late limb."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bowfem.design import Side
from bowfem.findings.line import Figure, Line, Place, side_figure

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk

Array = NDArray[np.float64]

#: Return times that differ by less than this fraction are reported as equal: less than the
#: printed digits show. Lengths and turns below these are none: less than a maker can see, m, rad.
ALIKE, SEEN, TURNED = 0.002, 1e-4, 2e-4


@dataclass(frozen=True, eq=False)
class Tuning:
    """Hold how the limbs of a walked bow work together.

    Attributes
    ----------
    fade : float
        Station at which the tiller is taken, m from the bow's centre: where the fades of both
        limbs have ended.
    fade_gap : tuple of float
        From string to belly there at brace, upper and lower limb, m.
    rotation : ndarray, shape (n,)
        Turn of the bow in the hand since brace, rad, against the line from pivot to nock point;
        positive: the upper limb goes toward the archer.
    nock_travel : ndarray, shape (n,)
        Nock point above the arrow's line at the last draw, m, in the handle's frame. The line runs
        from the arrow pass, straight above or below the pivot, to the nock point at that draw.
    return_times : tuple of float
        Time each limb, let go by itself, takes from the last draw to its unstrung shape, s.
    late : Side or None
        The limb that takes longer; None where neither does.

    Notes
    -----
    ``t = pi/2 sqrt(int mu r^2 ds / 2 U)``: a quarter of the period by Rayleigh's quotient with the
    static shape (D), `r` the way of each point from unstrung to drawn, `U` the limb's energy. The
    string, which ties the limbs together, and the arrow are left out: the times compare limbs, and
    are not those of a shot.
    """

    fade: float
    fade_gap: tuple[float, float]
    rotation: Array
    nock_travel: Array
    return_times: tuple[float, float]
    late: Side | None

    @property
    def tiller(self) -> float:
        """String-to-belly distance at the fades, upper less lower, m (C: positive is usual)."""
        tiller = self.fade_gap[0] - self.fade_gap[1]
        return 0.0 if abs(tiller) < SEEN else tiller

    @classmethod
    def from_walk(cls, walk: Walk) -> Tuning:
        """Read the tuning off a walk."""
        upper, lower = walk.limbs
        handle = walk.design.handle
        fade, gaps = fade_gaps(walk)
        pivot = walk.design.pivot_distance
        angle = np.arctan2(walk.nock_y - handle.pivot_height, walk.nock_x - pivot)
        rise = walk.nock_y - handle.pivot_height - handle.arrow_height
        run = walk.nock_x - pivot
        size = np.hypot(run[-1], rise[-1])
        travel = (rise * run[-1] - run * rise[-1]) / size
        times = _return_time(upper), _return_time(lower)
        late = (
            None
            if abs(times[0] - times[1]) <= ALIKE * max(times)
            else (Side.UPPER if times[0] > times[1] else Side.LOWER)
        )
        rotation = angle - angle[0]
        return cls(
            fade,
            gaps,
            np.where(np.abs(rotation) < TURNED, 0.0, rotation),
            np.where(np.abs(travel) < SEEN, 0.0, travel),
            times,
            late,
        )


def fade_gaps(walk: Walk) -> tuple[float, tuple[float, float]]:
    """Return where the fades of both limbs have ended, and string to belly there at brace, m."""
    fade = max(limb.fade_end for limb in walk.design.limbs)
    upper, lower = (float(np.interp(fade, limb.s, limb.clearance[0])) for limb in walk.limbs)
    return fade, (upper, lower)


def _return_time(limb: LimbStates) -> float:
    """Estimate the time of a limb from its last state to its unstrung shape, s."""
    moved = (limb.x[-1] - limb.unbraced_x) ** 2 + (limb.y[-1] - limb.unbraced_y) ** 2
    share = limb.mass_per_length * moved
    inertia = float(np.sum(0.5 * (share[1:] + share[:-1]) * np.diff(limb.s)))
    return 0.5 * pi * float(np.sqrt(inertia / (2.0 * float(limb.energy[-1]))))


def tuning_lines(found: Tuning) -> list[Line]:
    """Say how two unlike limbs work together."""
    turn = float(found.rotation[-1])
    toward = Side.UPPER if turn > 0.0 else Side.LOWER
    low, high = float(np.min(found.nock_travel)), float(np.max(found.nock_travel))
    late = "neither limb is late" if found.late is None else f"the {found.late.value} limb is late"
    return [
        Line(
            "tiller",
            "{tiller:2}: from string to belly {string_to_belly_at_fade_upper:3} on the upper and "
            "{string_to_belly_at_fade_lower:3} on the lower limb, {fade:bare} from the centre, at "
            "brace",
            (
                Figure("tiller", found.tiller, "length"),
                Place("fade", found.fade),
                Figure("string_to_belly_at_fade_upper", found.fade_gap[0], "length"),
                Figure("string_to_belly_at_fade_lower", found.fade_gap[1], "length"),
            ),
            200,
            "tuning",
        ),
        Line(
            "balance",
            "turns {turn:2} in the hand from brace to the last draw, the "
            f"{toward.value} limb toward the archer",
            (Figure("turn", abs(turn), "angle"),),
            210,
            group="",
        ),
        Line(
            "nock travel",
            "from {below:2} below to {above:2} above the arrow's line at the last draw",
            (Figure("below", abs(low), "length"), Figure("above", abs(high), "length")),
            220,
            group="",
        ),
        Line(
            "limbs",
            f"{late}: alone the upper limb comes back in {{return_time_upper:3}}, the lower in "
            "{return_time_lower:3}, by an estimate to compare them",
            (
                Figure("rotation", found.rotation, "angle"),
                Figure("nock_travel", found.nock_travel, "length"),
                Figure("return_time_upper", found.return_times[0], "time"),
                Figure("return_time_lower", found.return_times[1], "time"),
                side_figure(found.late, "late"),
            ),
            230,
            "tuning",
        ),
    ]
