"""The printed report of a walk and the list of pipes: plain text in ruled columns."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from bowfem.findings import (
    TRADE_ALLOWANCE,
    DrawTable,
    Summary,
    allowance,
    draw_text,
    even_draws,
    place_text,
    spot_text,
    summarize,
    warnings,
)
from bowfem.section import PIPES
from bowfem.show.text.cautions import cautions_text
from bowfem.show.text.string_lines import string_lines
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.findings import Box, Lengths, Tuning

#: Longest printed line.
WIDTH = 92


def printable(text: str) -> str:
    r"""Return a text from outside with what would move the cursor or colour the screen replaced.

    Examples
    --------
    >>> printable("Wren\x1b[31m")
    'Wren?[31m'
    """
    return "".join(c if c.isprintable() else "?" for c in text)


def ruled(heads: Sequence[Sequence[str]], rows: Sequence[Sequence[str]], left: int = 0) -> str:
    """Lay out rows under heads, a rule between them.

    Parameters
    ----------
    heads : sequence of sequence of str
        Lines of the head, each with one cell a column.
    rows : sequence of sequence of str
        Cells, as many a row as in the head.
    left : int
        So many columns from the left are ranged left; the others, numbers, right.

    Examples
    --------
    >>> print(ruled([["draw", "weight"], ["in", "lbf"]], [["28.00", "38.9"]]))
     draw  weight
       in     lbf
    -----  ------
    28.00    38.9
    """
    widths = [max(map(len, cells)) for cells in zip(*heads, *rows, strict=True)]

    def line(cells: Sequence[str]) -> str:
        ranged = [
            cell.ljust(width) if i < left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(cells, widths, strict=True))
        ]
        return "  ".join(ranged).rstrip()

    return "\n".join([*map(line, heads), line(["-" * width for width in widths]), *map(line, rows)])


def wrapped(text: str, first: str = "", after: str = "") -> str:
    """Break a text into lines, no number apart from its unit.

    Parameters
    ----------
    text : str
        One paragraph.
    first, after : str
        What the first line and the others begin with.
    """
    held = re.sub(r"(?<=\d) (?=[A-Za-z%])", "\N{NO-BREAK SPACE}", text)
    lines = textwrap.fill(held, WIDTH, initial_indent=first, subsequent_indent=after)
    return lines.replace("\N{NO-BREAK SPACE}", " ")


def fixed(value: float, places: int) -> str:
    """Write a number with fixed places, never as minus zero."""
    return f"{round(value, places) + 0.0:.{places}f}"


def labelled(lines: Sequence[tuple[str, str]]) -> str:
    """Return a list of labels with their text."""
    wide = max(len(label) for label, _ in lines) + 2
    return "\n".join(wrapped(text, label.ljust(wide), " " * wide) for label, text in lines)


def draw_measure(walk: Walk) -> str:
    """Return the sentence that says how draw length is measured."""
    if walk.design.draw.measure == "amo":
        return "Draw length is AMO: nock point to grip pivot, plus 1.75 in (44.45 mm)."
    return "Draw length is from nock point to grip pivot, nothing added."


def draw_table(walk: Walk, system: System) -> str:
    """Return the table of the draw at each whole inch, or each 25 mm."""
    table: DrawTable = even_draws(walk, system)
    length, force, energy = (shown_unit(kind, system) for kind in ("length", "force", "energy"))
    heads = [
        ["draw", "weight", "tension", "energy", "of yield"],
        [length, force, force, energy, "%"],
    ]
    columns = [
        (convert(table.draw + allowance(walk), "length", system), 2 if system == "us" else 1),
        (convert(table.force, "force", system), 1),
        (convert(table.tension, "force", system), 1),
        (convert(table.energy, "energy", system), 1),
        (convert(table.yield_share, "share", system), 0),
    ]
    rows = [
        [fixed(values[i], places) for values, places in columns] for i in range(len(table.draw))
    ]
    return ruled(heads, rows)


def _fold_text(walk: Walk, summary: Summary, system: System) -> str:
    """Say how near the limb is to folding, and where and at which draw it would."""
    share = f"bent to {100.0 * summary.fold_share:.0f} % of what its section stands"
    if walk.fold is None:
        return f"{share}; none before limb and string are stretched out"
    when = draw_text(walk, walk.fold.draw, system)
    return f"{share}; {walk.fold.words} at {when}, {spot_text(walk.fold.s, walk.fold.limb, system)}"


def _follow_text(summary: Summary, system: System) -> str:
    """Say what the first full draw takes out of the limb."""
    follow = summary.follow
    if follow is None:
        return "unknown: the bow was not drawn fully"
    tips = [show(tip, "length", system, 2) for tip in follow.tips]
    come = tips[0] if summary.tuning is None else f"{tips[0]} (upper) and {tips[1]} (lower)"
    return (
        f"tips come {come} toward the archer at the first full "
        f"draw, just after it; from the same brace height the bow then draws "
        f"{show(follow.weight, 'force', system, 3)}, brace tension "
        f"{show(follow.tension, 'force', system, 3)}"
    )


def _length_lines(lengths: Lengths, system: System) -> list[tuple[str, str]]:
    """Say how long the bow is, and what box it goes in."""

    def box(of: Box) -> str:
        sides = " x ".join(
            f"{convert(side, 'length', system):.{1 if system == 'us' else 0}f}"
            for side in (of.length, of.depth, of.width)
        )
        return f"{sides} {shown_unit('length', system)}"

    return [
        (
            "lengths",
            f"{show(lengths.tip_to_tip, 'length', system)} from tip to tip unstrung, "
            f"{show(lengths.along_back, 'length', system)} along the back between the grooves; "
            f"trade length {show(lengths.trade, 'length', system)} (string plus "
            f"{show(TRADE_ALLOWANCE, 'length', system)}, common practice)",
        ),
        ("box", f"{box(lengths.unstrung)} unstrung, {box(lengths.strung)} strung"),
    ]


def _tuning_lines(tuning: Tuning, system: System) -> list[tuple[str, str]]:
    """Say how two unlike limbs work together."""
    upper, lower = (show(gap, "length", system, 3) for gap in tuning.fade_gap)
    turn = float(tuning.rotation[-1])
    way = "upper" if turn > 0.0 else "lower"
    low, high = float(np.min(tuning.nock_travel)), float(np.max(tuning.nock_travel))
    below, above = (show(abs(travel), "length", system, 2) for travel in (low, high))
    times = [show(time, "time", system, 3) for time in tuning.return_times]
    late = "neither limb is late" if not tuning.late else f"the {tuning.late} limb is late"
    return [
        (
            "tiller",
            f"{show(tuning.tiller, 'length', system, 2)}: from string to belly {upper} on "
            f"the upper and {lower} on the lower limb, {place_text(tuning.fade, system)} from the "
            "centre, at brace",
        ),
        (
            "balance",
            f"turns {show(abs(turn), 'angle', system, 2)} in the hand from brace to the "
            f"last draw, the {way} limb toward the archer",
        ),
        ("nock travel", f"from {below} below to {above} above the arrow's line at the last draw"),
        (
            "limbs",
            f"{late}: alone the upper limb comes back in {times[0]}, the lower in "
            f"{times[1]}, by an estimate to compare them",
        ),
    ]


def summary_table(walk: Walk, summary: Summary, system: System) -> str:
    """Return the summary: one labelled line a figure."""
    design, pipe = walk.design, walk.design.pipe
    choice = design.pipe_choice
    wall = "expected of this size" if choice.size else "from its weight" if not choice.wall else ""
    lines = [
        (
            "pipe",
            f"{printable(choice.size or pipe.name or 'as measured')}: "
            f"{show(pipe.outer_diameter, 'length', system)} outside, "
            f"{show(pipe.wall, 'length', system, 3)} wall{f' ({wall})' if wall else ''}, "
            f"cut {show(choice.cut_length, 'length', system)}",
        ),
        (
            "material",
            "rigid PVC at 23 C, assumed: test your own"
            if design.material_choice.law is None
            and design.material_choice.temperature is None
            and design.material_choice.stiffness is None
            else "as in the design",
        ),
        (
            "brace height",
            f"{show(walk.brace_height, 'length', system)} from pivot to string, "
            f"tension {show(walk.brace_tension, 'force', system, 3)}",
        ),
        (
            "string",
            f"{show(walk.string_length, 'length', system)} between grooves, untensioned; "
            f"{design.string.strands} strands, breaks at {summary.string_reserve:.1f} x weight",
        ),
        (
            "weight",
            f"{show(summary.weight, 'force', system, 3)} at "
            f"{draw_text(walk, summary.draw, system)}",
        ),
        (
            "stored energy",
            f"{show(summary.energy, 'energy', system, 3)} since brace, "
            f"{summary.energy_ratio:.2f} of weight x stroke",
        ),
        (
            "stack",
            f"{show(summary.stack, 'spring_rate', system, 3)} steepest rise of weight in the "
            "last quarter",
        ),
        ("fold", _fold_text(walk, summary, system)),
        (
            "evenness",
            f"bends at most {summary.hinge.index:.2f} times as much as around it, "
            f"{spot_text(summary.hinge.s, summary.hinge.limb, system)}",
        ),
        ("string follow", _follow_text(summary, system)),
    ]
    lines += string_lines(walk, summary, system)
    lines += _length_lines(summary.lengths, system)
    if summary.tuning is not None:
        lines += _tuning_lines(summary.tuning, system)
    return labelled(lines)


def hot_spot_table(walk: Walk, summary: Summary, system: System) -> str:
    """Return the table of hot spots, by distance from the bow's centre as marks are."""
    length, stress = shown_unit("length", system), shown_unit("stress", system)
    places = 1 if system == "us" else 0
    heads = [
        ["side", "from centre", "at draw", "strain", "stress", "of yield"],
        ["", length, length, "%", stress, "%"],
    ]
    rows = [
        [
            f"{spot.limb} {spot.side}".strip(),
            fixed(convert(spot.s, "length", system), places),
            fixed(convert(spot.draw + allowance(walk), "length", system), places + 1),
            fixed(convert(spot.strain, "share", system), 2),
            fixed(convert(spot.stress, "stress", system), 0 if system == "us" else 1),
            fixed(convert(spot.yield_share, "share", system), 0),
        ]
        for spot in summary.hot_spots
    ]
    return ruled(heads, rows, left=1)


def draw_report(walk: Walk, system: System) -> str:
    """Return the whole printed report of a walk.

    Parameters
    ----------
    walk : Walk
        The walk, complete or not.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    str
        Lines of at most 92 characters (a design's name apart), without the last line end.

    Notes
    -----
    Strain and stress are positive in tension, along the limb, at the outer fibre; "of yield" is
    the strain over the yield strain of its sign.
    """
    summary = summarize(walk)
    name = printable(walk.design.name)
    parts = [
        f"{name}: {walk.stop.value}",
        draw_table(walk, system),
        draw_measure(walk),
        summary_table(walk, summary, system),
        "Worked hardest (stress along the limb, tension positive):\n"
        + hot_spot_table(walk, summary, system),
        *(
            wrapped(f"Warning: {printable(text)}", after="  ")
            for text in warnings(walk, summary, system)
        ),
        cautions_text(WIDTH),
    ]
    return "\n\n".join(parts)


def pipe_table(system: System) -> str:
    """Return the table of published pipe sizes, with standard and status of each row.

    Examples
    --------
    >>> print(pipe_table("us").splitlines()[6])
    3/4 in Sch 40       1.050  0.113     0.123   0.214   ASTM D1785       S
    """
    length, weight = shown_unit("length", system), shown_unit("mass_per_length", system)
    places = 3 if system == "us" else 2
    heads = [
        ["size", "outside", "least", "expected", "weight", "standard", "status"],
        ["", "diameter", "wall", "wall", "", "", ""],
        ["", length, length, length, weight, "", ""],
    ]

    def number(value: float | None, kind: str, digits: int) -> str:
        return "-" if value is None else fixed(convert(value, kind, system), digits)

    rows = [
        [
            row.name,
            number(row.outer_diameter, "length", places),
            number(row.wall_minimum, "length", places),
            number(row.wall, "length", places),
            number(row.mass_per_length, "mass_per_length", 3 if system == "us" else 0),
            row.standard,
            row.status,
        ]
        for row in PIPES
    ]
    note = (
        "Status: S seen in a public copy of the standard or on a trade page, M from memory. The "
        "expected wall is used when a design names a size; weighing a length of your own pipe is "
        "surer (pipe.outer_diameter with pipe.mass_per_length)."
    )
    return ruled(heads, rows, left=1) + "\n\n" + wrapped(note)
