"""Sections put together: a pipe or rod nested with another, a strip glued to the back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError
from bowfem.section._checks import positive
from bowfem.section._numerics import FourPoint, osculating
from bowfem.section.law import Law
from bowfem.section.response import SectionResponse, _bend, curvature_knots

Array = NDArray[np.float64]

#: Layers a solid rod is cut into.
LAYERS = 64


def solid_rod(
    diameter: float, material: Law, max_strain: float = 0.08, n: int = 65
) -> SectionResponse:
    """Tabulate a solid round rod.

    Parameters
    ----------
    diameter : float
        Diameter, m.
    material : Law
        Stress-strain law.
    max_strain, n : optional
        Strain of the outer fibre at the last knot, and number of knots, odd.

    Raises
    ------
    InputError
        When a number cannot be used.

    Notes
    -----
    Gauss-Chebyshev points of the second kind carry the circle's width as their weight. Shear
    factor ``6 (1 + nu)^2 / (7 + 14 nu + 8 nu^2)``: the energy of Saint-Venant's flexure (J. D.
    Renton, Int. J. Solids Struct. 27 (1991) 1901; from memory), as tubes have that of shear flow.
    Cowper's ``6 (1 + nu) / (7 + 6 nu)`` (1966, M), of a mean displacement, is 5 per cent more.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC
    >>> round(float(solid_rod(12e-3, RIGID_PVC).bending_stiffness), 3)  # E pi d^4 / 64
    2.952
    """
    radius = 0.5 * positive("diameter", diameter)
    kappa = curvature_knots(radius, max_strain, n)
    angle = np.pi * np.arange(1, LAYERS + 1) / (LAYERS + 1)
    y = radius * np.cos(angle)
    areas = 2.0 * radius**2 * np.pi / (LAYERS + 1) * np.sin(angle) ** 2
    bent = _bend(y, areas, material, kappa, 0.0)
    area, fibre, nu = math.pi * radius**2, np.full(n, radius), material.poisson
    modulus = material.initial_modulus
    return SectionResponse(
        curvature=kappa,
        moment=bent.moment,
        tangent=bent.tangent,
        axial_strain=bent.axial_strain,
        belly=fibre,
        back=fibre,
        loaded_thickness=2.0 * fibre,
        crosswise_strain=np.zeros(n),
        crosswise_tension=np.zeros(n),
        axial_stiffness=np.array(modulus * area),
        shear_stiffness=np.array(
            material.shear_modulus
            * area
            * (6.0 * (1.0 + nu) ** 2 / (7.0 + 14.0 * nu + 8.0 * nu**2))
        ),
        bending_stiffness=np.array(modulus * math.pi * radius**4 / 4.0),
        side_stiffness=np.array(modulus * math.pi * radius**4 / 4.0),
        twist_stiffness=np.array(material.shear_modulus * math.pi * radius**4 / 2.0),
        torsion_constant=np.array(math.pi * radius**4 / 2.0),
        area=np.array(area),
        mass_per_length=np.array(material.density * area),
        width=np.array(2.0 * radius),
        thickness=np.array(2.0 * radius),
        peak=np.array(np.inf),
        peak_backward=np.array(np.inf),
    )


def nested(
    host: SectionResponse, guest: SectionResponse, *, bonded: bool, over: bool, alike: bool
) -> SectionResponse:
    """Nest a section in or over another about one common axis.

    Parameters
    ----------
    host, guest : SectionResponse
        The limb's own sections and those of the sleeve, for the same stations, equal in knots.
    bonded : bool
        Whether they are held together along the limb: then both carry axial force.
    over : bool
        Whether the guest is outside, and gives the outer extents.
    alike : bool
        Whether it is of the host's material: then its fibre, if outside, is the outer fibre.

    Raises
    ------
    InputError
        When the knots differ in number.

    Notes
    -----
    Bent to one curvature about one axis, moments add, bonded or not. The range ends where the
    first of the two does. Each keeps its own axial strain under pure bending, which differs
    between them only through a law that differs in tension and compression.
    """
    n = host.curvature.shape[-1]
    if guest.curvature.shape[-1] != n:
        raise InputError("guest", guest.curvature.shape, f"with {n} knots, as the host")
    end = np.minimum(host.curvature[..., -1], guest.curvature[..., -1])
    share = np.linspace(-1.0, 1.0, n)
    knots = 0.5 * (share - share[::-1]) * end[..., None]
    one, two = _resampled(host, knots), _resampled(guest, knots)
    outer = {"thickness": two.thickness, "width": two.width} if over else {}
    fibre = {"belly": two.belly, "back": two.back} if over and alike else {}
    if over:
        outer["loaded_thickness"] = two.loaded_thickness
    return replace(
        one,
        moment=one.moment + two.moment,
        tangent=one.tangent + two.tangent,
        axial_stiffness=one.axial_stiffness + (two.axial_stiffness if bonded else 0.0),
        shear_stiffness=one.shear_stiffness + two.shear_stiffness,
        bending_stiffness=one.bending_stiffness + two.bending_stiffness,
        side_stiffness=one.side_stiffness + two.side_stiffness,
        twist_stiffness=one.twist_stiffness + two.twist_stiffness,
        torsion_constant=one.torsion_constant + two.torsion_constant,
        area=one.area + two.area,
        mass_per_length=one.mass_per_length + two.mass_per_length,
        **_no_peak(one),
        **outer,
        **fibre,
    )


def with_strip(section: SectionResponse, thickness: ArrayLike, modulus: float) -> SectionResponse:
    """Glue a strip of another, linear material to the back, as wide as the section.

    Parameters
    ----------
    section : SectionResponse
        The sections.
    thickness : float or array_like, shape of the stack
        Thickness of the strip, m.
    modulus : float
        Its modulus, Pa.

    Notes
    -----
    Two layers bent with no axial force share a neutral axis; with ``e`` between their middles the
    strip adds ``E I + EA1 EA2 / (EA1 + EA2) e^2`` (parallel axes, D). The section's stiffness at
    rest stands in for its tangent there. Outer extents stay those of the section: the string runs
    on the belly. Sideways the strip adds ``E t w^3 / 12``; what it adds to torsion is left out.
    """
    t = np.asarray(thickness, dtype=float)
    strip = modulus * section.width * t
    apart = 0.5 * (section.thickness + t)
    both = section.axial_stiffness + strip
    added = strip * t**2 / 12.0 + section.axial_stiffness * strip / both * apart**2
    shift = (strip * apart / both)[..., None]
    return replace(
        section,
        moment=section.moment + added[..., None] * section.curvature,
        tangent=section.tangent + added[..., None],
        axial_strain=section.axial_strain - section.curvature * shift,
        axial_stiffness=both,
        bending_stiffness=section.bending_stiffness + added,
        side_stiffness=section.side_stiffness + strip * section.width**2 / 12.0,
        **_no_peak(section),
    )


def _no_peak(section: SectionResponse) -> dict[str, Array]:
    """Leave it to the knots of something new to tell where its moment peaks."""
    none = np.full(section.thickness.shape, np.nan)
    return {"peak": none, "peak_backward": none}


def _resampled(section: SectionResponse, knots: Array) -> SectionResponse:
    """Read a section's tables at other knots within its range: the moment by its own cubic."""
    n = knots.shape[-1]
    step = (section.curvature[..., 1] - section.curvature[..., 0])[..., None]
    place = np.clip((knots - section.curvature[..., :1]) / step, 0.0, n - 1.0)
    moment, rise = osculating(section.moment, section.tangent * step, place, 0, n - 1, 2)
    read = FourPoint(place, 0, n - 1)
    names = (
        "axial_strain",
        "belly",
        "back",
        "loaded_thickness",
        "crosswise_strain",
        "crosswise_tension",
    )
    rest = {name: read.value(getattr(section, name)) for name in names}
    return replace(section, curvature=knots, moment=moment, tangent=rise / step, **rest)


def stacked(one: SectionResponse, count: int) -> SectionResponse:
    """Repeat one section for `count` stations."""
    return SectionResponse(
        **{
            each.name: np.repeat(np.asarray(getattr(one, each.name))[None], count, axis=0)
            for each in fields(SectionResponse)
        }
    )


def at_stations(section: SectionResponse, where: NDArray[np.bool_] | int) -> SectionResponse:
    """Pick some stations of a stack, or one alone."""
    return SectionResponse(
        **{each.name: getattr(section, each.name)[where] for each in fields(SectionResponse)}
    )


def gathered(which: NDArray[np.intp], parts: Sequence[SectionResponse]) -> SectionResponse:
    """Put the stations of several stacks in their places: `which` says whose each one is."""
    found = {}
    for each in fields(SectionResponse):
        values = [getattr(part, each.name) for part in parts]
        whole = np.empty((len(which), *values[0].shape[1:]))
        for number, part in enumerate(values):
            whole[which == number] = part
        found[each.name] = whole
    return SectionResponse(**found)


def put_stations(
    section: SectionResponse, where: NDArray[np.bool_], new: SectionResponse
) -> SectionResponse:
    """Replace some stations of a stack."""
    changed = {}
    for each in fields(SectionResponse):
        values = np.array(getattr(section, each.name))
        values[where] = getattr(new, each.name)
        changed[each.name] = values
    return SectionResponse(**changed)
