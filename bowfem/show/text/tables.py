"""The printed report of a walk and the list of pipes: plain text in ruled columns."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from bowfem.section import PIPES
from bowfem.show.text.cautions import cautions_text
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.findings import Findings, Line, Table
    from bowfem.orders import WeightBand

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


def held_together(text: str) -> str:
    """Return a text in which no line breaks between a number and its unit."""
    return re.sub(r"(?<=\d) (?=[A-Za-z%])", "\N{NO-BREAK SPACE}", text)


def wrapped(text: str, first: str = "", after: str = "") -> str:
    """Break a text into lines, no number apart from its unit.

    Parameters
    ----------
    text : str
        One paragraph.
    first, after : str
        What the first line and the others begin with.
    """
    lines = textwrap.fill(held_together(text), WIDTH, initial_indent=first, subsequent_indent=after)
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


def ruled_table(table: Table, system: System, left: int = 0) -> str:
    """Return a table of findings in ruled columns, the first `left` ranged left."""
    heads = [
        [column.head for column in table.columns],
        [column.unit(system) for column in table.columns],
    ]
    return ruled(heads, table.rows(system), left=left)


def finding_lines(lines: Sequence[Line], system: System) -> list[tuple[str, str]]:
    """Return label and words of the findings that have words."""
    return [(line.label, printable(line.text(system))) for line in lines if line.label]


def with_band(
    lines: list[tuple[str, str]], band: WeightBand | None, system: System
) -> list[tuple[str, str]]:
    """Put the band of the weight after the weight."""
    if band is None:
        return lines
    at = [label for label, _ in lines].index("weight") + 1
    return [*lines[:at], ("band", band_text(band, system)), *lines[at:]]


def warning_lines(findings: Findings, system: System) -> list[str]:
    """Return the warnings, each broken into lines."""
    return [
        wrapped(f"Warning: {printable(warned.text(system))}", after="  ")
        for warned in findings.warnings
    ]


def band_text(band: WeightBand, system: System) -> str:
    """Say between what weights such bows lie, and what measuring the pipe would narrow that to."""
    low, high = (show(x, "force", system, 3) for x in (band.low, band.high))
    text = f"95 of 100 such bows draw {low} to {high}"
    if band.narrowed is None:
        return text
    low, high = (show(x, "force", system, 3) for x in band.narrowed)
    return (
        f"{text}; hang a weight on an offcut and measure its wall before heating (see bowfem "
        f"learn), and it is {low} to {high}"
    )


def draw_report(findings: Findings, system: System, band: WeightBand | None = None) -> str:
    """Return the whole printed report of a walk.

    Parameters
    ----------
    findings : Findings
        What the walk, complete or not, comes to.
    system : {"us", "metric"}
        Units.
    band : WeightBand, optional
        The band of its weight.

    Returns
    -------
    str
        Lines of at most 92 characters (a design's name apart), without the last line end.

    Notes
    -----
    Strain and stress are positive in tension, along the limb, at the outer fibre; "of yield" is
    the strain over the yield strain of its sign.
    """
    walk = findings.walk
    # not for a list of pipes
    from bowfem.findings import NOT_PROMISED, PROMISED, draw_table, hot_spot_table

    spots = hot_spot_table(walk, findings.hot_spots)
    parts = [
        f"{printable(walk.design.name)}: {findings.verdict}",
        ruled_table(draw_table(walk, system), system),
        draw_measure(walk),
        labelled(with_band(finding_lines(findings.lines, system), band, system)),
        f"{spots.title}:\n{ruled_table(spots, system, left=1)}",
        *warning_lines(findings, system),
        wrapped(f"Of set and time may be said: {PROMISED}"),
        wrapped(f"May not: {NOT_PROMISED}"),
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
