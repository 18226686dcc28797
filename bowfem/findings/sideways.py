"""Will the tips flip sideways: at brace, while the bow is strung, and at full draw."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bowfem.bow import BraceError, brace, limb_sideways
from bowfem.design import Side
from bowfem.findings.line import Figure, Line, Warned, side_figure
from bowfem.units import INCH, POUND_FORCE

if TYPE_CHECKING:
    from bowfem.bow import Balance, States, Walk
    from bowfem.rod import Sideways

#: What is said of a bow that does not stay in its plane.
FLIPS = "flips sideways: the string's pull rolls its tips over"
#: Factor below which a bow is warned of (C): misalignment and softening take their part.
ENOUGH = 1.5
#: Movement below which it is not told, m: less than a maker can see.
SEEN = 1e-4
#: Shares of the brace height at which stringing is looked at.
STRINGING = (0.5, 0.75)
#: By how much the string is off the middle, m, and the jig twisted, rad per limb, to say what it
#: does.
OFF, TWISTED = INCH / 16.0, math.radians(1.0)


@dataclass(frozen=True)
class SideStability:
    """How stable a bow is sideways.

    Parameters
    ----------
    brace : float
        All forces at brace times this, and a limb gives way sideways; infinite where never. The
        nock point follows the tips.
    stringing : float
        The least such factor at half and three quarters of the brace height; nan where the bow
        cannot be braced there.
    full_draw : float
        The same at the last draw, the nock point held by the fingers.
    tension : float
        Of the string at brace, N.
    per_pound, per_pound_unstrung : float
        How far a pound sideways moves a groove, m: braced, and as far as the limb's own stiffness
        goes.
    per_offset, per_twist : float
        How far the groove moves at full draw for a string 1/16 in off the middle, m, and roll of
        the tip there for a limb formed with a twist of 1 degree, rad.
    side : Side or None
        Which limb is the weaker at brace; None where both are alike.
    """

    brace: float
    stringing: float
    full_draw: float
    tension: float
    per_pound: float
    per_pound_unstrung: float
    per_offset: float
    per_twist: float
    side: Side | None = None

    @classmethod
    def from_walk(cls, walk: Walk) -> SideStability | None:
        """Look at a bow as walked; None where its states were not kept.

        Notes
        -----
        Each limb by itself, with a nock point that nothing holds at brace: two limbs on one string
        hold each other, so that unlike limbs are at least as stable as told.
        """
        if walk.solved is None:
            return None
        bow, states = walk.solved
        rest = _limbs(bow, states, 0, 0.0)
        weaker = int(np.argmin([each.factor for each in rest]))
        held = _limbs(bow, states, -1, math.inf)
        one = rest[weaker]
        length = float(walk.limbs[weaker].s[-1])
        return cls(
            brace=one.factor,
            stringing=_stringing(bow, walk),
            full_draw=min(each.factor for each in held),
            tension=one.tension,
            per_pound=abs(one.give(POUND_FORCE)),
            per_pound_unstrung=abs(one.give(POUND_FORCE, loaded=False)),
            per_offset=max(abs(float(each.off_centre(OFF).shift[-1])) for each in held),
            per_twist=max(abs(float(each.twisted(TWISTED / length).roll[-1])) for each in held),
            side=None if walk.is_symmetric else tuple(Side)[weaker],
        )

    @property
    def flips(self) -> bool:
        """Whether the bow does not stay in its plane, braced or on the way there."""
        return min(self.brace, self.full_draw) < 1.0 or self.stringing < 1.0


def taken_at_brace(walk: Walk) -> float:
    """Return the share of its sideways stiffness that the string takes from the weaker limb."""
    if walk.solved is None:
        return math.nan
    return 1.0 - min(each.left for each in _limbs(*walk.solved, 0, 0.0))


def _limbs(bow: Balance, states: States, state: int, nock: float) -> list[Sideways]:
    return [
        limb_sideways(bow.design, model, path, state, nock=nock)
        for model, path in zip(bow.models, states.limbs, strict=True)
    ]


def _stringing(bow: Balance, walk: Walk) -> float:
    found = []
    for share in STRINGING:
        try:
            states = brace(bow, share * walk.brace_height)
        except BraceError:  # the string is slack there, or lies on the limb
            continue
        found += [each.factor for each in _limbs(bow, states, -1, 0.0)]
    return min(found, default=math.nan)


def sideways_lines(found: SideStability | None) -> list[Line]:
    """Say how far the bow is from flipping, and what a crooked string or jig does."""
    if found is None:
        return []
    figures = (
        Figure("at_brace", _finite(found.brace)),
        Figure("while_stringing", _finite(found.stringing)),
        Figure("at_last_draw", _finite(found.full_draw)),
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
            + ", a twist of {twist:1} along a limb rolls its tip {per_twist:1}",
            crooked,
            126,
            "sideways",
        ),
    ]


def sideways_warning(found: SideStability | None) -> list[Warned]:
    """Warn of a bow that flips, or nearly."""
    if found is None or min(found.brace, found.full_draw, _or_never(found.stringing)) >= ENOUGH:
        return []
    if found.flips:
        words = (
            "It flips: the string's pull rolls the tips over sideways before the bow is braced or "
            "drawn. Do not string it. A shorter edge-on part, a wider tip or more brace height "
            "helps; so does a string tied above the tip's edge."
        )
    else:
        least = min(found.brace, found.full_draw, _or_never(found.stringing))
        words = (
            f"The tips may flip sideways, most likely while the bow is strung: {least:.2f} times "
            "the string's pull rolls them over. String it with a stringer, stand clear, and "
            "keep string and tips in one plane; a shorter edge-on part or a wider tip helps."
        )
    return [Warned(words)]


def _or_never(factor: float) -> float:
    return math.inf if math.isnan(factor) else factor


def _finite(factor: float) -> float | None:
    return factor if math.isfinite(factor) else None


def _told(factor: float) -> str:
    return f"{factor:.2f}" if factor < 10.0 else "more than 10"
