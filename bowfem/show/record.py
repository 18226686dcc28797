"""A walk as plain data, for JSON: every key of a quantity carries its unit."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import bowfem
from bowfem.design import Side
from bowfem.findings import DrawLength, Findings, draw_table, plain, recorded
from bowfem.show.text.cautions import ESTIMATE
from bowfem.units import System, column, convert

if TYPE_CHECKING:
    from bowfem.bow import LimbStates

#: Version of the keys: it changes when one is renamed or means something else.
SCHEMA = 2
#: Arrays of a walk, and of its limbs by residence, with their dimension.
BOW = {
    "force": "force",
    "tension": "force",
    "energy": "energy",
    "string_energy": "energy",
    "nock_x": "length",
    "nock_y": "length",
}
STATES = {"string_x": "length", "string_y": "length", "contact": "length"}
STATIONS = {
    "s": "length",
    "thickness": "length",
    "width": "length",
    "mass_per_length": "mass_per_length",
    "unbraced_x": "length",
    "unbraced_y": "length",
}
STATES_AND_STATIONS = {
    "x": "length",
    "y": "length",
    "angle": "angle",
    "curvature_change": "curvature",
    "moment": "moment",
    "axial_force": "force",
    "strain_belly": "share",
    "strain_back": "share",
    "stress_belly": "stress",
    "stress_back": "stress",
    "yield_share": "share",
    "fold_share": "share",
    "moment_share": "share",
    "crosswise_tension": "stress",
    "pressure": "spring_rate",
    "clearance": "length",
}


def to_dict(findings: Findings, system: System) -> dict[str, Any]:
    """Return a walk and its findings as plain data.

    Parameters
    ----------
    findings : Findings
        What the walk comes to.
    system : {"us", "metric"}
        Units of the numbers.

    Returns
    -------
    dict
        `summary` has the maker's figures, `table` columns at even draws, `stations` what belongs
        to a station of the limb, `states` one row a state (and in it one entry a station, where
        the quantity varies along the limb). Where the limbs are not alike, these are of the upper
        one, and `lower` has both for the other. What is not known, or there is none of, is None:
        the keys are the same however the walk ended.

    Notes
    -----
    Draws are given to the pivot, and as AMO draw length where the design uses it. The design
    itself is in `design`, in the form of a design file.
    """
    walk = findings.walk

    def group(of: Any, names: dict[str, str]) -> dict[str, Any]:
        return {
            column(name, kind, system): plain(convert(getattr(of, name), kind, system))
            for name, kind in names.items()
        }

    def states(limb: LimbStates) -> dict[str, Any]:
        return {**group(limb, STATES), **group(limb, STATES_AND_STATIONS)}

    lower = {}
    if not walk.is_symmetric:
        other = walk.limb(Side.LOWER)
        lower = {"lower": {"stations": group(other, STATIONS), "states": states(other)}}
    return {
        "bowfem": bowfem.__version__,
        "schema": SCHEMA,
        "estimate": ESTIMATE,
        "name": walk.design.name,
        "design": walk.design.to_toml(),
        "stop": walk.ending.key,
        "stop_reason": findings.verdict,
        "message": walk.message,
        "warnings": [warned.text(system) for warned in findings.warnings],
        **recorded(findings.lines, system),
        "table": draw_table(walk, system).items(system),
        "stations": group(walk.limb(None), STATIONS),
        "states": {
            **DrawLength.of(walk, walk.draw).items(system),
            **group(walk, BOW),
            **states(walk.limb(None)),
        },
        **lower,
    }


def to_json(findings: Findings, system: System) -> bytes:
    """Return a walk and its findings as the content of a JSON file; see `to_dict`."""
    return (json.dumps(to_dict(findings, system), allow_nan=False, indent=1) + "\n").encode()
