"""The flat form of a design, between file and records: dotted key to SI value.

Rows of an array are counted from 1, as a maker counts marks: `limb.marks.1` is next to the handle.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from numbers import Integral, Real
from typing import Any, Literal, TypeGuard

from bowfem import units
from bowfem.design.fields import (
    Field,
    Group,
    Number,
    Quantity,
    Rows,
    Spec,
    Text,
    Word,
    fields_of,
)
from bowfem.errors import Fault, InputError

MISSING = "(missing)"

#: Round-off forgiven where two lengths of a design may be equal, m.
SLACK = 1e-9


def _quoted(value: object) -> str:
    """Show a value of the file in one line of bearable length."""
    text = value if isinstance(value, str) and value.isprintable() and value else ascii(value)
    return text if len(text) <= 60 else text[:57] + "..."


@dataclass
class Entries:
    """What a design says, key by key, with everything found wrong so far.

    Attributes
    ----------
    values : dict
        SI value by key; None where an optional key is left out, the number of rows of an array,
        whether an optional group is there. A wrong entry has no value, so that what is
        computed from it is skipped, not reported as a second fault.
    written : dict
        What each given key was given, for messages: its text, or of a record (its value,).
    unit : dict
        Unit each quantity was written in.
    specs : dict
        What each key holds.
    faults : list of Fault
        In the order found.
    """

    values: dict[str, Any] = field(default_factory=dict)
    written: dict[str, Any] = field(default_factory=dict)
    unit: dict[str, str] = field(default_factory=dict)
    specs: dict[str, Spec] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def __getitem__(self, key: str) -> Any:
        """Return the SI value; KeyError where it is wrong."""
        return self.values[key]

    def given(self, key: str) -> bool:
        """Whether the key was written, rightly or wrongly."""
        return key in self.written

    def fault(self, key: str, allowed: str) -> None:
        """Record that an entry is wrong, and take its value out."""
        self.faults.append(Fault(key, self.text(key), allowed))
        self.values.pop(key, None)

    def text(self, key: str) -> str:
        """Return what a key was given, as text."""
        given = self.written.get(key, MISSING)
        if isinstance(given, str):
            return given
        spec, value = self.specs[key], given[0]
        if isinstance(spec, Quantity) and is_number(value) and abs(value) < 1e300:
            return self.say(key, value)
        return _quoted(value)

    def say(self, key: str, value: float, toward: Literal["down", "up", ""] = "") -> str:
        """Write a limit in the unit the user wrote the key in."""
        spec = self.specs[key]
        if not isinstance(spec, Quantity):
            return f"{value:g}"
        unit = self.unit.get(key) or units.shown_unit(spec.kind, "metric")
        return units.show_in(value, spec.kind, unit, 5, toward)

    def at_most(self, key: str, limit: float, why: str) -> None:
        """Note an entry above a limit."""
        if not self[key] <= limit + SLACK:
            self.fault(key, f"at most {self.say(key, limit, 'down')}, {why}")

    def at_least(self, key: str, limit: float, why: str) -> None:
        """Note an entry below a limit."""
        if not self[key] >= limit - SLACK:
            self.fault(key, f"at least {self.say(key, limit, 'up')}, {why}")

    def rows(self, key: str) -> range:
        """Return the row numbers of an array, counted from 1."""
        return range(1, self.values.get(key, 0) + 1)


def _join(prefix: str, key: str) -> str:
    return f"{prefix}.{key}" if prefix else key


def read_table(part: type, table: dict[str, Any], entries: Entries, prefix: str = "") -> None:
    """Read one table of a parsed file into `entries`, noting every fault of form."""
    known = {f.key: f for f in fields_of(part)}
    for f in known.values():
        key = _join(prefix, f.key)
        entries.specs[key] = f.spec
        if f.key in table:
            _read_value(f, table[f.key], entries, key)
        else:
            _read_default(f, entries, key)
    for stray in table:
        if stray not in known:
            near = get_close_matches(stray, known, n=1, cutoff=0.6)
            hint = f"did you mean '{near[0]}'?" if near else "known here: " + ", ".join(known)
            allowed = f"left out, the name is unknown; {hint}"
            entries.faults.append(
                Fault(_quoted(_join(prefix, stray)), _quoted(table[stray]), allowed)
            )


def _read_default(f: Field, entries: Entries, key: str) -> None:
    """Fill in what the file leaves out; a group with required keys reports each of them."""
    if isinstance(f.spec, Group) and f.default is not None:
        entries.values[key] = True
        read_table(f.spec.part, {}, entries, key)
    elif f.required:
        entries.fault(key, _form(f.spec))
    elif isinstance(f.spec, Rows):
        entries.values[key] = 0
    else:
        entries.values[key] = f.default


def _form(spec: Spec) -> str:
    """Say what an entry looks like, worded to follow "must be"."""
    match spec:
        case Quantity(kind=kind, words=words):
            return units.wanted(kind) + "".join(f", or '{word}'" for word in words)
        case Number(low=low, high=high, whole=whole):
            return f"a bare {'whole ' if whole else ''}number between {low:g} and {high:g}"
        case Word(words=words):
            return "one of " + ", ".join(f"'{word}'" for word in words)
        case Text(longest=longest):
            return f"text of at most {longest} characters"
        case Group(part=part):
            return "a table of " + ", ".join(f.key for f in fields_of(part))
        case Rows(part=part, most=most):
            keys = ", ".join(f.key for f in fields_of(part))
            return f"an array of at most {most} tables of {keys}"


def _read_value(f: Field, raw: Any, entries: Entries, key: str) -> None:
    spec = f.spec
    entries.written[key] = _quoted(raw)
    match spec:
        case Quantity():
            if isinstance(raw, str) and raw in spec.words:
                entries.values[key] = raw
                return
            try:
                entries.values[key], entries.unit[key] = units.read(raw, spec.kind)
            except InputError:
                entries.fault(key, _form(spec))
        case Group():
            if isinstance(raw, dict):
                entries.values[key] = True
                read_table(spec.part, raw, entries, key)
            else:
                entries.fault(key, _form(spec))
        case Rows():
            fits = isinstance(raw, list) and len(raw) <= spec.most
            if fits and all(isinstance(row, dict) for row in raw):
                entries.values[key] = len(raw)
                for number, row in enumerate(raw, 1):
                    read_table(spec.part, row, entries, f"{key}.{number}")
            else:
                entries.fault(key, _form(spec))
        case Word(words=words) if isinstance(raw, str) and raw.lower() in words:
            entries.values[key] = raw.lower()  # "AMO", as it is printed
        case _:
            entries.values[key] = raw


@cache
def _limits(spec: Quantity) -> tuple[float, float]:
    return units.parse(spec.low, spec.kind), units.parse(spec.high, spec.kind)


def check_ranges(entries: Entries) -> None:
    """Note every entry outside the range of its field."""
    for key, value in list(entries.values.items()):
        spec = entries.specs.get(key)
        if value is None or spec is None or isinstance(spec, Group | Rows):
            continue
        if isinstance(spec, Quantity):
            if value in spec.words:
                continue
            low, high = _limits(spec)
            slack = units.ROUND_OFF * max(abs(low), abs(high))
            inside = is_number(value) and low - slack <= value <= high + slack
            if not inside:
                words = "".join(f", or '{word}'" for word in spec.words)
                limits = f"{entries.say(key, low, 'up')} and {entries.say(key, high, 'down')}"
                entries.fault(key, f"between {limits}{words}")
        elif not _holds(spec, value):
            quoted = isinstance(spec, Number) and isinstance(value, str) and _is_bare(value)
            entries.fault(key, _form(spec) + (": it was quoted" if quoted else ""))


def _is_bare(text: str) -> bool:
    """Whether a text is a bare number."""
    try:
        float(text)
    except ValueError:
        return False
    return True


def is_number(value: object) -> TypeGuard[float]:
    """Whether a value is a real number; true and false are none."""
    return isinstance(value, Real) and not isinstance(value, bool)


def _holds(spec: Spec, value: Any) -> bool:
    match spec:
        case Number(low=low, high=high, whole=whole):
            whole_enough = isinstance(value, Integral) or not whole
            return is_number(value) and whole_enough and low <= value <= high
        case Word(words=words):
            return isinstance(value, str) and value in words
        case Text(longest=longest):
            # A lone surrogate is no text: it could not be written to a file.
            return (
                isinstance(value, str)
                and len(value) <= longest
                and not any(0xD800 <= ord(letter) < 0xE000 for letter in value)
            )
    return True


def flatten(record: Any, entries: Entries, prefix: str = "") -> None:
    """Put a record and all below it into `entries`."""
    for f in fields_of(type(record)):
        key, value = _join(prefix, f.key), getattr(record, f.attribute)
        entries.specs[key] = f.spec
        match f.spec:
            case Rows():
                entries.values[key] = len(value)
                if len(value) > f.spec.most:
                    entries.written[key] = f"{len(value)} rows"
                    entries.fault(key, _form(f.spec))
                for number, row in enumerate(value, 1):
                    flatten(row, entries, f"{key}.{number}")
            case Group():
                entries.values[key] = value is not None
                if value is not None:
                    flatten(value, entries, key)
            case _:
                entries.values[key] = value
                if value is not None:
                    entries.written[key] = (value,)  # made a text only where it is wrong


def build(part: Any, entries: Entries, prefix: str = "") -> Any:
    """Make the record of a group; KeyError where one of its entries is wrong."""
    arguments: dict[str, Any] = {}
    for f in fields_of(part):
        key = _join(prefix, f.key)
        value = entries[key]
        if isinstance(f.spec, Rows):
            value = tuple(build(f.spec.part, entries, f"{key}.{n}") for n in entries.rows(key))
        elif isinstance(f.spec, Group):
            value = build(f.spec.part, entries, key) if value else None
        arguments[f.attribute] = value
    return part(**arguments)
