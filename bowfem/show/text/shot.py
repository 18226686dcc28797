"""A shot in words: one arrow, a table of arrows, what is left out."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING, Any

import numpy as np

import bowfem
from bowfem.findings import DrawLength, Figure, recorded
from bowfem.show.text.cautions import ESTIMATE, cautions_text
from bowfem.show.text.tables import finding_lines, labelled, printable, ruled_table, wrapped
from bowfem.units import System, show

if TYPE_CHECKING:
    from bowfem.findings import Shots

LEFT_OUT = (
    "An arrow is a point on the string here, and a third of the string goes with it; a string of "
    "masses along its length is 0.4 % slower and pulls some per cent harder afterwards. The loss "
    "of the plastic is remembered, not measured (loss tangent 0.02, between 0.01 and 0.04). No "
    "bow was measured against this. What a dry fire does is a range of what the sections bear, "
    "never leave to try: never let go without an arrow."
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
        "arrows from light to heavy; the string's least tension on the way, its largest after, and "
        "the largest\nbending after, of folding:\n"
        f"{ruled_table(shots.table, system)}",
        wrapped(advice(shots, system)),
        *(wrapped(each.text(system), "warning: ", "  ") for each in shots.warnings),
        wrapped(LEFT_OUT),
        cautions_text(),
    ]
    return "\n\n".join(parts)


def advice(shots: Shots, system: System) -> str:
    """Say which arrow is the lightest to shoot, and why."""
    if shots.advised is None:
        return "No arrow of the table spares string and limbs: the bow wants to be changed first."
    mass, reason = shots.advised
    return f"Lightest arrow to shoot: {show(mass, 'mass', system, 3)}; {reason}."


def left_out(shots: Shots, system: System) -> str:
    """Say which arrow is the lightest to shoot, and what is not in the figures."""
    return f"{advice(shots, system)} {LEFT_OUT}"


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
        "lightest_arrow": None
        if shots.advised is None
        else {
            **Figure("arrow", shots.advised[0], "mass").items(system),
            "reason": shots.advised[1],
        },
        "instants": _instants(shots, system),
    }
    return (json.dumps(found, allow_nan=False, indent=1) + "\n").encode()


def shot_csv(shots: Shots, system: System) -> bytes:
    """Return the instants of a shot as a CSV file: columns by name and unit."""
    columns = _instants(shots, system)
    with io.StringIO() as text:
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows(zip(*columns.values(), strict=True))
        return text.getvalue().encode()


def _lightest(shots: Shots, system: System) -> dict[str, Any] | None:
    if shots.advised is None:
        return None
    mass, reason = shots.advised
    return {**Figure("arrow", mass, "mass").items(system), "reason": reason}


def _instants(shots: Shots, system: System) -> dict[str, Any]:
    """Return the shot over time, as columns."""
    motion, parts = shots.shot.motion, 3.0 - len(shots.shot.motion.nodes)
    names = ("bent", "string", "limbs", "nock", "plastic_kept", "plastic_lost", "air")
    figures = (
        Figure("time", motion.time, "time"),
        Figure("nock", motion.nock[:, 0], "length"),
        Figure("speed", -motion.speed[:, 0], "speed"),
        Figure("tension", np.max(motion.tension, axis=1), "force"),
        *(
            Figure(f"energy_{name}", parts * values, "energy")
            for name, values in zip(names, motion.energy.T, strict=True)
        ),
    )
    return {key: value for each in figures for key, value in each.items(system).items()}
