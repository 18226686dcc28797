"""Sleeves, strips and wraps: stiffness and mass against textbook sections, and on a limb."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from bowfem.bow import LimbModel, walk
from bowfem.design import Design, Overlay, Sleeve
from bowfem.section import RIGID_PVC, Linear, Pipe, SectionFamily, circle, pressed
from bowfem.section.built_up import nested, solid_rod, stacked, with_strip
from bowfem.section.response import _fibres, section_response

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"
INCH = 0.0254
WAGTAIL = Design.from_file(DESIGNS / "wagtail.toml")
MODULUS = 2.9e9


def with_limb(**changes) -> Design:
    return dataclasses.replace(WAGTAIL, limb=dataclasses.replace(WAGTAIL.limb, **changes))


def at_root(design: Design):
    """Sections at the first station, in the round handle."""
    sections = LimbModel.from_design(design).sections
    return {
        name: float(getattr(sections, name)[0])
        for name in ("bending_stiffness", "axial_stiffness", "mass_per_length", "thickness")
    }


def tube(outside: float, inside: float = 0.0) -> tuple[float, float]:
    """Area and second moment of a ring: textbook."""
    return math.pi * (outside**2 - inside**2) / 4, math.pi * (outside**4 - inside**4) / 64


@pytest.mark.parametrize("fit", ["bonded", "sliding"])
def test_pipe_over_the_round_handle(fit):
    # about one axis second moments add, glued or not; axial stiffness adds when glued
    sleeve = Sleeve(start=0.0, end=2 * INCH, outer_diameter=33e-3, wall=3e-3, fit=fit)
    plain, both = at_root(WAGTAIL), at_root(with_limb(sleeves=(sleeve,)))
    area, second = tube(33e-3, 27e-3)
    # 1e-7: the pipe's tables are interpolated
    added = both["bending_stiffness"] - plain["bending_stiffness"]
    assert added == pytest.approx(MODULUS * second, rel=1e-7)
    carried = both["axial_stiffness"] - plain["axial_stiffness"]
    expected = MODULUS * area if fit == "bonded" else 0.0
    assert carried == pytest.approx(expected, rel=1e-7, abs=1e-3)
    mass = both["mass_per_length"] - plain["mass_per_length"]
    assert mass == pytest.approx(1400.0 * area, rel=1e-7)
    assert both["thickness"] == pytest.approx(33e-3, rel=1e-9)  # the string clears the sleeve


@pytest.mark.parametrize("fit", ["bonded", "sliding"])
def test_a_sleeve_carries_its_moment_at_large_bending(fit):
    # bent to one curvature about one axis, moments add, whether or not the two slide (statics)
    sleeve = Sleeve(start=0.0, end=2 * INCH, outer_diameter=33e-3, wall=3e-3, fit=fit)
    table = LimbModel.from_design(with_limb(sleeves=(sleeve,))).rod.table
    bare = LimbModel.from_design(WAGTAIL).rod.table
    alone = SectionFamily.from_pipe(Pipe(33e-3, 3e-3)).at(33e-3)
    for share in (0.3, 0.6, 0.9):
        k = share * table.curvature[0, 0, -1]
        both, host = (
            float(np.interp(k, each.curvature[0, 0], each.moment[0, 0])) for each in (table, bare)
        )
        guest = float(np.interp(k, alone.curvature, alone.moment))
        # straight lines between knots of two tables
        assert both == pytest.approx(host + guest, rel=2e-3)
        assert guest > 0.3 * host


def test_rod_inside_the_handle():
    rod = Sleeve(
        start=0.0, end=2 * INCH, outer_diameter=18e-3, fit="sliding", modulus=40e9, density=1900.0
    )
    plain, both = at_root(WAGTAIL), at_root(with_limb(sleeves=(rod,)))
    area, second = tube(18e-3)
    added = both["bending_stiffness"] - plain["bending_stiffness"]
    assert added == pytest.approx(40e9 * second, rel=1e-9)
    assert both["axial_stiffness"] == pytest.approx(plain["axial_stiffness"], rel=1e-12)
    mass = both["mass_per_length"] - plain["mass_per_length"]
    assert mass == pytest.approx(1900.0 * area, rel=1e-9)
    assert both["thickness"] == plain["thickness"]


def integral(section) -> np.ndarray:
    """Area under the tangent from the first knot to every second one, by Simpson's rule."""
    h, t = section.curvature[1] - section.curvature[0], section.tangent
    return np.cumsum(h / 3 * (t[:-2:2] + 4 * t[1:-1:2] + t[2::2]))


def test_solid_rod_is_the_integral_of_stress_over_a_circle():
    # M = -int stress(e0 - k y) y dA by adaptive quadrature; a law alike in tension and compression
    # has e0 = 0
    law = dataclasses.replace(RIGID_PVC, compression_ratio=1.0)
    rod, radius = solid_rod(12e-3, law), 6e-3
    for i in (40, 50, 64):
        k = rod.curvature[i]

        def part(y, k=k):
            return -float(law.stress(-k * y)) * y * 2 * math.sqrt(radius**2 - y**2)

        moment = quad(part, -radius, radius, epsabs=0, epsrel=1e-10)[0]
        assert rod.moment[i] == pytest.approx(moment, rel=1e-6)  # quadrature of 64 layers
    assert integral(rod) == pytest.approx(rod.moment[2::2] - rod.moment[0], rel=2e-4)


def test_nested_moments_add_at_every_curvature():
    # two tubes about one axis: the sum of what each resists by itself
    outer, inner = Pipe(33e-3, 3e-3), Pipe(26e-3, 2.5e-3)
    one, two = (section_response(circle(pipe), RIGID_PVC) for pipe in (inner, outer))
    both = nested(one, two, bonded=True, over=True, alike=True)
    assert both.curvature[-1] == pytest.approx(0.08 / 16.5e-3, rel=1e-12)  # the outer ends first
    alone = np.interp(both.curvature, one.curvature, one.moment)
    np.testing.assert_allclose(both.moment, alone + two.moment, atol=2e-3 * both.moment[-1])
    # slope and value are one curve
    assert integral(both) == pytest.approx(both.moment[2::2] - both.moment[0], rel=2e-4)
    assert both.belly[0] == two.belly[0] and both.thickness == two.thickness


def test_strip_on_the_back_is_two_layers_with_one_neutral_axis():
    # brute force: layers of both materials, strain e0 - k y with no axial force
    law = Linear(MODULUS)
    outline = pressed(Pipe.from_size("3/4 in Sch 40"), 10e-3)
    section = section_response(outline, law)
    glued = with_strip(section, 2e-3, 12e9)
    y, area = _fibres(outline)
    n = 400
    strip_y = -(outline.thickness / 2 + 2e-3 * (np.arange(n) + 0.5) / n)
    strip = np.full(n, outline.width * 2e-3 / n)
    heights, forces = np.append(y, strip_y), np.append(MODULUS * area, 12e9 * strip)
    neutral = heights @ forces / forces.sum()
    stiffness = (heights - neutral) ** 2 @ forces
    # 1e-6: slicing of the strip
    assert float(glued.bending_stiffness) == pytest.approx(stiffness, rel=1e-6)
    np.testing.assert_allclose(glued.moment, glued.curvature * stiffness, rtol=1e-6)
    # the strain vanishes at the neutral axis
    np.testing.assert_allclose(glued.axial_strain, glued.curvature * neutral, rtol=1e-6)


def test_strip_as_stiff_as_a_solid_bar_makes_a_deeper_bar():
    # a bar of modulus E glued to a bar of E is one bar of both depths: b h^3 / 12
    bar = dataclasses.replace(
        solid_rod(10e-3, Linear(1e9)),
        width=np.array(20e-3),
        thickness=np.array(6e-3),
        axial_stiffness=np.array(1e9 * 20e-3 * 6e-3),
        bending_stiffness=np.array(1e9 * 20e-3 * 6e-3**3 / 12),
    )
    deeper = with_strip(bar, 4e-3, 1e9)
    assert float(deeper.bending_stiffness) == pytest.approx(1e9 * 20e-3 * 10e-3**3 / 12, rel=1e-12)


def test_wrap_adds_mass_alone():
    wrap = Overlay(start=20 * INCH, end=22 * INCH, mass_per_length=0.02)
    plain = LimbModel.from_design(
        with_limb(overlays=(dataclasses.replace(wrap, mass_per_length=1e-9),))
    )
    wrapped = LimbModel.from_design(with_limb(overlays=(wrap,)))
    s = wrapped.rod.stations.ravel()
    inside = (s > wrap.start) & (s < wrap.end)
    added = wrapped.sections.mass_per_length - plain.sections.mass_per_length
    np.testing.assert_allclose(added, np.where(inside, 0.02, 0.0), atol=1e-8)
    np.testing.assert_array_equal(wrapped.rod.EI, plain.rod.EI)


def test_ends_of_spans_are_nodes():
    sleeve = Sleeve(start=0.0, end=6.3 * INCH, outer_diameter=33e-3, wall=3e-3, fit="sliding")
    overlay = Overlay(start=20.1 * INCH, end=22.2 * INCH, mass_per_length=0.01)
    design = with_limb(sleeves=(sleeve,), overlays=(overlay,))
    nodes = LimbModel.from_design(design).rod.nodes
    for end in (sleeve.end, overlay.start, overlay.end):
        assert np.abs(nodes - end).min() < 1e-12


@pytest.mark.parametrize(
    ("outside", "wall", "added"), [(32.67e-3, 3e-3, 6e-3), (20.42e-3, 2e-3, None)]
)
def test_pressed_sleeve_follows_the_limb(outside, wall, added):
    # a sleeve without play: pressed to the limb's thickness and two of its own walls, or inside
    # to the limb's thickness less two walls of the limb
    own_wall = WAGTAIL.pipe.wall
    if added is None:
        outside = WAGTAIL.pipe.inner_diameter
        added = -2 * own_wall
    sleeve = Sleeve(start=0.0, end=6 * INCH, outer_diameter=outside, wall=wall, fit="sliding")
    model, plain = LimbModel.from_design(with_limb(sleeves=(sleeve,))), WAGTAIL.limbs[0]
    s = model.rod.stations.ravel()
    i = int(np.searchsorted(s, 5.5 * INCH))
    thickness = float(plain.thickness_at(s[i]))
    assert thickness < 0.8 * INCH
    family = SectionFamily.from_pipe(Pipe(outside, wall), WAGTAIL.material)
    own = SectionFamily.from_pipe(WAGTAIL.pipe, WAGTAIL.material)
    both = own.at(thickness).bending_stiffness + family.at(thickness + added).bending_stiffness
    assert model.sections.bending_stiffness[i] == pytest.approx(float(both), rel=1e-9)
    outer = thickness + added if added > 0 else thickness
    assert model.sections.thickness[i] == pytest.approx(outer, rel=1e-9)


def test_sleeved_middle_makes_a_stiffer_and_heavier_drawing_bow():
    sleeve = Sleeve(start=0.0, end=8 * INCH, outer_diameter=33e-3, wall=3e-3, fit="bonded")
    plain, sleeved = walk(WAGTAIL), walk(with_limb(sleeves=(sleeve,)))
    assert sleeved.force[-1] > plain.force[-1]
    limb = sleeved.limbs[0]
    root = np.abs(limb.curvature_change[-1, 1]) / np.abs(plain.limbs[0].curvature_change[-1, 1])
    assert root < 0.6
    # the moment runs on across the end of the sleeve, the curvature jumps
    i = int(np.searchsorted(limb.s, sleeve.end))
    assert limb.moment[-1, i - 1] == pytest.approx(limb.moment[-1, i], rel=0.05)
    assert limb.curvature_change[-1, i] > 1.5 * limb.curvature_change[-1, i - 1]
    assert sleeved.energy_at(sleeved.draw[-1]) == pytest.approx(sleeved.energy[-1], rel=1e-4)


def test_stack_repeats_one_section():
    rod = solid_rod(10e-3, RIGID_PVC)
    many = stacked(rod, 3)
    assert many.moment.shape == (3, rod.moment.size) and many.area.shape == (3,)
    np.testing.assert_array_equal(many.moment[2], rod.moment)
