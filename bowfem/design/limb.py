"""A limb in a design file: marks, bends, tip, sleeves, overlays, as records in SI units.

Each field carries its dimension and range; see `design_parts`. Distances run along the pipe from
the bow's centre, which is the middle of the handle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Literal

from bowfem.design.fields import Group, Quantity, Rows, Text, Word
from bowfem.section import Pipe


@dataclass(frozen=True)
class Mark:
    """A mark on the pipe, where the jig's gap is set.

    Parameters
    ----------
    at : float
        Distance from the bow's centre along the pipe, m.
    thickness : float or "round"
        Outer thickness pressed there, m.
    """

    at: Annotated[float, Quantity("length", "0 in", "6 ft")]
    thickness: Annotated[
        float | Literal["round"], Quantity("length", "0.4 mm", "200 mm", words=("round",))
    ]


@dataclass(frozen=True, kw_only=True)
class Bend:
    """A circular bend formed into the limb; two of `end`, `radius` and `angle` are given.

    Parameters
    ----------
    start : float
        Distance from the bow's centre along the pipe where it begins, m; key `from`.
    end : float, optional
        Distance from the bow's centre where it ends, m; key `to`.
    radius : float, optional
        Radius of the limb's middle, m: that of the former plus half the thickness.
    angle : float, optional
        Angle turned, rad, positive.
    direction : {"forward", "back"}
        Way the tip is turned: away from the archer, or toward the archer.
    """

    start: Annotated[float, Quantity("length", "0 in", "6 ft", key="from")]
    end: Annotated[float | None, Quantity("length", "0 in", "6 ft", key="to")] = None
    radius: Annotated[float | None, Quantity("length", "0.2 in", "100 ft")] = None
    angle: Annotated[float | None, Quantity("angle", "0.01 deg", "270 deg")] = None
    direction: Annotated[Literal["forward", "back"], Word(("forward", "back"))]

    @property
    def stop(self) -> float:
        """Distance from the bow's centre where it ends, m."""
        if self.end is not None:
            return self.end
        assert self.radius is not None and self.angle is not None
        return self.start + self.radius * self.angle

    @property
    def turn(self) -> float:
        """Angle turned, rad; positive toward the archer."""
        if self.angle is not None:
            angle = self.angle
        else:
            assert self.radius is not None
            angle = (self.stop - self.start) / self.radius
        return -angle if self.direction == "forward" else angle

    @property
    def curvature(self) -> float:
        """Curvature, 1/m; positive toward the archer."""
        if self.radius is not None:  # so that a bend that moves keeps it to the last bit
            return math.copysign(1.0 / self.radius, self.turn)
        # the same bend elsewhere differs by rounding alone: to sections it is one
        return float(f"{self.turn / (self.stop - self.start):.12g}")


@dataclass(frozen=True)
class Tip:
    """A tip turned edge-on, so that it stays stiff.

    Parameters
    ----------
    edge_on_from : float
        Distance from the bow's centre where the section begins to turn, m.
    transition : float
        Length over which it turns, m; from there to the end it stands edge-on.
    """

    edge_on_from: Annotated[float, Quantity("length", "0 in", "6 ft")]
    transition: Annotated[float, Quantity("length", "0.1 in", "3 ft")]


@dataclass(frozen=True, kw_only=True)
class Sleeve:
    """A second pipe, or a solid rod, nested over or inside the bow's pipe and pressed with it.

    Wider than the bow's pipe it sits over it, else inside; a rod sits inside and stays round.

    Parameters
    ----------
    start, end : float
        Distances from the bow's centre where it begins and ends, m; keys `from` and `to`.
    size : str, optional
        Published size.
    outer_diameter : float, optional
        Outer diameter, m; instead of `size`.
    wall : float, optional
        Wall, m; left out with `outer_diameter` it is a solid rod.
    fit : {"bonded", "sliding"}
        Whether it is glued or welded all along, or slides as the limb bends.
    modulus : float, optional
        Modulus, Pa, of another, linear material; left out, the sleeve is of the bow's own.
    density : float, optional
        Density of another material, kg/m3.
    """

    start: Annotated[float, Quantity("length", "0 in", "6 ft", key="from")]
    end: Annotated[float, Quantity("length", "0 in", "6 ft", key="to")]
    size: Annotated[str | None, Text(60)] = None
    outer_diameter: Annotated[float | None, Quantity("length", "1 mm", "200 mm")] = None
    wall: Annotated[float | None, Quantity("length", "0.2 mm", "40 mm")] = None
    fit: Annotated[Literal["bonded", "sliding"], Word(("bonded", "sliding"))]
    modulus: Annotated[float | None, Quantity("modulus", "0.1 GPa", "300 GPa")] = None
    density: Annotated[float | None, Quantity("density", "100 kg/m3", "9000 kg/m3")] = None

    @property
    def pipe(self) -> Pipe | None:
        """The sleeve as a pipe, or None where it is a solid rod."""
        if self.size is not None:
            return Pipe.from_size(self.size)
        assert self.outer_diameter is not None
        return None if self.wall is None else Pipe(self.outer_diameter, self.wall)

    @property
    def diameter(self) -> float:
        """Outer diameter, m."""
        pipe = self.pipe
        if pipe is not None:
            return pipe.outer_diameter
        assert self.outer_diameter is not None
        return self.outer_diameter

    def is_over(self, pipe: Pipe) -> bool:
        """Say whether it sits over a pipe; else it is inside."""
        return self.diameter > pipe.outer_diameter


@dataclass(frozen=True, kw_only=True)
class Overlay:
    """What is put on the limb: a strip glued to the back, or a wrap that adds mass alone.

    Parameters
    ----------
    start, end : float
        Distances from the bow's centre where it begins and ends, m; keys `from` and `to`.
    mass_per_length : float
        Mass over length, kg/m.
    thickness : float, optional
        Thickness of a strip glued to the back, as wide as the section, m.
    modulus : float, optional
        Its modulus, Pa; with `thickness`. Without the two it adds mass alone.
    """

    start: Annotated[float, Quantity("length", "0 in", "6 ft", key="from")]
    end: Annotated[float, Quantity("length", "0 in", "6 ft", key="to")]
    mass_per_length: Annotated[float, Quantity("mass_per_length", "0 kg/m", "5 kg/m")] = 0.0
    thickness: Annotated[float | None, Quantity("length", "0.05 mm", "50 mm")] = None
    modulus: Annotated[float | None, Quantity("modulus", "0.01 GPa", "300 GPa")] = None


@dataclass(frozen=True)
class Limb:
    """One limb, or both where the design gives no other lower one.

    Parameters
    ----------
    marks : tuple of Mark
        From the handle to the end, at least two; beyond the last one the thickness stays.
    taper : {"straight", "smooth"}
        How the thickness runs from mark to mark: a straight board, or one bowed smoothly.
    bends : tuple of Bend
        From the handle to the end.
    tip : Tip, optional
        Edge-on tip.
    sleeves : tuple of Sleeve
        Pipes or rods nested with the limb.
    overlays : tuple of Overlay
        Strips and wraps.
    """

    marks: Annotated[tuple[Mark, ...], Rows(Mark)]
    taper: Annotated[Literal["straight", "smooth"], Word(("straight", "smooth"))] = "straight"
    bends: Annotated[tuple[Bend, ...], Rows(Bend)] = ()
    tip: Annotated[Tip | None, Group(Tip)] = None
    sleeves: Annotated[tuple[Sleeve, ...], Rows(Sleeve)] = ()
    overlays: Annotated[tuple[Overlay, ...], Rows(Overlay)] = ()
