"""The groups of a design file but its limbs, as records in SI units.

Each field carries its dimension and range, so that one definition serves the reader, the writer
and the checks. Ranges only catch slips of a unit or a digit; they are common sense, not advice.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import Annotated, Literal

from bowfem import units
from bowfem.design.fields import Number, Quantity, Rows, Text, Word
from bowfem.section import (
    PLASTICS,
    PVC_U,
    Law,
    Linear,
    Pipe,
    Plastic,
    RambergOsgood,
    Saturating,
    Tabulated,
)


@dataclass(frozen=True, kw_only=True)
class PipeChoice:
    """The pipe as bought or measured, and the length it is cut to.

    Parameters
    ----------
    size : str, optional
        Published size, such as "3/4 in Sch 40".
    outer_diameter : float, optional
        Measured outer diameter, m; instead of `size`.
    wall : float, optional
        Measured wall, m; with `outer_diameter`.
    mass_per_length : float, optional
        Weight of a piece over its length, kg/m; with `outer_diameter`, instead of `wall`.
    cut_length : float
        Length of the piece the bow is made of, end to end, m.
    """

    size: Annotated[str | None, Text(60)] = None
    outer_diameter: Annotated[float | None, Quantity("length", "5 mm", "200 mm")] = None
    wall: Annotated[float | None, Quantity("length", "0.2 mm", "40 mm")] = None
    mass_per_length: Annotated[
        float | None, Quantity("mass_per_length", "0.005 kg/m", "50 kg/m")
    ] = None
    cut_length: Annotated[float, Quantity("length", "8 in", "12 ft")]

    def resolve(self, density: float) -> Pipe:
        """Return the pipe; the density, kg/m3, turns weight into wall.

        Raises
        ------
        InputError
            No such size is published, or the dimensions leave no bore.
        """
        if self.size is not None:
            return Pipe.from_size(self.size)
        assert self.outer_diameter is not None
        if self.wall is not None:
            return Pipe(self.outer_diameter, self.wall)
        assert self.mass_per_length is not None
        return Pipe.from_weight(self.outer_diameter, self.mass_per_length, density)


@dataclass(frozen=True)
class Point:
    """One point of a tension or compression test: strain, and stress in Pa."""

    strain: Annotated[float, Quantity("share", "-50 %", "50 %")]
    stress: Annotated[float, Quantity("stress", "-1 GPa", "1 GPa")]


@dataclass(frozen=True)
class MaterialChoice:
    """The plastic: left empty it is rigid PVC at 23 C.

    Parameters
    ----------
    plastic : str, optional
        Name of the plastic, one of `bowfem.section.PLASTICS`: rigid PVC where no law is given.
    law : str, optional
        Shape of the stress-strain curve, in place of the plastic's own; see `LAWS` for the numbers
        each needs.
    modulus, yield_tension, yield_compression, reference_stress : float, optional
        Numbers of the law, Pa.
    offset_strain, exponent, compression_ratio : float, optional
        Numbers of the Ramberg-Osgood law.
    points : tuple of Point
        Test points of the law "table", strain increasing.
    poisson : float, optional
        Poisson's ratio.
    density : float, optional
        Density, kg/m3. Also turns a weighed length of pipe into its wall.
    temperature : float, optional
        Temperature of the limb in use, K; for a plastic that is named.
    stiffness : float, optional
        All stresses of this plastic over those of the law, as measured on a bow or a strip.
    fading : float, optional
        Factor on what the plastic's stiffness loses after the first minute, as learnt of a bow.
    """

    plastic: Annotated[str | None, Word(tuple(PLASTICS))] = None
    law: Annotated[
        Literal["linear", "saturating", "ramberg-osgood", "table"] | None,
        Word(("linear", "saturating", "ramberg-osgood", "table")),
    ] = None
    modulus: Annotated[float | None, Quantity("modulus", "0.1 GPa", "100 GPa")] = None
    yield_tension: Annotated[float | None, Quantity("stress", "1 MPa", "1 GPa")] = None
    yield_compression: Annotated[float | None, Quantity("stress", "1 MPa", "1 GPa")] = None
    reference_stress: Annotated[float | None, Quantity("stress", "1 MPa", "1 GPa")] = None
    offset_strain: Annotated[float | None, Quantity("share", "0.001 %", "20 %")] = None
    exponent: Annotated[float | None, Number(1.5, 50)] = None
    compression_ratio: Annotated[float | None, Number(0.2, 5)] = None
    points: Annotated[tuple[Point, ...], Rows(Point, 400)] = ()
    poisson: Annotated[float | None, Number(0, 0.499)] = None
    density: Annotated[float | None, Quantity("density", "500 kg/m3", "3000 kg/m3")] = None
    temperature: Annotated[float | None, Quantity("temperature", "10 C", "60 C")] = None
    stiffness: Annotated[float | None, Number(0.2, 5)] = None
    fading: Annotated[float | None, Number(0.1, 1.5)] = None

    @property
    def preset(self) -> Plastic:
        """The plastic named; rigid PVC where none is."""
        return PVC_U if self.plastic is None else PLASTICS[self.plastic]

    @property
    def mass_density(self) -> float:
        """Density, kg/m3, given or that of the plastic named."""
        return self.density or self.preset.law.density

    @property
    def is_tested(self) -> bool:
        """Whether the stiffness was measured, by a law or a factor, and is not that of a source."""
        return self.law is not None or self.stiffness is not None

    def resolve(self) -> Law:
        """Return the law, at the temperature of use.

        Raises
        ------
        InputError
            The numbers make no law, such as a table whose stress falls.
        """
        shared = {"poisson": self.poisson, "density": self.density}
        shared = {key: value for key, value in shared.items() if value is not None}
        needed, besides = LAWS[self.law]
        numbers = {key: getattr(self, key) for key in needed + besides}
        numbers = {key: value for key, value in numbers.items() if value is not None}
        match self.law:
            case None:
                law: Law = dataclasses.replace(self.preset.law, **shared)
            case "linear":
                law = Linear(**numbers, **shared)
            case "saturating":
                law = Saturating(**numbers, **shared)
            case "ramberg-osgood":
                law = RambergOsgood(**numbers, **shared)
            case "table":
                strains = [point.strain for point in self.points]
                law = Tabulated(strains, [point.stress for point in self.points], **shared)
        law = law if self.stiffness is None else law.scaled(self.stiffness)
        return self.preset.at_temperature(law, self.temperature)


#: Rigid PVC at 23 C.
RIGID = MaterialChoice()

#: Keys each law needs, then those it may have besides.
LAWS: dict[str | None, tuple[tuple[str, ...], tuple[str, ...]]] = {
    None: ((), ()),
    "linear": (("modulus",), ()),
    "saturating": (("modulus", "yield_tension", "yield_compression"), ()),
    "ramberg-osgood": (
        ("modulus", "reference_stress", "offset_strain", "exponent"),
        ("compression_ratio", "yield_tension"),
    ),
    "table": (("points",), ()),
}


@dataclass(frozen=True)
class Handle:
    """The middle of the bow, left round; its own middle is the bow's centre.

    Parameters
    ----------
    length : float
        Length of round pipe, half of it on each side of the bow's centre, m.
    set : float
        Angle of each limb against the handle, rad; forward (reflex) is positive.
    pivot : float, optional
        From the pipe's axis to the pivot of the grip, toward the archer, m; default the pipe's
        outer radius.
    offset : float
        The bow's centre above the middle of the pipe, m: positive makes the lower limb longer.
    pivot_height : float
        Pivot of the grip above the bow's centre, m.
    arrow_height : float
        Arrow pass above the pivot, m.
    fade : float, optional
        Length over which the pipe runs from round to the thickness of the first mark, m; default
        the whole way from the handle's end to that mark.
    fade_shape : str
        Whether the fade is a "straight" wedge or "rounded" at both ends.
    bump : str
        Where the round handle stands out: on either side alike ("middle"), or on one side, the
        limb pressed flush with the handle on the other.
    """

    length: Annotated[float, Quantity("length", "0.5 in", "6 ft")]
    set: Annotated[float, Quantity("angle", "-60 deg", "60 deg")] = 0.0
    pivot: Annotated[float | None, Quantity("length", "-3 in", "6 in")] = None
    offset: Annotated[float, Quantity("length", "-2 ft", "2 ft")] = 0.0
    pivot_height: Annotated[float, Quantity("length", "-6 in", "6 in")] = 0.0
    arrow_height: Annotated[float, Quantity("length", "-6 in", "6 in")] = 0.0
    fade: Annotated[float | None, Quantity("length", "5 mm", "2 ft")] = None
    fade_shape: Annotated[Literal["straight", "rounded"], Word(("straight", "rounded"))] = (
        "straight"
    )
    bump: Annotated[Literal["middle", "back", "belly"], Word(("middle", "back", "belly"))] = (
        "middle"
    )


@dataclass(frozen=True)
class Nock:
    """The nocks.

    Parameters
    ----------
    inset : float
        From the end of the pipe to the string groove, m (3/4 in: C).
    lower_inset : float, optional
        The same of the lower limb, where it differs.
    width : float, optional
        Of a tip filed narrower, between the grooves, m; by default as wide as the limb. It shortens
        the loops; the bending is that of the limb unfiled.
    filed : float
        How far inward from the groove such a tip widens to the limb's own width, m (1 in: C).
    """

    inset: Annotated[float, Quantity("length", "0.1 in", "6 in")] = 0.01905
    lower_inset: Annotated[float | None, Quantity("length", "0.1 in", "6 in")] = None
    width: Annotated[float | None, Quantity("length", "0.1 in", "5 in")] = None
    filed: Annotated[float, Quantity("length", "0.05 in", "6 in")] = units.INCH


#: Grooves 3/4 in from the ends.
USUAL_NOCK = Nock()


@dataclass(frozen=True)
class Strand:
    """One strand of bowstring: stiffness N per unit strain, strength N, mass kg/m, density kg/m3.

    The stiffness is that of working loads; the strength is not stiffness times any stretch.
    """

    stiffness: float
    strength: float
    mass_per_length: float
    density: float


_POUND_FORCE = units.parse("1 lbf", "force")

#: Strength is seen in a trade publication (S); stiffness, mass and density are from memory (M).
STRANDS: dict[str, Strand] = {
    "polyester": Strand(2.8e3, 50 * _POUND_FORCE, 0.36e-3, 1380.0),
    "hmpe": Strand(13e3, 100 * _POUND_FORCE, 0.17e-3, 970.0),
}

#: Share of a round bundle's area that is fibre: common practice for waxed strands, no source (C).
FIBRE_SHARE = 0.75


@dataclass(frozen=True)
class BowString:
    """The string, with one of `brace_height` and `length`.

    Parameters
    ----------
    material : {"polyester", "hmpe"}
        Fibre.
    strands : int
        Number of strands.
    brace_height : float, optional
        From the grip's pivot to the string of the strung bow, m.
    length : float, optional
        Length without tension, between the bearing points of the loops, m.
    diameter : float, optional
        Measured diameter, m; see `thickness`.
    nock_height : float
        Nock point above square with the arrow pass, m, along the string of the strung bow.
    """

    material: Annotated[Literal["polyester", "hmpe"], Word(("polyester", "hmpe"))]
    strands: Annotated[int, Number(1, 100, whole=True)]
    brace_height: Annotated[float | None, Quantity("length", "0.5 in", "3 ft")] = None
    length: Annotated[float | None, Quantity("length", "4 in", "12 ft")] = None
    diameter: Annotated[float | None, Quantity("length", "0.2 mm", "20 mm")] = None
    nock_height: Annotated[float, Quantity("length", "-3 in", "3 in")] = 0.0

    @property
    def stiffness(self) -> float:
        """Force per unit strain, N (M)."""
        return self.strands * STRANDS[self.material].stiffness

    @property
    def strength(self) -> float:
        """Breaking force of the new string, N (S); knots and wear not counted."""
        return self.strands * STRANDS[self.material].strength

    @property
    def mass_per_length(self) -> float:
        """Mass over length without serving and wax, kg/m (M)."""
        return self.strands * STRANDS[self.material].mass_per_length

    @property
    def thickness(self) -> float:
        """Diameter, m: as measured, else from the strands.

        Notes
        -----
        ``pi d^2 / 4 = mass / (density * FIBRE_SHARE)`` (D, from figures M and C).
        """
        if self.diameter is not None:
            return self.diameter
        area = self.mass_per_length / (STRANDS[self.material].density * FIBRE_SHARE)
        return math.sqrt(4 * area / math.pi)


@dataclass(frozen=True)
class Draw:
    """The draw: its length, m, and where that is measured to.

    Parameters
    ----------
    length : float
        Draw length, m.
    measure : {"amo", "pivot"}
        "amo": from nock point to the grip's pivot plus 1.75 in (AMO standard, S); "pivot": to
        the pivot.
    """

    length: Annotated[float, Quantity("length", "3 in", "5 ft")]
    measure: Annotated[Literal["amo", "pivot"], Word(("amo", "pivot"))]


@dataclass(frozen=True)
class Limits:
    """What the bow must keep to.

    Parameters
    ----------
    longest : float, optional
        Longest side of the parcel the unstrung bow goes in, m.
    length_and_girth : float, optional
        Most of that side and the way round the parcel across it, together, m.
    wrapping : float
        What card and padding add on every side of the bow, m.
    """

    longest: Annotated[float | None, Quantity("length", "8 in", "12 ft")] = None
    length_and_girth: Annotated[float | None, Quantity("length", "12 in", "30 ft")] = None
    wrapping: Annotated[float, Quantity("length", "0 in", "6 in")] = 0.0


#: Nothing to keep to.
NO_LIMITS = Limits()


@dataclass(frozen=True)
class Arrow:
    """The arrow, for a shot.

    Parameters
    ----------
    mass : float, optional
        With its point, kg; default 9 grains a pound of the bow's weight.
    clip : float
        Force with which its nock holds on to the string, N.
    """

    mass: Annotated[float | None, Quantity("mass", "1 g", "1 kg")] = None
    clip: Annotated[float, Quantity("force", "0 N", "50 N")] = 0.0


#: The usual arrow.
USUAL_ARROW = Arrow()


@dataclass(frozen=True)
class Shooting:
    """How the bow is shot.

    Parameters
    ----------
    strung : float
        How long it has been strung before, s.
    draw_time, hold : float
        How long the draw takes, and how long it is held, s.
    loss_tangent : float, optional
        Of the plastic at the speed of a shot; default that of the plastic; 0 leaves all memory
        out.
    drag : str
        Whether the air's drag on limbs and string counts: "yes" or "no".
    hand_mass : float, optional
        Of hand and handle, moving freely along the shot, kg; default a grip that is held fast.
    """

    strung: Annotated[float, Quantity("duration", "0 s", "52 weeks")] = 600.0
    draw_time: Annotated[float, Quantity("duration", "0.1 s", "1 min")] = 2.0
    hold: Annotated[float, Quantity("duration", "0 s", "10 min")] = 3.0
    loss_tangent: Annotated[float | None, Number(0, 0.1)] = None
    drag: Annotated[Literal["yes", "no"], Word(("yes", "no"))] = "yes"
    hand_mass: Annotated[float | None, Quantity("mass", "50 g", "100 kg")] = None


#: As most bows are shot.
USUAL_SHOOTING = Shooting()


@dataclass(frozen=True)
class DiaryEntry:
    """Something done with the bow, for `bowfem diary`.

    Parameters
    ----------
    what : str
        "strung", "drawn" (held so long, so many times) or "rest" (unstrung).
    lasts : float
        How long, s; key `for` in a file. Of a draw, how long each is held.
    times : int
        How many draws.
    every : float
        From draw to draw, s; strung between.
    temperature : float, optional
        Of the limbs meanwhile, K; default that of the design.
    """

    what: Annotated[Literal["strung", "drawn", "rest"], Word(("strung", "drawn", "rest"))]
    lasts: Annotated[float, Quantity("duration", "1 s", "260 weeks", "for")]
    times: Annotated[int, Number(1, 2000, whole=True)] = 1
    every: Annotated[float, Quantity("duration", "5 s", "1 day")] = 60.0
    temperature: Annotated[float | None, Quantity("temperature", "10 C", "60 C")] = None
