"""How long to cut the string, and what a twist more does to the brace height."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bowfem.bow import Balance, Walk, brace
from bowfem.errors import InputError
from bowfem.findings.line import Figure, Line
from bowfem.findings.string_fit import Loop, least_loops
from bowfem.rod import Settings
from bowfem.units import INCH

#: Full turns of twist a length of string is given: one in two and a half inches (C).
TWIST = 0.4 / INCH
#: Tail of each strand laid back into the string beyond the loop, m (C: 4 in).
TAIL = 0.1016
#: Change of brace height by which its dependence on the string is measured, m.
CHANGE = 1e-3


def strand_length(length: float, diameter: float, turns: float) -> float:
    """Return the length of the strands in a twisted bundle, m.

    Parameters
    ----------
    length : float
        Of the bundle, m.
    diameter : float
        Of the bundle, m.
    turns : float
        Full turns of twist over its length.

    Raises
    ------
    InputError
        Length or diameter is not above 0, or turns are negative.

    Notes
    -----
    A strand at the distance ``r`` from the middle is a helix: on the unrolled cylinder a straight
    line, ``sqrt(L^2 + (2 pi r n)^2)`` long (D). Strands change places along the string, so that all
    are as long as one at the root mean square of ``r`` over the round bundle, ``d / sqrt(8)`` (D).

    Examples
    --------
    >>> round(1e3 * (strand_length(1.2, 2.6e-3, 20.0) - 1.2), 2)
    5.55
    """
    for name, value, least in (("length", length, 0.0), ("diameter", diameter, 0.0)):
        if not value > least or not math.isfinite(value):
            raise InputError(name, value, "above 0 m")
    if not 0.0 <= turns < math.inf:
        raise InputError("turns", turns, "0 or more")
    return math.hypot(length, _round(diameter) * turns)


def shortening(length: float, diameter: float, turns: float) -> float:
    """Return by how much one full turn more shortens a bundle of such length and twist, m.

    Notes
    -----
    ``L(n) = sqrt(S^2 - c^2 n^2)``, ``-dL/dn = c^2 n / L`` with ``c = 2 pi d / sqrt(8)`` (D). The
    first turn costs next to nothing, each further one more.

    Examples
    --------
    >>> round(1e3 * shortening(1.2, 2.6e-3, 20.0), 2)
    0.56
    """
    strand_length(length, diameter, turns)
    return _round(diameter) ** 2 * turns / length


def _round(diameter: float) -> float:
    return 2.0 * math.pi * diameter / math.sqrt(8.0)


@dataclass(frozen=True)
class StringCut:
    """What to cut for a string of strands laid back at both loops.

    Parameters
    ----------
    strands : int
        How many.
    length, braced_length : float
        Between the grooves, twisted, without tension and at brace, m.
    turns : float
        Full turns of twist.
    loops : tuple of Loop
        The loops at its upper and lower end.
    tail : float
        Laid back into the string beyond each loop, m.
    cut : float
        Length of each strand, m.
    thread : float
        All strands together, m.

    Notes
    -----
    ``cut = S + around + around + 2 tail``, where ``S`` is the strand's length between the places
    where the loops' legs join (D). What a new string creeps in its first days is not in it.
    """

    strands: int
    length: float
    braced_length: float
    turns: float
    loops: tuple[Loop, Loop]
    tail: float
    cut: float
    thread: float

    @classmethod
    def from_walk(
        cls,
        walk: Walk,
        loops: Sequence[Loop] = (),
        turns: float | None = None,
        tail: float = TAIL,
    ) -> StringCut:
        """Cut the string of a bow walked.

        Parameters
        ----------
        walk : Walk
            The walk.
        loops : sequence of Loop
            The loops at both ends, or one for either; by default the least ones.
        turns : float, optional
            Full turns of twist; by default one in two and a half inches.
        tail : float
            Laid back into the string beyond each loop, m.

        Raises
        ------
        InputError
            The loops meet, turns are negative, or the tail is.
        """
        string, length = walk.design.string, walk.string_length
        loops = loops or least_loops(walk)
        ends = (loops[0], loops[-1])
        turns = TWIST * length if turns is None else turns
        reach = sum(loop.reach for loop in ends)
        if not reach < length:
            raise InputError("loops", f"{reach:g} m long", f"together below {length:g} m, a string")
        if not 0.0 <= tail < math.inf:
            raise InputError("tail", f"{tail:g} m", "0 m or more")
        body = length - reach
        between = strand_length(body, string.thickness, turns * body / length)
        cut = between + sum(loop.around for loop in ends) + 2.0 * tail
        return cls(
            string.strands,
            length,
            length * (1.0 + walk.brace_tension / string.stiffness),
            turns,
            ends,
            tail,
            cut,
            string.strands * cut,
        )


def brace_per_length(walk: Walk) -> float:
    """Return the change of brace height over that of the string's natural length, m/m; negative.

    Raises
    ------
    BraceError
        The bow cannot be braced a millimetre higher or lower.

    Notes
    -----
    From two strings, for a brace height a millimetre higher and lower: central difference.
    """
    bow = Balance.from_design(walk.design, Settings())
    lengths = []
    for change in (-CHANGE, CHANGE):
        braced = brace(bow, walk.brace_height + change)
        lengths.append(sum(float(braced.limbs[side].string_length[-1]) for side in (0, -1)))
    return 2.0 * CHANGE / (lengths[1] - lengths[0])


def brace_per_turn(walk: Walk, cut: StringCut) -> float:
    """Return by how much one full turn of twist more raises the brace height, m.

    Raises
    ------
    BraceError
        The bow cannot be braced a millimetre higher or lower.

    Notes
    -----
    The product of `shortening` and `brace_per_length`.
    """
    shorter = shortening(cut.length, walk.design.string.thickness, cut.turns)
    return -shorter * brace_per_length(walk)


def cut_line(cut: StringCut | None, per_turn: float) -> Line:
    """Say what to cut, and what a turn of twist more does; `per_turn` is nan where not known."""
    if cut is None:
        lengths = ("cut", "tail", "thread", "braced_length", "brace_height_per_turn")
        unknown = (
            Figure("strands", None),
            Figure("turns", None),
            *(Figure(name, math.nan, "length") for name in lengths),
        )
        words = "the least loops are longer than the string"
        return Line("cut", words, unknown, 170, "string", on_sheet=True)
    words = (
        "{strands} strands of {cut} with the least loops and tails of {tail:2} laid back at both; "
        "{braced_length} between grooves at brace; {turns:.0f} full turns of twist"
    )
    if math.isfinite(per_turn):
        words += ", each one more raises the brace height by {brace_height_per_turn:2}"
    figures = (
        Figure("strands", cut.strands),
        Figure("turns", cut.turns),
        Figure("cut", cut.cut, "length"),
        Figure("tail", cut.tail, "length"),
        Figure("thread", cut.thread, "length"),
        Figure("braced_length", cut.braced_length, "length"),
        Figure("brace_height_per_turn", per_turn, "length"),
    )
    return Line("cut", words, figures, 170, "string", on_sheet=True)
