"""What the maker means: the design of a pipe bow, read from a file and checked as a whole."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Any, Self

from bowfem import units
from bowfem.cards import card
from bowfem.design.checks import AMO_ALLOWANCE, check
from bowfem.design.entries import Entries, build, flatten, is_number, read_table
from bowfem.design.fields import Group, Number, Quantity, Rows, Spec, Text
from bowfem.design.limb import Limb
from bowfem.design.parts import (
    NO_LIMITS,
    RIGID,
    USUAL_ARROW,
    USUAL_NOCK,
    USUAL_SHOOTING,
    Arrow,
    BowString,
    DiaryEntry,
    Draw,
    Handle,
    Limits,
    MaterialChoice,
    Nock,
    PipeChoice,
    Shooting,
)
from bowfem.design.shape import LimbShape
from bowfem.design.side import Side
from bowfem.design.toml import (
    document,
    exact_writer,
    parse_toml,
    put,
    read_text,
    toml_text,
    write_text,
)
from bowfem.errors import DesignError, InputError
from bowfem.section import Law, Pipe

#: Setting one of these takes out the others: they are other ways of saying the same.
INSTEAD_OF = {
    "pipe.size": ("pipe.outer_diameter", "pipe.wall", "pipe.mass_per_length"),
    "pipe.outer_diameter": ("pipe.size",),
    "pipe.wall": ("pipe.size", "pipe.mass_per_length"),
    "pipe.mass_per_length": ("pipe.size", "pipe.wall"),
    "string.brace_height": ("string.length",),
    "string.length": ("string.brace_height",),
}


@dataclass(frozen=True, kw_only=True)
class Design:
    """A bow of heated, flattened pipe, as it is to be made.

    Parameters
    ----------
    name : str
        Name of the bow.
    notes : str
        Free text.
    pipe_choice : PipeChoice
        Pipe as bought or measured, and its cut length; key `pipe` in a file.
    material_choice : MaterialChoice
        The plastic; key `material` in a file.
    handle : Handle
        Round middle, set of the limbs, pivot of the grip.
    limb : Limb
        Marks, bends, tip and more of either limb, or of the upper one where `lower` is given.
    lower : Limb, optional
        The lower limb, where it is another.
    nock : Nock
        Place of the string grooves.
    string : BowString
        The string, with brace height or length.
    draw : Draw
        Draw length.
    limits : Limits
        What the bow must keep to.
    arrow : Arrow
        The arrow it shoots.
    shooting : Shooting
        How it is shot; key `shot` in a file.
    diary : tuple of DiaryEntry
        What is done with it, in order.

    Raises
    ------
    DesignError
        Anything is out of range or does not fit together; all faults are listed.

    Notes
    -----
    Stations run along the pipe from the bow's centre, the middle of the handle, m. Angles and
    curvatures are positive toward the archer, so a set forward (positive `handle.set`) is negative.

    Examples
    --------
    >>> design = Design.from_toml('''
    ... name = "Wagtail"
    ... pipe = { size = "3/4 in Sch 40", cut_length = "48 in" }
    ... handle = { length = "5 in" }
    ... string = { material = "polyester", strands = 14, brace_height = "6 in" }
    ... draw = { length = "28 in", measure = "amo" }
    ... [limb]
    ... marks = [
    ...   { at = "2-1/2 in", thickness = "round" },
    ...   { at = "23 in", thickness = "0.3 in" },
    ... ]
    ... ''')
    >>> (design.limbs[0].thickness_at([0.0, 0.5842]) / 0.0254).round(3).tolist()
    [1.05, 0.3]
    >>> shorter = design.with_value("pipe.cut_length", "46 in")
    >>> round(shorter.limbs[0].nock_station, 4)
    0.5652
    """

    name: Annotated[str, Text(100)]
    notes: Annotated[str, Text(10_000)] = ""
    pipe_choice: Annotated[PipeChoice, Group(PipeChoice, "pipe")]
    material_choice: Annotated[MaterialChoice, Group(MaterialChoice, "material")] = RIGID
    handle: Annotated[Handle, Group(Handle)]
    limb: Annotated[Limb, Group(Limb)]
    lower: Annotated[Limb | None, Group(Limb)] = None
    nock: Annotated[Nock, Group(Nock)] = USUAL_NOCK
    string: Annotated[BowString, Group(BowString)]
    draw: Annotated[Draw, Group(Draw)]
    limits: Annotated[Limits, Group(Limits)] = NO_LIMITS
    arrow: Annotated[Arrow, Group(Arrow)] = USUAL_ARROW
    shooting: Annotated[Shooting, Group(Shooting, "shot")] = USUAL_SHOOTING
    diary: Annotated[tuple[DiaryEntry, ...], Rows(DiaryEntry, 200)] = ()

    def __post_init__(self) -> None:
        """Refuse a design that cannot be, however it was made."""
        entries = Entries()
        flatten(self, entries)
        check(entries)
        if entries.faults:
            raise DesignError(str(self.name), entries.faults)

    @classmethod
    def from_toml(cls, text: str, source: str = "design") -> Self:
        """Read a design from TOML text.

        Parameters
        ----------
        text : str
            Content of a design file.
        source : str
            Where it comes from, for messages.

        Raises
        ------
        DesignError
            The text is no TOML or no design; every fault is listed with key, value and range.
        """
        return cls._from_document(parse_toml(text, source), source)

    @classmethod
    def from_file(cls, path: str | os.PathLike[str]) -> Self:
        """Read a design file.

        Raises
        ------
        InputError
            The file cannot be read.
        DesignError
            It is no design; see `from_toml`.
        """
        return cls.from_toml(read_text(path), str(os.fspath(path)))

    @classmethod
    def _from_document(cls, tables: dict[str, Any], source: str) -> Self:
        entries = Entries()
        read_table(cls, tables, entries)
        check(entries)
        if entries.faults:
            raise DesignError(source, entries.faults)
        return build(cls, entries)

    def to_toml(self) -> str:
        """Write the design as TOML text that reads back as an equal design.

        Comments of a file read before are not kept; `notes` are. Quantities are written in the
        units that make the file shortest, exact to the last bit.
        """
        return toml_text(document(self, exact_writer(self)))

    def to_file(self, path: str | os.PathLike[str]) -> None:
        """Write a design file, whole or not at all.

        Raises
        ------
        InputError
            The place cannot be written to; a file already there is left as it was.
        """
        write_text(path, self.to_toml())

    def value(self, key: str) -> float | int | str | None:
        """Return one entry by its dotted key, in SI units; of an array, the number of rows.

        Parameters
        ----------
        key : str
            Key as in the file, rows counted from 1: `limb.marks.1.thickness`.

        Raises
        ------
        InputError
            There is no such entry in this design.
        """
        entry = self._entries.values.get(key)
        if key not in self._entries.values or isinstance(self._entries.specs.get(key), Group):
            raise InputError("key", key, "a key of this design, such as limb.marks.1.thickness")
        return entry

    def spec(self, key: str) -> Spec:
        """Return what an entry may be: its kind, range and description.

        Raises
        ------
        InputError
            There is no such entry in this design.
        """
        self.value(key)
        return self._entries.specs[key]

    def with_value(self, key: str, value: str | float | None) -> Self:
        """Copy the design with one entry changed; see `with_values`."""
        return self.with_values({key: value})

    def with_values(self, changes: Mapping[str, str | float | None]) -> Self:
        """Copy the design with several entries changed at once.

        Parameters
        ----------
        changes : mapping of str to (str, float or None)
            By dotted key: a text as in the file, a number in SI units, or None to take an
            optional entry or group out. An entry that says the same in another way (string
            length for brace height, pipe size for its dimensions) is taken out.

        Raises
        ------
        DesignError
            The changed design is none.
        InputError
            A key leads nowhere.
        """
        if all(self._is_plain(key, value) for key, value in changes.items()):
            entries = Entries(values=dict(self._entries.values))
            entries.values |= {key: float(value or 0.0) for key, value in changes.items()}
            with suppress(DesignError):  # then refused below, in the words of a file
                return build(type(self), entries)
        tables = document(self, lambda value, kind: units.exact_text(value, kind, "metric"))
        for key, value in changes.items():
            for other in INSTEAD_OF.get(key, ()):
                if other not in changes:
                    put(tables, other, None)
            spec = self._entries.specs.get(key)
            # A number out of all range is left to be refused as what it is.
            if isinstance(spec, Quantity) and is_number(value) and abs(value) < 1e100:
                value = units.exact_text(float(value), spec.kind, "metric")
            put(tables, key, value)
        return self._from_document(tables, f"{self.name}, changed")

    def _is_plain(self, key: str, value: str | float | None) -> bool:
        """Whether a change puts a number for a number, and nothing else."""
        spec, old = self._entries.specs.get(key), self._entries.values.get(key)
        by_degrees = isinstance(spec, Quantity) or (isinstance(spec, Number) and not spec.whole)
        number = is_number(value) and abs(value) < 1e100
        return by_degrees and is_number(old) and number

    @cached_property
    def _entries(self) -> Entries:
        entries = Entries()
        flatten(self, entries)
        return entries

    def _repr_html_(self) -> str:
        """Return a table for notebooks."""
        string, limb = self.string, self.limb
        rows = {
            "pipe": self.pipe.name or f"{1e3 * self.pipe.outer_diameter:.4g} mm",
            "cut length, m": self.pipe_choice.cut_length,
            "marks, mm": ", ".join(
                str(t) if isinstance(t, str) else f"{1e3 * t:.4g}"
                for t in (mark.thickness for mark in limb.marks)
            ),
            "bends, edge-on tips": f"{len(limb.bends)}, {'no' if limb.tip is None else 'yes'}",
            "brace height, m": "by the string"
            if string.length
            else float(string.brace_height or 0),
            "draw, m to the pivot": self.pivot_draw,
        }
        return card(self.name, rows)

    @cached_property
    def pipe(self) -> Pipe:
        """The round pipe, before it is heated."""
        return self.pipe_choice.resolve(self.material_choice.mass_density)

    @cached_property
    def material(self) -> Law:
        """Stress-strain law of the plastic at the temperature of use."""
        return self.material_choice.resolve()

    @cached_property
    def limbs(self) -> tuple[LimbShape, LimbShape]:
        """Upper and lower limb along the pipe; one and the same object where they are alike."""
        half, offset, nock = 0.5 * self.pipe_choice.cut_length, self.handle.offset, self.nock
        lower_inset = nock.inset if nock.lower_inset is None else nock.lower_inset
        upper = LimbShape(self.limb, self.handle, self.pipe, half - offset, nock.inset)
        other = self.limb if self.lower is None else self.lower
        lower = LimbShape(other, self.handle, self.pipe, half + offset, lower_inset)
        return (upper, upper) if upper == lower else (upper, lower)

    def shape(self, side: Side | None) -> LimbShape:
        """Return the shape of a limb; of None, the one that stands for both."""
        return self.limbs[0 if side is None else side.index]

    @property
    def distinct_sides(self) -> tuple[Side | None, ...]:
        """The sides whose shapes differ: None alone where one shape stands for both."""
        return (None,) if self.limbs[0] is self.limbs[1] else tuple(Side)

    @property
    def written_sides(self) -> tuple[Side, ...]:
        """The sides that have a table of their own in the file."""
        return (Side.UPPER,) if self.lower is None else tuple(Side)

    @property
    def is_symmetric(self) -> bool:
        """Whether the limbs are alike, with pivot and nock point in their middle."""
        return (
            self.limbs[0] is self.limbs[1]
            and self.handle.pivot_height == 0.0
            and self.handle.arrow_height + self.string.nock_height == 0.0
        )

    def upside_down(self) -> Self:
        """Copy the design with its limbs exchanged: the same bow, seen upside down."""
        handle, nock = self.handle, self.nock
        upper_inset = nock.inset if nock.lower_inset is None else nock.lower_inset
        return replace(
            self,
            handle=replace(
                handle,
                offset=0.0 - handle.offset,
                pivot_height=0.0 - handle.pivot_height,
                arrow_height=0.0 - handle.arrow_height,
            ),
            limb=self.limb if self.lower is None else self.lower,
            lower=None if self.lower is None else self.limb,
            nock=replace(
                nock,
                inset=upper_inset,
                lower_inset=None if nock.lower_inset is None else nock.inset,
            ),
            string=replace(self.string, nock_height=0.0 - self.string.nock_height),
        )

    @property
    def pivot_distance(self) -> float:
        """From the pipe's axis to the pivot of the grip, toward the archer, m."""
        pivot = self.handle.pivot
        return 0.5 * self.pipe.outer_diameter if pivot is None else pivot

    @property
    def pivot_draw(self) -> float:
        """From the pivot of the grip to the nock point at full draw, m."""
        return self.draw.length - (AMO_ALLOWANCE if self.draw.measure == "amo" else 0.0)
