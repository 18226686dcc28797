"""The first screen of a walk: a verdict to act on, in 80 columns by 24 rows."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from bowfem.findings import DrawLength, Findings, Place
from bowfem.show.text.tables import held_together, printable
from bowfem.units import System, show

if TYPE_CHECKING:
    from bowfem.orders import Eased, WeightBand

#: Its size, and the lines a warning may take.
COLUMNS, ROWS, WARNING_LINES = 80, 24, 3
#: Rows of a label.
LABEL = 9
#: The cautions in the fewest words; the rest of them stand in the full report.
BRIEF = (
    "Estimates, no warranty. Never a dry fire or overdraw; eye protection; not in cold or a hot "
    "car; fumes when heating, never burn offcuts; never under pressure again. All: --full."
)


def first_screen(
    findings: Findings,
    system: System,
    band: WeightBand | None = None,
    eased: Sequence[Eased] | None = (),
) -> str:
    """Return what a maker wants to know first.

    Parameters
    ----------
    findings : Findings
        What the walk, complete or not, comes to.
    system : {"us", "metric"}
        Units.
    band : WeightBand, optional
        The band of its weight.
    eased : sequence of Eased, optional
        Moves that ease it, each walked; None where none was tried.
    """
    walk = findings.walk
    at = DrawLength.of(walk, walk.draw[-1]).text(system)
    weight = show(walk.force[-1], "force", system, 3)
    lines = [_line("", f"{printable(walk.design.name)[:40]}: {findings.verdict}")]
    told = f"{weight} at {at}"
    if band is not None:
        low, high = (show(x, "force", system, 3) for x in (band.low, band.high))
        told += f"; 95 of 100 such bows draw {low} to {high}"
    lines.append(_line("weight", told))
    lines.append(_line("worst", _worst(findings, system)))
    if eased is not None:
        lines.append(_line("change", _change(findings, system, eased)))
    for each in findings.warnings:
        lines.append(_line("warning", printable(each.text(system)), WARNING_LINES))
    lines.append(_line("draws", _draws(findings, system)))
    kept = {line.label: line for line in findings.lines}
    for label in ("brace height", "string", "reserve", "sideways", "loading time", "lengths"):
        if label in kept:
            lines.append(_line(label.split()[0], printable(kept[label].text(system)), 2))
    brief, rows = _line("", BRIEF), []
    for line in lines:
        if len(rows) + len(line) + len(brief) < ROWS:  # one is left for the prompt
            rows += line
    return "\n".join([*rows, *brief])


def _line(label: str, text: str, most: int = 3) -> list[str]:
    """Break one line of the screen, its label in front; too long a text is cut between words."""
    wide = COLUMNS - (LABEL if label else 0)
    rows = textwrap.wrap(held_together(text), wide, max_lines=most, placeholder=" ...")
    first = label.ljust(LABEL) if label else ""
    after = " " * len(first)
    return [
        f"{first if i == 0 else after}{row}".replace("\N{NO-BREAK SPACE}", " ")
        for i, row in enumerate(rows)
    ]


def _worst(findings: Findings, system: System) -> str:
    """Say where the limb is worked hardest, how hard, and what that means."""
    if not findings.hot_spots:
        return "no strain is near anything that limits this bow"
    spot, crease = findings.hot_spots[0], findings.crease
    place = Place("s", spot.s, side=spot.side).text(system)
    text = f"{spot.face}, {place}: {spot.yield_share:.0%} of yield"
    text += " (it takes a set there)" if spot.yield_share >= 1.0 else ""
    if crease.yield_share > max(1.0, spot.yield_share):
        fade = Place("s", crease.s, side=crease.side).text(system)
        text += f"; {crease.yield_share:.0%} where the fade ends, {fade}: it may crease"
    return text


def _change(findings: Findings, system: System, eased: Sequence[Eased]) -> str:
    """Say what to change, and what that brings."""
    if eased:
        best = eased[0]
        return (
            f"{best.name}: at most {best.yield_share:.0%} of yield, "
            f"{show(best.weight, 'force', system, 3)}"
        )
    advice = findings.walk.ending.advice
    if advice:
        return advice
    return "nothing must be; `bowfem levers` says what each move does"


def _draws(findings: Findings, system: System) -> str:
    """Say the weight at four draws, for a scale."""
    walk = findings.walk
    if walk.draw.size < 2:
        return "no further than brace"
    span = walk.draw[-1] - walk.draw[0]
    places = walk.draw[0] + span * np.array([0.25, 0.5, 0.75, 1.0])
    return ", ".join(
        f"{show(walk.weight_at(float(at)), 'force', system, 3)} at "
        f"{show(float(DrawLength.of(walk, at).number('metric')) / 1e3, 'length', system, 3)}"
        for at in places
    )
