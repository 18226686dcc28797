"""Will the tips flip sideways: at brace, while the bow is strung, and at full draw."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import BraceError, brace, limb_side_factors, limb_sideways
from bowfem.design import Side
from bowfem.errors import ConvergenceError
from bowfem.findings.line import Figure, Line, Warned, side_figure
from bowfem.units import INCH, POUND_FORCE

if TYPE_CHECKING:
    from bowfem.bow import Balance, States, Walk
    from bowfem.findings.string_fit import Loop
    from bowfem.rod import SideResponse, Sideways

Array = NDArray[np.float64]

#: What is said of a bow that does not stay in its plane.
FLIPS = "flips sideways: the string's pull rolls its tips over"
#: Factor below which a bow is warned of (C): misalignment and softening take their part.
ENOUGH = 1.5
#: Difference of factors by the loop that is worth telling.
TOLD = 0.02
#: Movement below which it is not told, m: less than a maker can see.
SEEN = 1e-4
#: Shares of the brace height at which stringing is looked at.
STRINGING = (0.5, 0.75)
#: By how much the string is off the middle, m, and the jig twisted, rad per limb, to say what it
#: does.
OFF, TWISTED = INCH / 16.0, math.radians(1.0)


@dataclass(frozen=True, eq=False)
class SideStability:
    """How stable a bow is sideways.

    Parameters
    ----------
    brace : float
        All forces at brace times this, and a limb gives way sideways; infinite where never. The
        nock point follows the tips.
    alone : float
        The same of the weaker limb by itself; two unlike limbs on one string hold each other.
    stringing : float
        The least such factor at half and three quarters of the brace height; nan where the bow
        cannot be braced there.
    full_draw : float
        The same at the last draw, the nock point held by the fingers.
    held : ndarray, shape (n,)
        The same at every state of the walk, the weaker limb's.
    strung : ndarray, shape (m, 2)
        Brace heights looked at, m, the design's last, and the factor at each.
    shape : SideResponse
        The weaker limb's weakest shape at brace.
    tension : float
        Of the string at brace, N.
    per_pound, per_pound_unstrung : float
        How far a pound sideways moves one groove, the grip held, m: braced, and by the limb's own
        stiffness alone.
    per_offset, per_twist : float
        How far the groove moves at full draw for a string 1/16 in off the middle, m, and roll of
        the tip there for a limb formed with a twist of 1 degree, rad.
    loop_grips, loop_slips : float
        Factor at brace with a loop that holds the nock, and with one that slips round it; nan where
        the loops are not known.
    hand : float
        Stiffness with which the string holds a bow at the last draw that can turn about its own
        length in the hand, N m/rad; below 0 it turns it over.
    side : Side or None
        Which limb is the weaker at brace; None where both are alike.
    """

    brace: float
    alone: float
    stringing: float
    full_draw: float
    held: Array
    strung: Array
    shape: SideResponse
    tension: float
    per_pound: float
    per_pound_unstrung: float
    per_offset: float
    per_twist: float
    loop_grips: float
    loop_slips: float
    hand: float
    side: Side | None = None

    @classmethod
    def from_walk(cls, walk: Walk, loops: Sequence[Loop] = ()) -> SideStability | None:
        """Look at a bow as walked; None where its states were not kept.

        Parameters
        ----------
        walk : Walk
            The walk.
        loops : sequence of Loop
            Its loops, one for each limb that differs.

        Notes
        -----
        At brace nothing holds the nock point but the limbs, both together. In the hand, the string
        turns a bow back by ``T x_tip x_nock / l`` for each limb, `x` from the pivot toward the
        archer, `l` the straight string (D): the arms of a force in a line with both.
        """
        if walk.solved is None:
            return None
        bow, states = walk.solved
        rest = _limbs(bow, states, 0, 0.0)
        weaker = int(np.argmin([each.factor for each in rest]))
        held = _limbs(bow, states, -1, math.inf)
        one = rest[weaker]
        length = float(walk.limbs[weaker].s[-1])
        over = [
            limb_side_factors(bow.design, model, path)
            for model, path in zip(bow.models, states.limbs, strict=True)
        ]
        stringing = _stringing(bow, walk)
        grips = [each.reach for each in loops]
        slips = [-0.25 * each.width**2 / each.reach for each in loops]
        return cls(
            brace=_factor(rest),
            alone=one.factor,
            stringing=min((factor for _, factor in stringing), default=math.nan),
            full_draw=min(each.factor for each in held),
            held=np.min(over, axis=0),
            strung=np.array([*stringing, (walk.brace_height, _factor(rest))]),
            shape=one.weakest,
            tension=one.tension,
            per_pound=abs(one.give_beside(rest[-1 - weaker], POUND_FORCE)),
            per_pound_unstrung=abs(one.give(POUND_FORCE, loaded=False)),
            per_offset=max(abs(float(each.off_centre(OFF).shift[-1])) for each in held),
            per_twist=max(abs(float(each.twisted(TWISTED / length).roll[-1])) for each in held),
            loop_grips=_factor(_limbs(bow, states, 0, 0.0, grips)) if grips else math.nan,
            loop_slips=_factor(_limbs(bow, states, 0, 0.0, slips)) if slips else math.nan,
            hand=_in_hand(bow, states),
            side=None if walk.is_symmetric else tuple(Side)[weaker],
        )

    @property
    def flips(self) -> bool:
        """Whether the bow does not stay in its plane, braced or on the way there."""
        return self.least < 1.0

    @property
    def is_near(self) -> bool:
        """Whether it flips or may do so."""
        return self.least < ENOUGH

    @property
    def least(self) -> float:
        """The least factor of all looked at."""
        stringing = math.inf if math.isnan(self.stringing) else self.stringing
        return min(self.brace, self.full_draw, stringing)


def taken_at_brace(walk: Walk) -> float:
    """Return the share of its sideways stiffness that the string takes from the weaker limb."""
    if walk.solved is None:
        return math.nan
    return 1.0 / _factor(_limbs(*walk.solved, 0, 0.0))


def moved_sideways(walk: Walk, side: Side, force: float, *, strung: bool) -> float:
    """Return how far a force moves a groove sideways, m, the grip held, braced or unstrung.

    Raises
    ------
    ConvergenceError
        The walk's states were not kept.
    """
    if walk.solved is None:
        raise ConvergenceError("this walk has kept no states to look at sideways")
    limbs = _limbs(*walk.solved, 0, 0.0)
    one, other = limbs[side.index % len(limbs)], limbs[-1 - side.index % len(limbs)]
    return one.give_beside(other, force) if strung else one.give(force, loaded=False)


def _limbs(
    bow: Balance, states: States, state: int, nock: float, loops: Sequence[float] = (0.0,)
) -> list[Sideways]:
    return [
        limb_sideways(bow.design, model, path, state, nock=nock, loop=loop)
        for model, path, loop in zip(bow.models, states.limbs, (*loops, loops[-1]), strict=False)
    ]


def _factor(limbs: Sequence[Sideways]) -> float:
    """Factor of one limb of two alike, or of both through the nock point they share."""
    return limbs[0].factor if len(limbs) == 1 else limbs[0].together(limbs[1])


def _in_hand(bow: Balance, states: States) -> float:
    paths = states.limbs if len(states.limbs) > 1 else 2 * states.limbs
    found = 0.0
    for path in paths:
        leaves, nock = path.leaves[-1], path.nock[-1]
        arms = (leaves[1] - bow.pivot[0]) * (nock[1] - bow.pivot[0])
        found += float(path.tension[-1] * arms / np.hypot(*(nock - leaves)))
    return found


def _stringing(bow: Balance, walk: Walk) -> list[tuple[float, float]]:
    found = []
    for share in STRINGING:
        try:
            states = brace(bow, share * walk.brace_height)
        except BraceError:  # the string is slack there, or lies on the limb
            continue
        found.append((share * walk.brace_height, _factor(_limbs(bow, states, -1, 0.0))))
    return found


def sideways_lines(found: SideStability | None) -> list[Line]:
    """Say how far the bow is from flipping, and what a crooked string or jig does."""
    if found is None:
        return []
    figures = (
        Figure("at_brace", _finite(found.brace)),
        Figure("while_stringing", _finite(found.stringing)),
        Figure("at_last_draw", _finite(found.full_draw)),
        Figure("weaker_limb_alone", _finite(found.alone)),
        Figure("loop_grips", _finite(found.loop_grips)),
        Figure("loop_slips", _finite(found.loop_slips)),
        Figure("tension", found.tension, "force"),
        Figure("push", POUND_FORCE, "force"),
        Figure("per_push", found.per_pound, "length"),
        Figure("per_push_unstrung", found.per_pound_unstrung, "length"),
        side_figure(found.side),
    )
    crooked = (
        Figure("off_centre", OFF, "length"),
        Figure("per_off_centre", found.per_offset, "length"),
        Figure("twist", TWISTED, "angle"),
        Figure("per_twist", found.per_twist, "angle"),
        Figure("held_in_loose_hand", found.hand > 0.0),
    )
    where = "" if found.side is None else f" ({found.side.value} limb)"
    return [
        Line(
            "sideways",
            f"{_told(found.brace)} times the string's pull at brace would roll a limb over{where}, "
            f"{_told(found.full_draw)} times at the last draw; braced, {{push:2}} sideways at a "
            "groove moves it {per_push:2}, {per_push_unstrung:2} by the limb's stiffness alone",
            figures,
            125,
            "sideways",
        ),
        Line(
            "crooked",
            "at the last draw a string {off_centre:2} off the middle of the tips moves them "
            + ("{per_off_centre:2} sideways" if found.per_offset >= SEEN else "hardly at all")
            + ", a twist of {twist:1} along a limb rolls its tip {per_twist:1}"
            + ("" if found.hand > 0.0 else "; the string turns the bow over in a loose hand"),
            crooked,
            126,
            "sideways",
        ),
    ]


def sideways_warning(found: SideStability | None) -> list[Warned]:
    """Warn of a bow that flips, or nearly."""
    if found is None or not found.is_near:
        return []
    if found.flips:
        words = (
            "It flips: the string's pull rolls the tips over sideways before the bow is braced or "
            "drawn. Do not string it. A shorter edge-on part, a wider tip or more brace height "
            "helps; so does a string tied above the tip's edge."
        )
    else:
        words = (
            "The tips may flip sideways, most likely while the bow is strung: "
            f"{found.least:.2f} times the string's pull rolls them over. String it with a "
            "stringer, stand clear, and keep string and tips in one plane; a shorter edge-on part "
            "or a wider tip helps."
        )
    if found.loop_grips - found.loop_slips > TOLD:
        words += (
            f" With a loop bound so that it grips the nock {found.loop_grips:.2f} times at brace, "
            f"with one that slips round it {found.loop_slips:.2f}."
        )
    return [Warned(words)]


def _finite(factor: float) -> float | None:
    return factor if math.isfinite(factor) else None


def _told(factor: float) -> str:
    return f"{factor:.2f}" if factor < 10.0 else "more than 10"
