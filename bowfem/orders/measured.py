"""What was measured on a finished bow and on an offcut of its pipe, read from a small file."""

from __future__ import annotations

import os
from dataclasses import dataclass
from typing import Any

import numpy as np

from bowfem.design import AMO_ALLOWANCE, Design, Side, parse_toml, read_text
from bowfem.errors import DesignError, Fault, InputError
from bowfem.units import parse

#: Usual errors of a measurement, a standard deviation in SI units (C) ...
ERRORS = {"weight": 2.0, "string": 2e-3, "brace": 2e-3, "tip": 3e-3, "tiller": 1e-3}
ERRORS |= {"kept": 1.0, "follow": 3e-3, "unbraced": 3e-3, "wall": 0.05e-3, "pressed": 0.1e-3}
#: ... and as a share: of a sag, of a mass with the density that turns it into a wall, of a tip's
#: way sideways.
SHARES = {"hang": 0.02, "weighed": 0.015, "sideways": 0.1}
#: Largest sag over span: beyond it the closed form of a small deflection is off by 1 % (D).
SLOPE = 0.05
#: Keys of each table, and their dimension; those with a mark may be left out.
TABLES = {
    "weight": {"draw": "length", "force": "force", "error?": "force"},
    "string": {"length": "length", "error?": "length"},
    "brace": {"height": "length", "error?": "length"},
    "tip": {"limb?": "", "toward?": "length", "along?": "length", "error?": "length"},
    "tiller": {"upper": "length", "lower": "length", "error?": "length"},
    "unbraced": {"limb?": "", "toward?": "length", "along?": "length", "error?": "length"},
    "sideways": {
        "limb?": "",
        "strung?": "",
        "push": "force",
        "moved": "length",
        "error?": "length",
    },
    "hang": {"span": "length", "weight": "force", "sag": "length", "error?": "length"},
    "weighed": {"length": "length", "mass": "mass", "error?": "mass"},
    "wall": {"thickness": "length", "error?": "length"},
    "pressed": {"limb?": "", "at": "length", "thickness": "length", "error?": "length"},
    "kept": {"for": "duration", "before": "force", "after": "force", "error?": "force"},
    "follow": {"toward": "length", "error?": "length"},
}


@dataclass(frozen=True)
class Measurement:
    """One figure that was measured.

    Parameters
    ----------
    kind : str
        "weight" at a draw; "string" length or "brace" height, whichever the design does not give;
        "toward" or "along", of a tip at brace from the bow's centre; "gap" from string to belly at
        the end of the fades at brace; "rest toward" or "rest along", of a tip of the unbraced bow;
        "kept", weight after being strung over that before; "follow", of the unstrung tips a night
        later; "pressed" thickness; "sideways" or "sideways unstrung", how far a push moves a
        groove with the grip held; "sag" of a round offcut laid on two supports with a weight hung
        in the middle; "mass" of a length of pipe; its "wall".
    value, error : float
        What it is, and its standard deviation, SI units.
    draw : float
        Of a weight: nock point to pivot, m.
    side : Side
        Of a tip, a gap, a thickness: which limb.
    span, load : float
        Of a sag: between the supports, m, and hung, N; of a way sideways, the push, N; of a mass,
        the length, m; of what was kept, how long, s; of a thickness, the distance from the bow's
        centre, m.
    """

    kind: str
    value: float
    error: float
    draw: float = 0.0
    side: Side = Side.UPPER
    span: float = 0.0
    load: float = 0.0

    def __post_init__(self) -> None:
        """Check the ranges."""
        for key, value in (("value", self.value), ("error", self.error)):
            either = key == "value" and self.kind in ("toward", "rest toward")
            if not (abs(value) < 1e9 and (value > 0.0 or either)):
                raise InputError(f"{self.kind}.{key}", value, "a finite number above 0")
        if self.kind == "sag" and not (self.load > 0.0 and 0.0 < self.value <= SLOPE * self.span):
            allowed = f"above 0, at most {100 * SLOPE:g} % of the span; hang less"
            raise InputError("hang.sag", f"{1000 * self.value:g} mm", allowed)
        if self.kind.startswith("sideways") and not 0.0 < self.load < 1e9:
            raise InputError("sideways.push", f"{self.load:g} N", "above 0")


def measurements_from_file(path: str | os.PathLike[str], design: Design) -> list[Measurement]:
    """Read a file of measurements; see `measurements_from_toml`."""
    return measurements_from_toml(read_text(path), design, str(os.fspath(path)))


def measurements_from_toml(
    text: str, design: Design, source: str = "measurements"
) -> list[Measurement]:
    """Read measurements.

    Parameters
    ----------
    text : str
        Tables `[[weight]]`, `[[string]]`, `[[brace]]`, `[[tip]]`, `[[tiller]]`, `[[unbraced]]`,
        `[[pressed]]`, `[[sideways]]`, `[[hang]]`, `[[weighed]]`, `[[wall]]`,
        `[[kept]]`, `[[follow]]`; `TABLES` lists keys.
    design : Design
        The bow measured; draws are in its convention.
    source : str
        Where the text comes from, for messages.

    Raises
    ------
    DesignError
        All faults, by key.
    """
    faults: list[Fault] = []
    found: list[Measurement] = []
    for name, rows in parse_toml(text, source).items():
        if name not in TABLES or not isinstance(rows, list):
            allowed = ", ".join(f"[[{each}]]" for each in TABLES)
            faults.append(Fault(name, "given", f"one of {allowed}"))
            continue
        for number, row in enumerate(rows, 1):
            entry = _read(name, f"{name}.{number}", row, faults)
            if entry is None:
                continue
            try:
                found += _made(name, entry, design)
            except InputError as error:
                key = error.key.removeprefix(f"{name}.")
                faults.append(Fault(f"{name}.{number}.{key}", str(error.value), error.allowed))
    if not faults and not found:
        faults.append(Fault("file", "empty", "at least one measurement"))
    if faults:
        raise DesignError(source, faults)
    return found


def _read(name: str, place: str, row: Any, faults: list[Fault]) -> dict[str, Any] | None:
    """Read one table; note its faults."""
    keys = {key.rstrip("?"): kind for key, kind in TABLES[name].items()}
    if not isinstance(row, dict):
        faults.append(Fault(place, "no table", f"a table with {', '.join(keys)}"))
        return None
    entry, before = {}, len(faults)
    for key in row:
        if key not in keys:
            faults.append(Fault(f"{place}.{key}", "unknown", f"one of {', '.join(keys)}"))
    for key, kind in keys.items():
        if key not in row:
            if f"{key}?" not in TABLES[name]:
                faults.append(Fault(f"{place}.{key}", "missing", f"a {kind}, given"))
            continue
        try:
            entry[key] = row[key] if not kind else parse(row[key], kind, key)
        except InputError as error:
            faults.append(Fault(f"{place}.{key}", str(error.value), error.allowed))
    return entry if len(faults) == before else None


def _made(name: str, entry: dict[str, Any], design: Design) -> list[Measurement]:
    """Make the measurements of one table."""
    error = entry.get("error", ERRORS.get(name, 0.0))
    match name:
        case "weight":
            draw = entry["draw"] - (AMO_ALLOWANCE if design.draw.measure == "amo" else 0.0)
            if not draw > (design.string.brace_height or 0.0) + 0.01:
                raise InputError("draw", f"{draw:g} m to the pivot", "beyond the brace height")
            return [Measurement("weight", entry["force"], error, draw=draw)]
        case "string" | "brace":
            given = "brace" if design.string.brace_height is not None else "string"
            if name == given:
                key = "brace_height" if given == "brace" else "length"
                allowed = f"what the design does not give; it gives string.{key}: change it there"
                raise InputError("height" if name == "brace" else "length", "given", allowed)
            return [Measurement(name, entry["height" if name == "brace" else "length"], error)]
        case "tip" | "unbraced":
            side = _side(entry)
            found = [
                Measurement(key if name == "tip" else f"rest {key}", entry[key], error, side=side)
                for key in ("toward", "along")
                if key in entry
            ]
            if not found:
                raise InputError("toward", "missing", "given, or along, or both")
            return found
        case "tiller":
            return [Measurement("gap", entry[side.value], error, side=side) for side in Side]
        case "weighed":
            error = entry.get("error", SHARES[name] * entry["mass"])
            return [Measurement("mass", entry["mass"], error, span=entry["length"])]
        case "kept":
            return [_kept(entry, error)]
        case "follow":
            return [Measurement(name, entry["toward"], error)]
        case "wall" | "pressed":
            at, side = entry.get("at", 0.0), _side(entry)
            return [Measurement(name, entry["thickness"], error, side=side, span=at)]
        case "sideways":
            strung = entry.get("strung", True)
            if not isinstance(strung, bool):
                raise InputError("strung", ascii(strung), "true or false")
            kind, moved = name if strung else f"{name} unstrung", entry["moved"]
            error = entry.get("error", SHARES[name] * moved)
            return [Measurement(kind, moved, error, side=_side(entry), load=entry["push"])]
        case _:
            error = entry.get("error", SHARES[name] * entry["sag"])
            return [
                Measurement("sag", entry["sag"], error, span=entry["span"], load=entry["weight"])
            ]


def _kept(entry: dict[str, Any], error: float) -> Measurement:
    before, after, lasts = entry["before"], entry["after"], entry["for"]
    if not 0.0 < after < 1.05 * before:
        raise InputError("after", f"{after:g} N", "above 0, not above the weight before")
    if not lasts >= 60.0:
        raise InputError("for", f"{lasts:g} s", "at least a minute")
    ratio = after / before
    spread = float(np.hypot(error / after, error / before)) * ratio
    return Measurement("kept", ratio, spread, span=lasts)


def _side(entry: dict[str, Any]) -> Side:
    name = entry.get("limb", Side.UPPER.value)
    if name not in [side.value for side in Side]:
        raise InputError("limb", ascii(name), "'upper' or 'lower'")
    return Side(name)
