"""What the maker means: the design of a pipe bow, read from a file and checked as a whole."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Any, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem import units
from bowfem.bow.design_check import AMO_ALLOWANCE, SLACK, check
from bowfem.bow.design_entries import Entries, build, flatten, is_number, read_table
from bowfem.bow.design_fields import Group, Quantity, Text
from bowfem.bow.design_file import (
    document,
    exact_writer,
    parse_toml,
    put,
    read_text,
    toml_text,
    write_text,
)
from bowfem.bow.design_parts import (
    RIGID,
    USUAL_NOCK,
    BowString,
    Draw,
    Handle,
    Limb,
    MaterialChoice,
    Nock,
    PipeChoice,
)
from bowfem.bow.design_shape import ThicknessRun, Turning, edge_on_share
from bowfem.errors import DesignError, InputError
from bowfem.section.law import Law
from bowfem.section.material import RIGID_PVC
from bowfem.section.pipe import Pipe

Array = NDArray[np.float64]

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
    """A bow of heated, flattened pipe with two like limbs, as it is to be made.

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
        Marks, bends and tip of either limb.
    nock : Nock
        Place of the string grooves.
    string : BowString
        The string, with brace height or length.
    draw : Draw
        Draw length.

    Raises
    ------
    DesignError
        Anything is out of range or does not fit together; all faults are listed.

    Notes
    -----
    Stations `s` run along the pipe from the bow's centre, m. Angles and curvatures are positive
    toward the archer, so a set forward (positive `handle.set`) is a negative angle.

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
    >>> (design.thickness_at([0.0, 0.5842]) / 0.0254).round(3).tolist()
    [1.05, 0.3]
    >>> shorter = design.with_value("pipe.cut_length", "46 in")
    >>> round(shorter.nock_station, 4)
    0.5652
    """

    name: Annotated[str, Text(100)]
    notes: Annotated[str, Text(10_000)] = ""
    pipe_choice: Annotated[PipeChoice, Group(PipeChoice, "pipe")]
    material_choice: Annotated[MaterialChoice, Group(MaterialChoice, "material")] = RIGID
    handle: Annotated[Handle, Group(Handle)]
    limb: Annotated[Limb, Group(Limb)]
    nock: Annotated[Nock, Group(Nock)] = USUAL_NOCK
    string: Annotated[BowString, Group(BowString)]
    draw: Annotated[Draw, Group(Draw)]

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

    @cached_property
    def _entries(self) -> Entries:
        entries = Entries()
        flatten(self, entries)
        return entries

    @cached_property
    def pipe(self) -> Pipe:
        """The round pipe, before it is heated."""
        return self.pipe_choice.resolve(self.material_choice.density or RIGID_PVC.density)

    @cached_property
    def material(self) -> Law:
        """Stress-strain law of the plastic at the temperature of use."""
        return self.material_choice.resolve()

    @property
    def half_length(self) -> float:
        """From the bow's centre to the end of the pipe, m."""
        return 0.5 * self.pipe_choice.cut_length

    @property
    def nock_station(self) -> float:
        """From the bow's centre to the string groove, along the pipe, m."""
        return self.half_length - self.nock.inset

    @property
    def pivot_distance(self) -> float:
        """From the pipe's axis to the pivot of the grip, toward the archer, m."""
        pivot = self.handle.pivot
        return 0.5 * self.pipe.outer_diameter if pivot is None else pivot

    @property
    def pivot_draw(self) -> float:
        """From the pivot of the grip to the nock point at full draw, m."""
        return self.draw.length - (AMO_ALLOWANCE if self.draw.measure == "amo" else 0.0)

    @cached_property
    def breaks(self) -> tuple[float, ...]:
        """Stations where thickness, curvature or turning change their rule, increasing, m.

        Strictly between the bow's centre and the end of the pipe.
        """
        stations = [0.5 * self.handle.length, *(mark.at for mark in self.limb.marks)]
        for bend in self.limb.bends:
            stations += [bend.start, bend.stop]
        if self.limb.tip is not None:
            start = self.limb.tip.edge_on_from
            stations += [start, start + self.limb.tip.transition]
        kept: list[float] = []
        for s in sorted(stations):
            if s - (kept[-1] if kept else 0.0) > SLACK and self.half_length - s > SLACK:
                kept.append(s)
        return tuple(kept)

    @cached_property
    def _run(self) -> ThicknessRun:
        return ThicknessRun.from_limb(self.limb, self.handle, self.pipe)

    @cached_property
    def _turning(self) -> Turning:
        return Turning.from_limb(self.limb, self.handle)

    def _stations(self, s: ArrayLike) -> Array:
        stations = np.asarray(s, dtype=float)
        inside = (stations >= -SLACK) & (stations <= self.half_length + SLACK)
        if not np.all(inside):
            wrong = stations[~inside].flat[0]
            raise InputError("s", f"{wrong:g} m", f"between 0 and {self.half_length:g} m")
        return np.maximum(stations, 0.0)

    def thickness_at(self, s: ArrayLike) -> Array:
        """Return the outer pressed thickness.

        Parameters
        ----------
        s : float or (n,) array
            Stations from the bow's centre, m.

        Returns
        -------
        ndarray
            Thickness at the stations, m; same shape.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        return self._run.at(self._stations(s))

    def natural_curvature(self, s: ArrayLike) -> Array:
        """Return the formed curvature, constant between `breaks`.

        Parameters
        ----------
        s : float or (n,) array
            Stations from the bow's centre, m.

        Returns
        -------
        ndarray
            Curvature at the stations, 1/m, positive toward the archer; same shape. At a break,
            that beyond it. The set is spread evenly over the handle.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        return self._turning.curvature(self._stations(s))

    def natural_angle(self, s: ArrayLike) -> Array:
        """Return the angle of the unstrung limb against the pipe's axis at the centre.

        Parameters
        ----------
        s : float or (n,) array
            Stations from the bow's centre, m.

        Returns
        -------
        ndarray
            Angle at the stations, rad, positive toward the archer; the integral of
            `natural_curvature`; same shape.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        return self._turning.angle(self._stations(s))

    def edge_on_share(self, s: ArrayLike) -> Array:
        """Return how far the section is turned edge-on: 0 not at all, 1 wholly.

        Parameters
        ----------
        s : float or (n,) array
            Stations from the bow's centre, m.

        Returns
        -------
        ndarray
            Share at the stations, with a continuous slope; same shape.

        Raises
        ------
        InputError
            A station is not on the limb.
        """
        return edge_on_share(self.limb.tip, self._stations(s))
