"""Findings as data: figures, lines of them in words, tables; text, page and file iterate over them.

A line's words are a template in which each figure stands by its key, as in ``"{weight:3} at
{draw}"``. So what is printed and what is written to a file come from the same value.
"""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from bowfem.bow import Walk
from bowfem.design import AMO_ALLOWANCE, Side, limb_text
from bowfem.units import System, column, convert, show, shown_unit


@dataclass(frozen=True)
class Figure:
    """One value of a finding, or one a state.

    Parameters
    ----------
    key : str
        Its name in files, without unit.
    value : float, ndarray, str, bool or None
        In SI units; None where it is not known or there is none.
    kind : str
        Dimension of `bowfem.units`; empty for a plain number or a word.
    """

    key: str
    value: Any
    kind: str = ""

    def number(self, system: System) -> Any:
        """Return the value in the unit shown."""
        return convert(self.value, self.kind, system) if self.kind else self.value

    def text(self, system: System, spec: str = "") -> str:
        """Write the value with its unit.

        Parameters
        ----------
        spec : str
            Significant digits, as in "3" (4 by default); or a point and fixed places, as in ".0".
            A plain number takes a format of Python.
        """
        if not self.kind:
            return format(self.value, spec)
        if spec.startswith("."):
            unit = shown_unit(self.kind, system)
            return f"{round(float(self.number(system)), int(spec[1:])) + 0.0:{spec}f} {unit}"
        return show(float(self.value), self.kind, system, int(spec or 4))

    def items(self, system: System) -> dict[str, Any]:
        """Return the value as it stands in files: by its key with the unit."""
        key = column(self.key, self.kind, system) if self.kind else self.key
        return {key: plain(self.number(system))}


@dataclass(frozen=True)
class DrawLength(Figure):
    """A draw, nock point to pivot, m, told in the design's own convention."""

    kind: str = "length"
    amo: bool = False

    @classmethod
    def of(cls, walk: Walk, draw: Any, key: str = "draw") -> DrawLength:
        """Take a draw of a walk."""
        return cls(key, draw, amo=walk.design.draw.measure == "amo")

    def number(self, system: System) -> Any:
        """Return the draw in the design's convention, in the unit shown."""
        return convert(np.add(self.value, AMO_ALLOWANCE if self.amo else 0.0), "length", system)

    def text(self, system: System, spec: str = "") -> str:
        """Write the draw with its convention, as "28 in AMO" or "26.25 in to the pivot"."""
        value = float(self.value) + (AMO_ALLOWANCE if self.amo else 0.0)
        return f"{show(value, 'length', system)} {'AMO' if self.amo else 'to the pivot'}"

    def items(self, system: System) -> dict[str, Any]:
        """Return the draw to the pivot, and as AMO draw length where the design uses it."""
        known = self.value is not None
        pivot = convert(self.value, "length", system) if known else None
        found = {column(f"{self.key}_to_pivot", "length", system): plain(pivot)}
        if self.amo:
            amo = self.number(system) if known else None
            found[column(f"{self.key}_amo", "length", system)] = plain(amo)
        return found


@dataclass(frozen=True)
class Place(Figure):
    """A station, m along the pipe from the bow's centre, and the limb it is on."""

    kind: str = "length"
    side: Side | None = None

    def text(self, system: System, spec: str = "") -> str:
        """Write the place as a maker marks it, to a tenth of an inch or a millimetre.

        Examples
        --------
        >>> Place("s", 0.11837, side=Side.LOWER).text("us")
        '4.7 in from the centre on the lower limb'
        >>> Place("s", 0.11837).text("metric", "bare")
        '118 mm'
        """
        short = super().text(system, ".1" if system == "us" else ".0")
        return short if spec == "bare" else f"{short} from the centre{limb_text(self.side)}"


def plain(values: Any) -> Any:
    """Return words, numbers and lists of them, with None for what is no number."""
    if isinstance(values, np.ndarray | np.generic):
        values = values.tolist()
    if isinstance(values, list | tuple):
        return [plain(value) for value in values]
    if values is None or isinstance(values, str | bool | int):
        return values
    return float(values) if np.isfinite(values) else None


class _Words(string.Formatter):
    """Fill a template with figures in one system of units."""

    def __init__(self, system: System) -> None:
        self.system: System = system

    def format_field(self, value: Any, format_spec: str) -> str:
        return value.text(self.system, format_spec)


@dataclass(frozen=True)
class Line:
    """One finding: its figures, and what to say of them.

    Parameters
    ----------
    label : str
        What it is about; empty for figures that only files hold.
    words : str
        Template of the sentence, figures by their keys.
    figures : tuple of Figure
        The values; those that the words leave out are still in files.
    rank : int
        Place among the lines; smaller comes first.
    group : str
        Where files keep the figures: "summary", or "string.loops[]" for one row of a list; empty
        for those that stand elsewhere.
    on_sheet : bool
        Whether it belongs on the sheet a maker works from.
    """

    label: str
    words: str
    figures: tuple[Figure, ...]
    rank: int
    group: str = "summary"
    on_sheet: bool = False

    def text(self, system: System) -> str:
        """Return the sentence in a system of units."""
        return _Words(system).vformat(self.words, (), {each.key: each for each in self.figures})

    def items(self, system: System) -> dict[str, Any]:
        """Return the figures as they stand in files."""
        return {key: value for each in self.figures for key, value in each.items(system).items()}


@dataclass(frozen=True)
class Warned:
    """Something a maker must not overlook: a sentence or two, and the figures in it."""

    words: str
    figures: tuple[Figure, ...] = ()

    def text(self, system: System) -> str:
        """Return the sentence in a system of units."""
        return Line("", self.words, self.figures, 0).text(system)


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Parameters
    ----------
    head : str
        Its heading, without unit.
    figure : Figure
        One value a row.
    places : tuple of int
        Decimal places in US and in metric units.
    """

    head: str
    figure: Figure
    places: tuple[int, int] = (0, 0)

    def unit(self, system: System) -> str:
        """Return the unit shown, empty for words and plain numbers."""
        return shown_unit(self.figure.kind, system) if self.figure.kind else ""

    def cells(self, system: System) -> list[str]:
        """Return the values as printed; a value that is not known is a dash."""
        if not self.figure.kind:
            return [str(value) for value in self.figure.value]
        us = bool(self.figure.kind) and self.unit(system) == self.unit("us")
        places = self.places[0 if us else 1]
        return [
            f"{round(float(value), places) + 0.0:.{places}f}" if np.isfinite(value) else "-"
            for value in np.atleast_1d(self.figure.number(system))
        ]


@dataclass(frozen=True)
class Table:
    """Findings in columns, one row each."""

    title: str
    columns: tuple[Column, ...]

    def rows(self, system: System) -> list[list[str]]:
        """Return the cells of each row, as printed."""
        return [list(row) for row in zip(*(c.cells(system) for c in self.columns), strict=True)]

    def items(self, system: System) -> dict[str, Any]:
        """Return the columns as they stand in files."""
        return {k: v for each in self.columns for k, v in each.figure.items(system).items()}


def recorded(lines: Sequence[Line], system: System) -> dict[str, Any]:
    """Return the figures of lines as plain data, each in its group."""
    found: dict[str, Any] = {}
    for line in lines:
        if not line.group:
            continue
        *path, last = line.group.split(".")
        at = found
        for name in path:
            at = at.setdefault(name, {})
        if not last.endswith("[]"):
            at.setdefault(last, {}).update(line.items(system))
        elif line.figures:
            at.setdefault(last[:-2], []).append(line.items(system))
        else:
            at.setdefault(last[:-2], [])
    return found


def side_figure(side: Side | None, key: str = "limb") -> Figure:
    """Return the name of a limb as a figure; None where both are alike."""
    return Figure(key, None if side is None else side.value)


def by_key(lines: Sequence[Line]) -> Mapping[str, Figure]:
    """Return all figures of lines by their key."""
    return {figure.key: figure for line in lines for figure in line.figures}
