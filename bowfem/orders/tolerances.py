"""What varies between bows made alike: numbers of a design file, each with its spread.

A plan is a design with its spreads. The bow of a number follows from plan, seed and number alone,
whoever makes it, in whatever order.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from math import prod

import numpy as np
from numpy.typing import NDArray

from bowfem.design import Design, Quantity, number_of, read_number, spelled_out
from bowfem.errors import InputError
from bowfem.section import PIPES, Law, Pipe

Array = NDArray[np.float64]

#: Build tolerances, m: thickness at a mark 1/32 in, its place 1/16 in, lengths 1/8 in (C).
THICKNESS, PLACE, LENGTH = 0.79375e-3, 1.5875e-3, 3.175e-3
#: Pairs of pipe and plastic of a grid that are solved one by one, and reach of a normal spread.
SMALL, WIDE = 64, 4.0
#: Most bows of a study.
MOST_BOWS = 10_000_000
FORMS = (
    "'+-AMOUNT' (even, about the design's own), 'LOW..HIGH' (even), 'normal SD' (about the "
    "design's own), 'LOW..HIGH:COUNT' (a grid) or, for the pipe, 'tolerance'"
)


@dataclass(frozen=True)
class Spread:
    """How one number varies.

    Parameters
    ----------
    key : str
        Its key in the design file.
    low, high : float
        Ends of an even spread or of a grid; of a normal one, mean less and plus a standard
        deviation. SI units.
    count : int
        Values of a grid; 0 for a random spread.
    normal : bool
        Whether it is normal.
    """

    key: str
    low: float
    high: float
    count: int = 0
    normal: bool = False

    def __post_init__(self) -> None:
        """Check the values."""
        if not (np.isfinite(self.low) and np.isfinite(self.high) and self.low < self.high):
            allowed = "finite, the lower end below the upper one"
            raise InputError(self.key, f"{self.low:g} .. {self.high:g}", allowed)
        if self.count and not 2 <= self.count <= MOST_BOWS:
            raise InputError(self.key, self.count, "at least 2 values of a grid")

    def drawn(self, rng: np.random.Generator) -> float:
        """Draw a value."""
        if self.normal:
            return float(rng.normal(0.5 * (self.low + self.high), 0.5 * (self.high - self.low)))
        return float(rng.uniform(self.low, self.high))

    @classmethod
    def from_text(cls, design: Design, text: str) -> Spread:
        """Read ``KEY=FORM``; `FORMS` lists the forms.

        Raises
        ------
        InputError
            It is none, or the key is none of a number.
        """
        key, equals, form = (part.strip() for part in text.partition("="))
        if not equals:
            raise InputError("--vary", ascii(text), f"KEY= and {FORMS}")
        value = number_of(design, key)
        if form == "tolerance":
            return _tolerance(design, key)
        name = f"--vary {key}"
        spread, normal = form.removeprefix("+-"), form.removeprefix("normal ")
        for rest, is_normal in ((spread, False), (normal, True)):
            if rest != form:
                spec = design.spec(key)
                if isinstance(spec, Quantity) and spec.kind == "temperature":
                    raise InputError(name, ascii(form), "LOW..HIGH for a temperature")
                off = read_number(design, key, rest, name)
                return cls(key, value - off, value + off, normal=is_normal)
        ends, _, count = form.partition(":")
        low, dots, high = ends.partition("..")
        if not dots or (count and not count.strip().isdecimal()):
            raise InputError(name, ascii(form), FORMS)
        low, high = (read_number(design, key, end.strip(), name) for end in (low, high))
        return cls(key, low, high, int(count or 0))


def _tolerance(design: Design, key: str) -> Spread:
    rows = [row for row in PIPES if row.name == design.pipe.name]
    ranges = {"pipe.wall": "wall_range", "pipe.outer_diameter": "diameter_range"}
    if key not in ranges or not rows or design.pipe_choice.size is None:
        allowed = "pipe.wall or pipe.outer_diameter of a design with pipe.size"
        raise InputError("--vary", f"{key}=tolerance", allowed)
    return Spread(key, *getattr(rows[0], ranges[key]))


def usual_spreads(design: Design) -> tuple[Spread, ...]:
    """Return the default tolerances, all uniform.

    Wall and diameter of a pipe named by its size, within its standard; stiffness of a plastic that
    is not tested, as sources differ (S); marks, brace or string and cut length by the usual build
    tolerances (C). A thickness stays between pressed shut and round.
    """
    found = []
    if design.pipe_choice.size is not None:
        found += [_tolerance(design, key) for key in ("pipe.wall", "pipe.outer_diameter")]
    choice = design.material_choice
    if not choice.is_tested:
        off = choice.preset.stiffness_deviation
        found.append(Spread("material.stiffness", 1.0 - off, 1.0 + off, normal=True))

    def about(key: str, off: float, low: float = -np.inf, high: float = np.inf) -> None:
        value = number_of(design, key)
        found.append(Spread(key, max(value - off, low), min(value + off, high)))

    about("pipe.cut_length", LENGTH)
    given = "brace_height" if design.string.brace_height is not None else "length"
    about(f"string.{given}", LENGTH)
    pipe = design.pipe
    thickest = next((x.low for x in found if x.key == "pipe.outer_diameter"), pipe.outer_diameter)
    shut = 2.0 * next((x.high for x in found if x.key == "pipe.wall"), pipe.wall)
    for side in design.written_sides:
        for row, mark in enumerate(design.shape(side).limb.marks, 1):
            about(f"{side.table}.marks.{row}.at", PLACE)
            if mark.thickness != "round":
                about(f"{side.table}.marks.{row}.thickness", THICKNESS, shut, thickest)
    return tuple(found)


@dataclass(frozen=True)
class Plan:
    """A study to make: a design, what varies about it, how many bows.

    Parameters
    ----------
    design : Design
        The bow in the middle.
    spreads : tuple of Spread
        What varies; all random, or all grids.
    count : int
        How many bows, where the spreads are random; a grid has as many as it has.
    seed : int
        Another seed is another study.
    arrow : float, optional
        Mass of an arrow that every bow shoots, kg; it takes some tenths of a second a bow.

    Raises
    ------
    InputError
        There is nothing that varies, a key twice, or grids beside random spreads.
    """

    design: Design
    spreads: tuple[Spread, ...]
    count: int = 1000
    seed: int = 0
    arrow: float | None = None

    def __post_init__(self) -> None:
        """Check that grids and random spreads are not mixed, and the count."""
        keys = [spread.key for spread in self.spreads]
        for key in keys:
            number_of(self.design, key)
            if keys.count(key) > 1:
                raise InputError("--vary", key, "each key once")
        if not keys:
            raise InputError("--vary", "nothing", "at least one key")
        if self.is_grid and not all(spread.count for spread in self.spreads):
            raise InputError("--vary", "grid and random", "either all grids or none")
        if not 1 <= self.size <= MOST_BOWS or self.seed < 0:
            raise InputError(
                "count", f"{self.size}, seed {self.seed}", f"1 to {MOST_BOWS}, seed >= 0"
            )

    @property
    def is_grid(self) -> bool:
        """Whether all combinations are made, instead of random ones."""
        return any(spread.count for spread in self.spreads)

    @property
    def size(self) -> int:
        """How many bows."""
        return prod(spread.count for spread in self.spreads) if self.is_grid else self.count

    @property
    def keys(self) -> tuple[str, ...]:
        """What varies."""
        return tuple(spread.key for spread in self.spreads)

    @cached_property
    def written(self) -> Design:
        """The design with all numbers written that vary."""
        return spelled_out(self.design, self.keys)

    def values(self, index: int) -> Array:
        """Return what the bow of a number has, in the order of the spreads, SI units, (d,).

        A generator of its own for each number, seeded by seed and number.
        """
        if self.is_grid:
            at = np.unravel_index(index, [spread.count for spread in self.spreads])
            return np.array(
                [
                    np.linspace(spread.low, spread.high, spread.count)[i]
                    for spread, i in zip(self.spreads, at, strict=True)
                ]
            )
        rng = np.random.default_rng([self.seed, index])
        return np.array([spread.drawn(rng) for spread in self.spreads])

    def pair(self, values: Array) -> tuple[Pipe, Law]:
        """Return pipe and plastic of the bow with such values, the bow itself not made.

        Raises
        ------
        BowfemError
            There are none.
        """
        at: dict[str, dict[str, float]] = {"pipe": {}, "material": {}}
        for key, value in zip(self.keys, values, strict=True):
            group, _, name = key.partition(".")
            at.get(group, {})[name] = float(value)
        material = replace(self.written.material_choice, **at["material"])
        pipe = replace(self.written.pipe_choice, **at["pipe"])
        return pipe.resolve(material.mass_density), material.resolve()

    def extremes(self) -> tuple[list[Array], bool]:
        """Return values between which all sections lie, and whether others lie between them.

        Notes
        -----
        Of what matters to sections, all values of a small grid; else each low with each high,
        normal spreads to four standard deviations.
        """
        ends = []
        matter = [
            key.startswith(("pipe.", "material.")) and key != "pipe.cut_length" for key in self.keys
        ]
        whole = (
            self.is_grid
            and prod(
                spread.count for spread, here in zip(self.spreads, matter, strict=True) if here
            )
            <= SMALL
        )
        for spread, here in zip(self.spreads, matter, strict=True):
            middle, half = 0.5 * (spread.low + spread.high), 0.5 * (spread.high - spread.low)
            wide = WIDE * half if spread.normal else half
            ends.append(
                [middle]
                if not here
                else np.linspace(spread.low, spread.high, spread.count)
                if whole
                else [middle - wide, middle + wide]
            )
        return [np.array(each) for each in product(*ends)], not whole

    def made(self, values: Array) -> Design:
        """Return the design with such values.

        Raises
        ------
        DesignError
            There is no such bow.
        """
        return self.written.with_values(dict(zip(self.keys, map(float, values), strict=True)))
