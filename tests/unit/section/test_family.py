"""Interpolated families against direct solution and published stiffness."""

import math
from dataclasses import fields, replace

import numpy as np
import pytest

from bowfem.errors import InputError
from bowfem.section import (
    RIGID_PVC,
    Pipe,
    SectionFamily,
    blend,
    onset_thickness,
    pressed,
    racetrack,
    section_response,
)

PIPE = Pipe(26.67e-3, 2.87e-3)
THICKNESS = np.linspace(2.0 * PIPE.wall, PIPE.outer_diameter, 31)


@pytest.fixture(scope="module", params=[False, True], ids=["flat", "edge"])
def family(request):
    return SectionFamily.from_pipe(PIPE, turned=request.param, ovalise=False)


def test_family_is_the_direct_solution(family):
    # interpolation error; the law's broken power 5.5 limits it where the inner faces lie at the
    # neutral axis, near the closed thickness (axial strain there, relative to 8 % fibre strain)
    stack = family.at(THICKNESS)
    tolerance = {"moment": 2e-5, "tangent": 5e-5, "axial_strain": 5e-4}
    for i, thickness in enumerate(THICKNESS):
        outline = pressed(PIPE, thickness)
        direct = section_response(outline.turned() if family.turned else outline, RIGID_PVC)
        for each in fields(direct):
            want = getattr(direct, each.name)
            if each.name.startswith("peak"):  # the knots tell
                assert np.isnan(want)
                continue
            error = np.max(np.abs(getattr(stack, each.name)[i] - want))
            assert error <= tolerance.get(each.name, 1e-7) * np.max(np.abs(want)), each.name


def test_family_of_racetracks_has_the_stadium_stiffness(cases):
    rows = cases["09"]["stadium_from_pipe"]["value"]
    family = SectionFamily.from_pipe(PIPE, shape=racetrack, ovalise=False)
    edge = SectionFamily.from_pipe(PIPE, shape=racetrack, turned=True, ovalise=False)
    heights = np.array([row["height"] * 1e-3 for row in rows])
    for each, name in ((family, "I_weak"), (edge, "I_strong")):
        got = each.at(heights).bending_stiffness / 2.9e9 * 1e12
        # I is a polynomial of third degree in the height: interpolation is exact
        assert got == pytest.approx([row[name] for row in rows], rel=1e-10)


def test_stations_do_not_see_each_other(family):
    stack = family.at(THICKNESS)
    for i in (0, 7, 30):
        one = family.at(THICKNESS[i])
        assert one.moment.shape == (65,)
        assert one.width.shape == ()
        np.testing.assert_allclose(stack.moment[i], one.moment, rtol=1e-12, atol=1e-12)


def test_nodes_are_hit_exactly(family):
    stack = family.at(family.thicknesses)
    np.testing.assert_allclose(stack.moment, family.nodes.moment, rtol=1e-14, atol=1e-14)


def test_slope_over_thickness_is_continuous_where_flats_begin(family):
    # one-sided second-order differences of moment over thickness on either side of the panels'
    # meeting; the slope itself is continuous, the interpolation makes it so to about 1e-5
    at, h = onset_thickness(PIPE), 1e-5
    m = family.at(at + h * np.arange(-2, 3)).moment[:, 33:]
    below = (3.0 * m[2] - 4.0 * m[1] + m[0]) / (2.0 * h)
    above = (-3.0 * m[2] + 4.0 * m[3] - m[4]) / (2.0 * h)
    scale = np.max(np.abs(m[2])) / PIPE.outer_diameter
    np.testing.assert_allclose(above, below, atol=2e-3 * scale)


def test_any_way_to_compute_a_section_makes_a_family():
    # a law that softens with curvature as a folding wall would: the limit is carried along
    def law(thickness):
        record = section_response(pressed(PIPE, thickness), RIGID_PVC)
        k = record.curvature / record.curvature[-1]
        size = thickness**3
        return replace(record, moment=size * (k - k**3), tangent=size * (1.0 - 3.0 * k**2))

    stack = SectionFamily.from_law(PIPE, law).at([8e-3, 20e-3])
    expected = stack.curvature[:, -1] / math.sqrt(3.0)
    np.testing.assert_allclose(stack.limit, expected, rtol=5e-4)  # knots 1/32 apart, linear between


def test_thick_pipe_that_never_gets_flats_has_one_panel():
    pipe = Pipe(20e-3, 9e-3)
    assert onset_thickness(pipe) < 2.0 * pipe.wall
    family = SectionFamily.from_pipe(pipe, n_thickness=6, ovalise=False)
    assert len(family.panels) == 1
    direct = section_response(pressed(pipe, 19e-3), RIGID_PVC)
    assert float(family.at(19e-3).bending_stiffness) == pytest.approx(
        float(direct.bending_stiffness), rel=1e-5
    )


def test_blend_begins_flat_ends_on_edge_and_is_halfway_between():
    flat = SectionFamily.from_pipe(PIPE).at(np.full(3, 9e-3))
    edge = SectionFamily.from_pipe(PIPE, turned=True).at(np.full(3, 9e-3))
    mixed = blend(flat, edge, [0.0, 0.5, 1.0])
    for each in fields(mixed):
        one, two, got = (getattr(record, each.name) for record in (flat, edge, mixed))
        np.testing.assert_allclose(got[0], one[0], rtol=1e-12, atol=1e-15)
        np.testing.assert_allclose(got[2], two[2], rtol=1e-12, atol=1e-15)
        if each.name.startswith("peak"):
            assert np.isnan(got[1])
        elif each.name not in ("tangent", "bending_stiffness"):
            np.testing.assert_allclose(got[1], 0.5 * (one[1] + two[1]), rtol=1e-12, atol=1e-15)


def test_blended_tangent_is_the_slope_of_the_blended_moment():
    flat = section_response(pressed(PIPE, 9e-3), RIGID_PVC, n=401)
    edge = section_response(pressed(PIPE, 9e-3).turned(), RIGID_PVC, n=401)
    mixed = blend(flat, edge, 0.3)
    slope = np.gradient(mixed.moment, mixed.curvature)[1:-1]
    # central differences over 1/200 of the range
    np.testing.assert_allclose(mixed.tangent[1:-1], slope, atol=1e-3 * mixed.tangent[200])
    assert float(mixed.bending_stiffness) == mixed.tangent[200]


@pytest.mark.parametrize("thickness", [5.7e-3, [10e-3, 27e-3], math.nan, [[10e-3]]])
def test_thickness_outside_is_one_error(family, thickness):
    with pytest.raises(InputError, match=r"^thickness = .*: must be between 0\.00574 and 0\.02667"):
        family.at(thickness)


@pytest.mark.parametrize(
    ("make", "key"),
    [
        (lambda a, b: blend(a, a, 1.1), "turn"),
        (lambda a, b: blend(a, a, math.nan), "turn"),
        (lambda a, b: blend(a, b, 0.5), "edge"),
        (lambda a, b: SectionFamily.from_pipe(PIPE, n_thickness=3), "n_thickness"),
    ],
)
def test_wrong_request_is_one_error(make, key):
    few, many = (section_response(pressed(PIPE, 9e-3), RIGID_PVC, n=n) for n in (9, 11))
    with pytest.raises(InputError, match=rf"^{key} = "):
        make(few, many)
