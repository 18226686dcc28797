"""The two limbs of a bow, by name."""

from __future__ import annotations

from enum import Enum


class Side(Enum):
    """One of the two limbs: the value is its name in files and on paper."""

    UPPER = "upper"
    LOWER = "lower"

    @property
    def index(self) -> int:
        """Place in every pair of limbs: upper first."""
        return 0 if self is Side.UPPER else 1

    @property
    def sign(self) -> float:
        """Sign of `y` along the limb, which points up along the bow."""
        return 1.0 if self is Side.UPPER else -1.0

    @property
    def table(self) -> str:
        """Table of a design file that describes it: the upper limb's is `limb`."""
        return "limb" if self is Side.UPPER else "lower"

    @property
    def other(self) -> Side:
        """The other limb."""
        return Side.LOWER if self is Side.UPPER else Side.UPPER


def limb_text(side: Side | None) -> str:
    """Name a limb to follow a place or a measure, or say nothing where both are alike.

    Examples
    --------
    >>> limb_text(Side.LOWER), limb_text(None)
    (' on the lower limb', '')
    """
    return "" if side is None else f" on the {side.value} limb"
