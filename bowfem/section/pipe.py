"""Plastic pressure pipe: the published sizes, and the pipe a maker holds in hand."""

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches

from bowfem.errors import InputError
from bowfem.section._checks import between, positive
from bowfem.units import INCH, POUND_PER_FOOT

DENSITY = 1400.0

#: Mean Sch 40 wall above the minimum wall (S for Sch 40; taken over for Sch 80 and, from memory,
#: for the thin-wall series, whose averages seen are the same amount above the minimum).
WALL_ABOVE_MINIMUM = 0.010 * INCH


@dataclass(frozen=True)
class PipeSize:
    """Hold one row of a published table of pipe sizes.

    Attributes
    ----------
    standard : str
        Publication the row comes from.
    nominal : str
        Nominal size, ``"3/4 in"`` or ``"25 mm"``.
    series : str
        Wall series: ``"Sch 40"``, ``"Sch 80"``, ``"SDR 21"``, ``"SDR 26"``, ``"PN16"``, ``"PN10"``.
    outer_diameter : float
        Mean outer diameter, m.
    wall_minimum : float
        Least wall the standard allows, m.
    wall_maximum : float or None
        Greatest wall, m; None where not known.
    mass_per_length : float or None
        Published nominal weight, kg/m; None where not known.
    status : str
        ``"S"`` seen in a public copy of the standard, ``"M"`` from memory.
    """

    standard: str
    nominal: str
    series: str
    outer_diameter: float
    wall_minimum: float
    wall_maximum: float | None
    mass_per_length: float | None
    status: str

    @property
    def name(self) -> str:
        """Name a maker would say: ``"3/4 in Sch 40"``."""
        return f"{self.nominal} {self.series}"

    @property
    def wall(self) -> float:
        """Wall to expect when it was not measured, m.

        Notes
        -----
        Metric pipe: the middle of its tolerance. Inch pipe: minimum + 0.010 in, which is the
        published average of Sch 40 (S) and an assumption for the other series (M).
        """
        if self.series.startswith("PN") and self.wall_maximum is not None:
            return 0.5 * (self.wall_minimum + self.wall_maximum)
        return self.wall_minimum + WALL_ABOVE_MINIMUM

    @property
    def wall_range(self) -> tuple[float, float]:
        """Least and greatest wall of the standard, m.

        Notes
        -----
        Where the greatest is not published here: 12 % or 0.020 in above the least, whichever is
        more (M, agrees with the greatest walls of ASTM D1785).
        """
        above = max(0.12 * self.wall_minimum, 0.020 * INCH)
        return self.wall_minimum, self.wall_maximum or self.wall_minimum + above

    @property
    def diameter_range(self) -> tuple[float, float]:
        """Least and greatest mean outer diameter of the standard, m.

        Notes
        -----
        Inch pipe: 0.004 in either way up to 3/4, 0.005 up to 1-1/4, 0.006 up to 2 (S for ASTM
        D1785, M for D2241). Metric pipe: up to 0.3 mm more (M).
        """
        d = self.outer_diameter
        if self.series.startswith("PN"):
            return d, d + 0.3e-3
        off = INCH * (0.004 if d < 1.2 * INCH else 0.005 if d < 1.7 * INCH else 0.006)
        return d - off, d + off


def _rows() -> tuple[PipeSize, ...]:
    """Write out the tables; the maximum walls of ASTM D1785 are printed in mm."""
    rows: list[PipeSize] = []
    # ASTM D1785 (S): nominal, OD in, then per schedule: minimum wall in, maximum mm, lb/ft.
    for nominal, diameter, *schedules in (
        ("1/2", 0.840, (0.109, 3.28, 0.161), (0.147, 4.24, 0.202)),
        ("3/4", 1.050, (0.113, 3.38, 0.214), (0.154, 4.42, 0.273)),
        ("1", 1.315, (0.133, 3.89, 0.315), (0.179, 5.08, 0.402)),
        ("1-1/4", 1.660, (0.140, 4.07, 0.426), (0.191, 5.43, 0.554)),
        ("1-1/2", 1.900, (0.145, 4.19, 0.509), (0.200, 5.69, 0.673)),
        ("2", 2.375, (0.154, 4.42, 0.682), (0.218, 6.20, 0.932)),
    ):
        for series, (wall, most, weight) in zip(("Sch 40", "Sch 80"), schedules, strict=True):
            rows.append(
                PipeSize(
                    "ASTM D1785",
                    f"{nominal} in",
                    series,
                    diameter * INCH,
                    wall * INCH,
                    most * 1e-3,
                    weight * POUND_PER_FOOT,
                    "S",
                )
            )
    # ASTM D2241 (M): the small sizes sit on a floor, so the wall is not OD / SDR.
    diameters = {"3/4": 1.050, "1": 1.315, "1-1/4": 1.660, "1-1/2": 1.900, "2": 2.375}
    for series, walls in (
        ("SDR 21", {"3/4": 0.060, "1": 0.063, "1-1/4": 0.079, "1-1/2": 0.090, "2": 0.113}),
        ("SDR 26", {"1": 0.060, "1-1/4": 0.064, "1-1/2": 0.073, "2": 0.091}),
    ):
        for nominal, wall in walls.items():
            diameter = diameters[nominal] * INCH
            rows.append(
                PipeSize(
                    "ASTM D2241", f"{nominal} in", series, diameter, wall * INCH, None, None, "M"
                )
            )
    # EN ISO 1452: PN16 seen on a trade page (S), PN10 from memory; tolerance +(0.1 e + 0.2) mm (M).
    for series, status, walls in (
        ("PN16", "S", {20: 1.5, 25: 1.9, 32: 2.4, 40: 3.0, 50: 3.7}),
        ("PN10", "M", {32: 1.6, 40: 1.9, 50: 2.4}),
    ):
        for diameter, wall in walls.items():
            rows.append(
                PipeSize(
                    "EN ISO 1452",
                    f"{diameter} mm",
                    series,
                    diameter * 1e-3,
                    wall * 1e-3,
                    (1.1 * wall + 0.2) * 1e-3,
                    None,
                    status,
                )
            )
    return tuple(rows)


#: Every size known here, in the order of the standards.
PIPES: tuple[PipeSize, ...] = _rows()

_SERIES = re.compile(r"\b(sch|sdr|pn)(\d+)\b")
_SIZE = re.compile(r"(?:(\d+)[ -]+)?(\d+)/(\d+)|(\d+(?:\.\d+)?)")


def _key(text: str) -> tuple[str, float, str] | None:
    """Reduce a size in words to (series, number, unit); None when it is not understood."""
    words = text.lower()
    for glyph, plain in (("¼", " 1/4"), ("½", " 1/2"), ("¾", " 3/4"), ("″", " in "), ('"', " in ")):
        words = words.replace(glyph, plain)
    words = re.sub(r"\b(?:schedule|sched|sch)[ .-]*(?=\d)", "sch", words)
    words = re.sub(r"\b(sdr|pn)[ .-]*(?=\d)", r"\1", words)
    series = _SERIES.search(words)
    if series is None:
        return None
    metric = series.group(1) == "pn"
    rest = words[: series.start()] + " " + words[series.end() :]
    size = _SIZE.search(rest)
    if size is None:
        return None
    unit = "mm" if re.search(r"\d ?mm\b", rest) else "in" if re.search(r"\d ?-?in", rest) else ""
    if unit not in ("", "mm" if metric else "in"):
        return None
    extra = (rest[: size.start()] + rest[size.end() :]).replace("inch", "").replace("pipe", "")
    if re.sub(r"\b(in|mm|nps|od|pvc|pvc-u|upvc|nominal)\b|[\W_]", "", extra):
        return None  # a word not understood could mean a different pipe
    whole, over, under, decimal = size.groups()
    if decimal is None and int(under) == 0:
        return None
    number = float(decimal) if decimal else int(whole or 0) + int(over) / int(under)
    return series.group(1) + series.group(2), number, "mm" if metric else "in"


_BY_KEY = {_key(row.name): row for row in PIPES}


@dataclass(frozen=True)
class Pipe:
    """Describe a round pipe of constant wall, before it is heated.

    Parameters
    ----------
    outer_diameter : float
        Outer diameter, m.
    wall : float
        Wall thickness, m.
    name : str, optional
        What the maker calls it.

    Raises
    ------
    InputError
        When a dimension is not a positive number or the wall leaves no bore.

    Examples
    --------
    >>> pipe = Pipe.from_size("3/4 in Sch 40")
    >>> round(1e3 * pipe.wall, 2), round(1e12 * pipe.second_moment)
    (3.12, 16297)
    """

    outer_diameter: float
    wall: float
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse a pipe that cannot exist."""
        diameter = positive("outer_diameter", self.outer_diameter)
        allowed = f"above 0 and below half the outer diameter, {0.5 * diameter:.6g} m"
        if positive("wall", self.wall, allowed) >= 0.5 * diameter:
            raise InputError("wall", self.wall, allowed)

    @classmethod
    def from_size(cls, size: str) -> "Pipe":
        """Look up a published size, with the wall to expect when it was not measured.

        Parameters
        ----------
        size : str
            Nominal size and series in any usual spelling: ``"3/4 in Sch 40"``,
            ``'1-1/4" schedule 80'``, ``"1 sdr21"``, ``"25 mm PN16"``.

        Raises
        ------
        InputError
            When no such size is known; the message lists the nearest ones.

        Examples
        --------
        >>> Pipe.from_size('sch40 1"').name
        '1 in Sch 40'
        """
        if isinstance(size, str) and re.search(r"cell|foam|f ?891", size.lower()):
            raise InputError("size", size, "a solid-wall pipe: cellular core is foamed inside")
        row = _BY_KEY.get(_key(size)) if isinstance(size, str) else None
        if row is None:
            names = [known.name for known in PIPES]
            near = get_close_matches(str(size), names, n=4, cutoff=0.4) or names
            raise InputError("size", size, "a published size, such as " + ", ".join(near))
        return cls(row.outer_diameter, row.wall, row.name)

    @classmethod
    def from_weight(
        cls, outer_diameter: float, mass_per_length: float, density: float = DENSITY, name: str = ""
    ) -> "Pipe":
        """Find the wall by weighing a length, the surest measurement a maker can make.

        Parameters
        ----------
        outer_diameter : float
            Measured outer diameter, m.
        mass_per_length : float
            Mass over length of a piece, kg/m.
        density : float, optional
            Density of the material, kg/m3; rigid PVC pipe 1400 (S, pipe data sheet, +-20).
        name : str, optional
            What the maker calls it.

        Raises
        ------
        InputError
            When the weight is that of a solid bar or more.

        Notes
        -----
        ``m = density pi (D - t) t``, solved for the smaller ``t``. One per cent in mass is about
        1.15 per cent in the wall of 3/4 in Sch 40 (D).

        Examples
        --------
        >>> round(1e3 * Pipe.from_weight(26.67e-3, 0.3185).wall, 2)
        3.07
        """
        diameter = positive("outer_diameter", outer_diameter)
        solid = 0.25 * math.pi * diameter**2 * positive("density", density)
        allowed = f"above 0 and below {solid:.6g} kg/m, the solid bar"
        if positive("mass_per_length", mass_per_length, allowed) >= solid:
            raise InputError("mass_per_length", mass_per_length, allowed)
        share = mass_per_length / solid
        # D/2 (1 - sqrt(1 - share)) written without cancellation for thin walls
        return cls(diameter, 0.5 * diameter * share / (1.0 + math.sqrt(1.0 - share)), name)

    @property
    def inner_diameter(self) -> float:
        """Bore, m."""
        return self.outer_diameter - 2.0 * self.wall

    @property
    def mid_diameter(self) -> float:
        """Diameter of the mid-wall, m."""
        return self.outer_diameter - self.wall

    @property
    def mid_perimeter(self) -> float:
        """Length of the mid-wall round the pipe, m; pressing keeps it."""
        return math.pi * self.mid_diameter

    @property
    def area(self) -> float:
        """Area of the wall, m2."""
        return self.mid_perimeter * self.wall

    @property
    def second_moment(self) -> float:
        """Second moment of area about a diameter, m4: ``pi (D^4 - d^4) / 64``."""
        return math.pi * (self.outer_diameter**4 - self.inner_diameter**4) / 64.0

    def check_thickness(self, thickness: float) -> float:
        """Return a pressed outer thickness, m, after checking that this pipe can take it.

        Raises
        ------
        InputError
            Below twice the wall, where the faces touch, or above the outer diameter.
        """
        return between("thickness", thickness, 2.0 * self.wall, self.outer_diameter, "m")
