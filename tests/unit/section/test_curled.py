"""Curls: softer than straight, unlike both ways, against a solid model and von Karman."""

import math

import numpy as np
import pytest

from bowfem.errors import InputError
from bowfem.section import (
    RIGID_PVC,
    CurledFamily,
    Linear,
    Pipe,
    RambergOsgood,
    SectionFamily,
    circle,
    curled_response,
    family_of,
    pressed,
)

PIPE = Pipe(26.67e-3, 3.1242e-3)
ELASTIC = Linear(2.9e9, poisson=0.4)
#: Moments, N m, by CalculiX 2.20 (C3D20R slices, large displacements), radius 62 mm, at these
#: strains: status D, run once by one model.
STRAINS = np.array([0.0025, 0.01, 0.02, 0.03, 0.04])
SOLID = {
    (12e-3, -1): [3.081, 13.237, 29.07, 47.61, 68.69],
    (12e-3, 1): [2.938, 10.949, 19.98, 27.46, 33.71],
    (8.5e-3, -1): [1.974, 8.606, 19.31, 32.17, 46.54],
    (8.5e-3, 1): [1.867, 6.898, 12.52, 17.25, 21.33],
}


@pytest.mark.parametrize(("h", "sense"), SOLID)
def test_elastic_curl_has_the_solid_models_moment(h, sense):
    table = CurledFamily(PIPE, ELASTIC, 1 / 0.062).at(h)
    found = np.interp(sense * STRAINS / (h / 2), table.curvature, table.moment)
    # what a thin wall leaves out, as of straight sections
    np.testing.assert_allclose(np.abs(found), SOLID[h, sense], rtol=0.025)
    straight = SectionFamily.from_pipe(PIPE, ELASTIC).at(h)
    wrong = np.interp(sense * STRAINS / (h / 2), straight.curvature, straight.moment)
    # a straight limb's table would be up to 80 per cent off
    assert np.max(np.abs(np.abs(wrong) / SOLID[h, sense] - 1.0)) > 0.3


def test_yielding_sections_have_the_solid_models_peak():
    """Deformation plasticity, alike in tension and compression: peaks by CalculiX 2.20 (D)."""
    law = RambergOsgood(2.9e9, 52e6, 0.014, 5.5, compression_ratio=1.0, poisson=0.4)
    for h, peak, at, moments in (
        (12e-3, 38.19, 0.046, (29.96, 35.59, 37.85)),
        (8.5e-3, 20.8, 0.0375, (17.76, 20.40, 20.80)),
    ):
        table = SectionFamily.from_pipe(PIPE, law).at(h)
        limit = float(table.limit)
        assert np.interp(limit, table.curvature, table.moment) == pytest.approx(peak, rel=0.025)
        assert limit * h / 2 == pytest.approx(at, abs=0.005)
        found = np.interp(np.array([0.02, 0.03, 0.04]) / (h / 2), table.curvature, table.moment)
        np.testing.assert_allclose(found, moments, rtol=0.025)
    for sense, moments in ((1, (18.34, 22.01, 23.68)), (-1, (26.14, 36.18, 43.62))):
        table = CurledFamily(PIPE, law, 1 / 0.062).at(12e-3)
        at = sense * np.array([0.02, 0.03, 0.04]) / 6e-3
        found = np.abs(np.interp(at, table.curvature, table.moment))
        np.testing.assert_allclose(found, moments, rtol=0.025)


def test_a_curl_seen_from_the_other_side_is_its_mirror_image():
    one, two = (CurledFamily(PIPE, RIGID_PVC, k).at([9e-3, 12e-3]) for k in (14.0, -14.0))
    np.testing.assert_allclose(one.moment, -two.moment[:, ::-1], rtol=1e-13)
    np.testing.assert_allclose(one.belly, two.back[:, ::-1], rtol=1e-13)
    np.testing.assert_allclose(one.tangent, two.tangent[:, ::-1], rtol=1e-13)
    again = one.mirrored().mirrored()
    np.testing.assert_array_equal(again.curvature, one.curvature)


def test_a_slight_curl_is_nearly_straight():
    straight = family_of(PIPE, RIGID_PVC).at(12e-3)
    slight = family_of(PIPE, RIGID_PVC, natural_curvature=1e-4).at(12e-3)
    inside = np.abs(straight.curvature) < 0.9 * straight.limit
    np.testing.assert_allclose(
        slight.moment[inside], straight.moment[inside], atol=1e-4 * np.max(straight.moment)
    )
    np.testing.assert_allclose(slight.belly[inside], straight.belly[inside], rtol=2e-3)


def test_between_thicknesses_and_curvatures():
    family = CurledFamily(PIPE, RIGID_PVC, 16.0)
    # faces of the thinnest touch when it is closed: its tangent jumps there, between two knots
    for h, error in ((8.1e-3, 8e-3), (11.3e-3, 1e-3), (15.7e-3, 1e-3), (23e-3, 1e-3)):
        direct = curled_response([pressed(PIPE, h)], RIGID_PVC, 16.0)
        found = family.at(h)
        # up to the fold: beyond it faces may meet
        inside = direct.curvature[0] <= np.nan_to_num(float(direct.limit[0]), nan=np.inf)
        scale = np.max(np.abs(direct.moment))
        np.testing.assert_allclose(
            found.moment[inside], direct.moment[0, inside], atol=error * scale
        )


def test_a_curled_tube_has_von_karmans_flexibility():
    """Thin tube: ``k = (12 lambda^2 + 10) / (12 lambda^2 + 1)``, ``lambda = t R / r^2``.

    Th. von Karman 1911 (M), his first approximation; good where lambda is above some 0.3.
    """
    pipe = Pipe(0.03, 0.0008)
    r = 0.5 * pipe.mid_diameter
    law = Linear(2.9e9, poisson=0.0)
    for lam in (0.6, 1.0):
        radius = lam * r**2 / pipe.wall
        table = curled_response([circle(pipe)], law, 1.0 / radius, max_strain=1e-3)
        straight = law.modulus * circle(pipe).second_moment_weak
        karman = (12.0 * lam**2 + 10.0) / (12.0 * lam**2 + 1.0)
        # terms of the series left out, and of the order r / R
        assert straight / float(table.bending_stiffness[0]) == pytest.approx(karman, rel=0.06)


def test_bad_input():
    with pytest.raises(InputError, match="must fit into the bend"):
        CurledFamily(PIPE, RIGID_PVC, 120.0).at(20e-3)
    with pytest.raises(InputError, match="natural_curvature"):
        CurledFamily(PIPE, RIGID_PVC, math.nan)
    with pytest.raises(InputError, match="thickness"):
        CurledFamily(PIPE, RIGID_PVC, 10.0).at(5e-3)
