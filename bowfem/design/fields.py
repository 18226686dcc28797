"""How the records of a design say what each key of a file holds.

A record's field is annotated with one of the classes below; `fields_of` reads them back. So the
reader, the writer and the range check share one definition of each key.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cache
from typing import Any, get_type_hints


@dataclass(frozen=True)
class Quantity:
    """A number with a unit: its dimension, its limits as quantities, words accepted instead."""

    kind: str
    low: str
    high: str
    key: str = ""
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Number:
    """A count, exponent or ratio: a bare number of the file, for it has no unit."""

    low: float
    high: float
    whole: bool = False
    key: str = ""


@dataclass(frozen=True)
class Word:
    """One of a few words."""

    words: tuple[str, ...]
    key: str = ""


@dataclass(frozen=True)
class Text:
    """Free text, at most so many characters."""

    longest: int
    key: str = ""


@dataclass(frozen=True)
class Group:
    """A table of the file, held as a record of class `part`."""

    part: type
    key: str = ""


@dataclass(frozen=True)
class Rows:
    """An array of tables, at most so many, each held as a record of class `part`."""

    part: type
    most: int = 40
    key: str = ""


Spec = Quantity | Number | Word | Text | Group | Rows


@dataclass(frozen=True)
class Field:
    """One key of a group: attribute name, key in the file, what it holds, its default."""

    attribute: str
    key: str
    spec: Any
    default: Any

    @property
    def required(self) -> bool:
        """Whether the file must give this key."""
        return self.default is dataclasses.MISSING


@cache
def fields_of(part: type) -> tuple[Field, ...]:
    """Return the keys of a group, in the order of the file."""
    hints = get_type_hints(part, include_extras=True)
    result = []
    for f in dataclasses.fields(part):
        spec = hints[f.name].__metadata__[0]
        result.append(Field(f.name, spec.key or f.name, spec, f.default))
    return tuple(result)
