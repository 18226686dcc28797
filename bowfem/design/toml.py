"""Design files: TOML text to entries, and records back to TOML text."""

from __future__ import annotations

import json
import os
import re
import tomllib
from collections.abc import Callable, Iterator
from numbers import Integral
from typing import Any

from bowfem import units
from bowfem.design.entries import is_number
from bowfem.design.fields import Group, Quantity, Rows, fields_of
from bowfem.errors import DesignError, Fault, InputError
from bowfem.files import write_whole

#: Designs are a page or two; anything larger is some other file.
LARGEST_FILE = 1_000_000
#: A value with a unit that stands bare, or in curly quotes.
UNQUOTED = re.compile(
    r"""=\s*(?:[\u201c\u201d\u201e]|[+-]?[0-9][0-9./ -]*\s*[A-Za-z%\u00b0\u2032\u2033'"])"""
)
#: Tables and lists in each other, more than any design has.
DEEPEST = 12


def read_text(path: str | os.PathLike[str]) -> str:
    """Read a design file.

    Raises
    ------
    InputError
        The file is missing, unreadable, a directory, too large, or not UTF-8 text.
    """
    shown = repr(os.fspath(path))
    try:
        with open(path, "rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError("design file", shown, f"a readable file ({reason})") from None
    if len(data) > LARGEST_FILE:
        raise InputError("design file", shown, f"a text of at most {LARGEST_FILE} bytes")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        allowed = f"UTF-8 text (byte {error.start} is not)"
        raise InputError("design file", shown, allowed) from None


def write_text(path: str | os.PathLike[str], text: str) -> None:
    """Write a file whole or not at all.

    Raises
    ------
    InputError
        The place cannot be written to; what was there before is untouched.
    """
    write_whole(path, text.encode(), "design file")


def parse_toml(text: str, source: str) -> dict[str, Any]:
    """Parse TOML text.

    Raises
    ------
    DesignError
        The text is no TOML; the fault names the line.
    """
    try:
        found = tomllib.loads(text)
        if _is_deep(found):
            raise RecursionError
        return found
    except RecursionError:
        raise DesignError(source, [Fault("text", "(too deep)", "a plain design file")]) from None
    except ValueError as error:  # tomllib's own error, or a number of thousands of digits
        reason, _, place = str(error).partition(" (at ")
        line = re.match(r"line ([0-9]+)", place)
        lines = text.splitlines()
        number = int(line[1]) if line else len(lines)
        shown = lines[number - 1].strip()[:60] if 0 < number <= len(lines) else "(end of text)"
        key = f"line {number}" if line or place else "text"
        if UNQUOTED.search(shown):
            reason = 'put the value in straight quotes, as "48 in"'
        raise DesignError(source, [Fault(key, ascii(shown), f"TOML: {reason}")]) from None


def _is_deep(tables: Any) -> bool:
    """Whether tables lie deeper in each other than any design's do."""
    level = [tables]
    for _ in range(DEEPEST):
        inside = (each.values() if isinstance(each, dict) else each for each in level)
        level = [part for each in inside for part in each if isinstance(part, dict | list)]
    return bool(level)


def _quantities(record: Any) -> Iterator[tuple[float, str]]:
    for f in fields_of(type(record)):
        value = getattr(record, f.attribute)
        match f.spec:
            case Rows():
                for row in value:
                    yield from _quantities(row)
            case Group() if value is not None:
                yield from _quantities(value)
            case Quantity(kind=kind) if is_number(value):
                yield value, kind


def exact_writer(record: Any) -> Callable[[float, str], str]:
    """Choose the units of a file: of the system that gives the shorter file.

    A value keeps the other system's unit where that is clearly shorter: "25 mm" pipe stays so in
    a bow laid out in inches.
    """
    us, metric = (
        sum(len(units.exact_text(*pair, system)) for pair in _quantities(record))
        for system in ("us", "metric")
    )
    order: tuple[units.System, units.System] = (
        ("us", "metric") if us <= metric else ("metric", "us")
    )

    def write(value: float, kind: str) -> str:
        own, other = (units.exact_text(value, kind, system) for system in order)
        return other if len(other) < len(own) - 2 else own

    return write


def document(record: Any, write: Callable[[float, str], str]) -> dict[str, Any]:
    """Return the tables of a file: texts, bare numbers, lists of tables, tables."""
    table: dict[str, Any] = {}
    for f in fields_of(type(record)):
        value = getattr(record, f.attribute)
        match f.spec:
            case Rows():
                value = [document(row, write) for row in value] or None
            case Group() if value is not None:
                value = document(value, write) or None
            case Quantity(kind=kind) if is_number(value):
                value = write(value, kind)
        if value is not None:
            table[f.key] = value
    return table


def toml_text(table: dict[str, Any], prefix: str = "") -> str:
    """Write tables as TOML."""
    plain = {key: value for key, value in table.items() if not isinstance(value, dict)}
    parts = []
    if plain:
        head = f"[{prefix}]\n" if prefix else ""
        parts.append(head + "".join(f"{key} = {_toml(value)}\n" for key, value in plain.items()))
    for key, value in table.items():
        if isinstance(value, dict):
            parts.append(toml_text(value, f"{prefix}.{key}" if prefix else key))
    return "\n".join(parts)


def _toml(value: Any) -> str:
    if isinstance(value, list):
        rows = (
            "  { " + ", ".join(f"{key} = {_toml(item)}" for key, item in row.items()) + " },\n"
            for row in value
        )
        return "[\n" + "".join(rows) + "]"
    if not isinstance(value, str):
        return repr(int(value) if isinstance(value, Integral) else float(value))
    # The escapes of JSON are a subset of TOML's, but TOML wants the delete character escaped too.
    lines = [
        json.dumps(line, ensure_ascii=False).replace("\x7f", "\\u007f")[1:-1]
        for line in value.split("\n")
    ]
    return f'"{lines[0]}"' if len(lines) == 1 else '"""\n' + "\n".join(lines) + '"""'


def put(tables: dict[str, Any], key: str, value: Any) -> None:
    """Set, or with None take out, the entry of a dotted key.

    Raises
    ------
    InputError
        The key leads nowhere.
    """
    refusal = InputError("key", key, "a key of this design, such as limb.marks.1.thickness")
    *path, last = key.split(".")
    place: Any = tables
    for step in path:
        if isinstance(place, list) and step.isdecimal() and 1 <= int(step) <= len(place):
            place = place[int(step) - 1]
        elif isinstance(place, dict) and step:
            if step not in place and value is None:
                return
            place = place.setdefault(step, {})
        else:
            raise refusal
    if not isinstance(place, dict):
        raise refusal
    if value is None:
        place.pop(last, None)
    else:
        place[last] = value
