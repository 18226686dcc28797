"""A design file written back as its author wrote it: units, order and comments kept."""

from __future__ import annotations

from typing import Any

from bowfem import units
from bowfem.design.design import Design
from bowfem.design.entries import is_number
from bowfem.design.fields import Quantity
from bowfem.design.toml import document, put
from bowfem.errors import BowfemError

#: Digits after the point of a changed quantity, by its unit: finer than anyone can work.
PLACES = {"in": 4, "mm": 3, "cm": 4, "m": 6, "ft": 5, "deg": 5}
#: Digits of others.
DIGITS = 6


def rewritten(text: str, design: Design) -> str:
    """Return the text of a design file with what differs in another design changed.

    Parameters
    ----------
    text : str
        The file as its author wrote it.
    design : Design
        The design it is to hold.

    Returns
    -------
    str
        Changed quantities stand in the unit they had, rounded to what no one can measure. Where
        that does not read back as the design, a file as `Design.to_toml` writes it.
    """
    import tomlkit

    before, after = (_flat(document(each, _si)) for each in (Design.from_toml(text), design))
    system: units.System = "us" if text.count(' in"') >= text.count('mm"') else "metric"
    try:
        tables = tomlkit.parse(text)
        for key in before.keys() - after.keys():
            put(tables, key, None)
        for key, value in after.items():
            if before.get(key) != value:
                put(tables, key, _written(tables, key, design, system))
        again = tomlkit.dumps(tables)
        if _alike(Design.from_toml(again), design):
            return again
    except (BowfemError, KeyError, TypeError, ValueError):  # tables that are not as plain as that
        pass
    return design.to_toml()


def _si(value: float, kind: str) -> str:
    return units.exact_text(value, kind, "metric")


def _flat(table: Any, prefix: str = "") -> dict[str, Any]:
    """Return entries by dotted key; rows count from 1."""
    pairs = (
        table.items()
        if isinstance(table, dict)
        else ((str(number), row) for number, row in enumerate(table, 1))
    )
    found: dict[str, Any] = {}
    for key, value in pairs:
        if isinstance(value, dict | list):
            found |= _flat(value, f"{prefix}{key}.")
        else:
            found[f"{prefix}{key}"] = value
    return found


def _written(tables: Any, key: str, design: Design, system: units.System) -> Any:
    """Write a value in the unit its author used there, or else the one the other figures have."""
    value, spec = design.value(key), design.spec(key)
    if not is_number(value) or isinstance(value, int):
        return value
    if not isinstance(spec, Quantity):
        return float(f"{value:.{DIGITS}g}")
    place: Any = tables
    for step in key.split("."):
        if isinstance(place, list):
            place = place[int(step) - 1] if int(step) <= len(place) else None
        else:
            place = place.get(step) if isinstance(place, dict) else None
    unit = units.shown_unit(spec.kind, system)
    if isinstance(place, str):
        unit = units.read(place, spec.kind, key).unit
    zero = units.parse(f"0 {unit}", spec.kind)
    number = (float(value) - zero) / (units.parse(f"1 {unit}", spec.kind) - zero)
    if unit not in PLACES:
        return f"{number:.{DIGITS}g} {unit}"
    shown = f"{number:.{PLACES[unit]}f}"
    return f"{shown.rstrip('0').rstrip('.')} {unit}"


def _alike(one: Design, other: Design) -> bool:
    """Whether two designs differ by the rounding of `PLACES` and `DIGITS` alone."""
    first, second = (_values(each) for each in (one, other))
    return first.keys() == second.keys() and all(
        abs(a - b) <= 1e-5 * max(abs(a), abs(b)) + 2e-6
        if is_number(a) and is_number(b := second[key])
        else a == second[key]
        for key, a in first.items()
    )


def _values(design: Design) -> dict[str, Any]:
    return {key: design.value(key) for key in _flat(document(design, _si))}
