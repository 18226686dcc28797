"""How a bow ends, braced or drawn: the one list of reasons, over the rod's `Stop`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from bowfem.design import Side, limb_text
from bowfem.units import both_lengths


class Ending(Enum):
    """Return how a bow ended when it was braced or drawn.

    Attributes
    ----------
    text : str
        What happens, a clause.
    verb : str
        The same to follow "the limb".
    advice : str
        What a maker can change; empty where nothing is wrong or nothing is known.
    """

    text: str
    verb: str
    advice: str

    COMPLETE = "reached full draw", "reaches full draw", ""
    FOLD = (
        "the limb folds: a section has reached the most it can carry",
        "folds",
        "make the bow longer or draw it less; a hinge there wants its neighbours pressed thinner",
    )
    OVERBENT = (
        "a section is bent beyond the range of its material's data",
        "leaves the range of the material's data",
        "make the bow longer or draw it less",
    )
    SNAP = (
        "the limb snaps through: it jumps to another shape",
        "snaps through",
        "less bend toward the archer, or another brace height",
    )
    SLIP = (
        "the string slips off: it pulls past the end of the limb, on to its back",
        "lets the string slip over its end",
        "less bend at the tip, a deeper nock, or less draw",
    )
    TURNS_OVER = (
        "the bow turns over: one limb gives way to the other",
        "gives way to the other and the bow turns over",
        "make the limbs more alike, or move the handle",
    )
    SLACK = (
        "the string hangs slack: the unstrung limbs already stand nearer to the archer",
        "stands behind the string",
        "more brace height, or less bend toward the archer",
    )
    TOO_LONG = (
        "the string is too long: braced, it would touch the grip or hang slack",
        "stays slack on its string",
        "a shorter string",
    )
    OUT_OF_REACH = (
        "the brace height is beyond the limbs' reach: no string is short enough to stand square",
        "does not reach the brace height",
        "less brace height",
    )
    MEETS = (
        "the limb is bent on to itself or the other limb",
        "meets itself or the other limb",
        "less brace height, or less bend at the tip",
    )
    FULL_STRETCH = (
        "limb and string are stretched out straight: no more draw is left",
        "is stretched out with its string",
        "draw it less, or make the bow longer",
    )
    #: A draw was not possible; what the limb does there is found by following it.
    GIVES_WAY = "a limb gives way", "gives way", ""
    NO_CONVERGENCE = "no equilibrium was found", "has no equilibrium that was found", ""

    def __init__(self, text: str, verb: str, advice: str) -> None:
        self.text, self.verb, self.advice = text, verb, advice

    @property
    def key(self) -> str:
        """Its name in files."""
        return self.name.lower()


@dataclass(frozen=True)
class GivesWay:
    """The draw at which a limb gives way, where on it, and how.

    Parameters
    ----------
    draw : float
        Nock point to pivot, m, to the nearest 0.1 mm below.
    s : float
        Station, m along the pipe from the bow's centre: where the section gives way, where the
        bending changes most as the limb snaps through, or the groove.
    ending : Ending
        A section's moment peaks (FOLD) or its law ends without a peak (OVERBENT); or the limb
        jumps to a shape far away (SNAP); or the string pulls past its end on to the back, where no
        groove holds it (SLIP); or two limbs lose their balance (TURNS_OVER).
    side : Side or None
        Which limb; None where both are alike.
    """

    draw: float
    s: float
    ending: Ending
    side: Side | None = None


def where_text(s: float, side: Side | None = None) -> str:
    """Say where on the limb a station is, to go on with after a reason.

    Examples
    --------
    >>> where_text(0.254, Side.UPPER)
    ", 10.0 in (254 mm) from the bow's centre on the upper limb"
    """
    return f", {both_lengths(s)} from the bow's centre{limb_text(side)}"
