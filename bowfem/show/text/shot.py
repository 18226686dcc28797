"""A shot in words: one arrow, a table of arrows, what is left out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import bowfem
from bowfem.findings import DrawLength, recorded
from bowfem.show.text.cautions import ESTIMATE, cautions_text
from bowfem.show.text.tables import finding_lines, labelled, printable, ruled_table, wrapped
from bowfem.units import System

if TYPE_CHECKING:
    from bowfem.findings import Shots

LEFT_OUT = (
    "Computed for elastic limbs, a grip that is held, an arrow that is a point on the string, and "
    "no drag of the air; the band holds pipe, plastic and 2 % for the plastic's quickness and "
    "loss. A string of masses along its length is 0.4 % slower. What hits the bow after the arrow "
    "has gone, and what a dry fire does, is not computed: never let go without an arrow."
)


def shot_report(shots: Shots, system: System) -> str:
    """Return the printed report of a shot.

    Parameters
    ----------
    shots : Shots
        The shot, and those of other arrows.
    system : {"us", "metric"}
        Units.
    """
    at = DrawLength.of(shots.walk, shots.walk.draw[-1]).text(system)
    parts = [
        f"{printable(shots.walk.design.name)}: a shot from {at}",
        labelled(finding_lines(shots.lines, system)),
        f"arrows from light to heavy; string: its least tension on the way:\n"
        f"{ruled_table(shots.table, system)}",
        *(wrapped(each.text(system), "warning: ", "  ") for each in shots.warnings),
        wrapped(LEFT_OUT),
        cautions_text(),
    ]
    return "\n\n".join(parts)


def shot_json(shots: Shots, system: System) -> bytes:
    """Return a shot as the content of a JSON file: keys of quantities carry their unit."""
    found = {
        "bowfem": bowfem.__version__,
        "estimate": ESTIMATE,
        "name": shots.walk.design.name,
        "design": shots.walk.design.to_toml(),
        "warnings": [each.text(system) for each in shots.warnings],
        **recorded(shots.lines, system),
        "arrows": shots.table.items(system),
    }
    return (json.dumps(found, allow_nan=False, indent=1) + "\n").encode()
