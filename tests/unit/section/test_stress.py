"""Fibre stress against beam theory and the law itself."""

import numpy as np
import pytest

from bowfem.errors import InputError
from bowfem.section import (
    RIGID_PVC,
    Linear,
    Pipe,
    SectionFamily,
    fibre_stress,
    moment_curvature,
    pressed,
    section_response,
)

PIPE = Pipe(26.67e-3, 2.87e-3)
FAMILY = SectionFamily.from_pipe(PIPE, ovalise=False)


def test_linear_section_is_moment_over_section_modulus():
    # beam theory: stress = M c / I, belly compressed under positive curvature
    outline, law = pressed(PIPE, 10e-3), Linear(2.9e9, 50e6, 60e6)
    found = fibre_stress(section_response(outline, law), law, np.array([-2.0, 3.0]))
    moment = 2.9e9 * outline.second_moment_weak * np.array([-2.0, 3.0])
    stress = moment * 5e-3 / outline.second_moment_weak
    np.testing.assert_allclose(found.stress_belly, -stress, rtol=1e-9)
    np.testing.assert_allclose(found.stress_back, stress, rtol=1e-9)
    # each side against the yield of its own sign; a linear law's shares are the same both ways
    np.testing.assert_allclose(found.stress_share_belly, [29 / 50, 43.5 / 60], rtol=1e-9)
    np.testing.assert_allclose(found.stress_share_back, [29 / 60, 43.5 / 50], rtol=1e-9)
    np.testing.assert_allclose(found.strain_share_back, found.stress_share_back, rtol=1e-9)


def test_states_and_stations():
    thickness = np.array([24e-3, 14e-3, 8e-3])
    stack = FAMILY.at(thickness)
    curvature = np.array([[0.1, 0.2, 0.3], [-1.0, 2.0, 4.0], [1.3, 3.1, 7.7], [6.5, -11.0, 19.5]])
    found = fibre_stress(stack, RIGID_PVC, curvature)
    assert found.strain_belly.shape == (4, 3)
    for i, h in enumerate(thickness):
        direct = moment_curvature(pressed(PIPE, h), RIGID_PVC, curvature[:, i])
        for strain, sign in ((found.strain_belly, -1.0), (found.strain_back, 1.0)):
            want = direct.axial_strain + sign * curvature[:, i] * 0.5 * h
            # four-point reading of the axial strain, 1e-2 at most; fourth differences 5e-5
            np.testing.assert_allclose(strain[:, i], want, atol=6e-7)
    np.testing.assert_allclose(found.stress_back, RIGID_PVC.stress(found.strain_back))


def test_share_is_one_at_yield_of_each_side():
    outline = pressed(PIPE, 10e-3)
    section = section_response(outline, RIGID_PVC)
    # pick the curvature at which the back reaches the tensile yield strain, by bisection
    low, high = 0.0, section.curvature[-1]
    for _ in range(60):
        middle = 0.5 * (low + high)
        strain = float(fibre_stress(section, RIGID_PVC, middle).strain_back)
        low, high = (middle, high) if strain < RIGID_PVC.yield_strain_tension else (low, middle)
    found = fibre_stress(section, RIGID_PVC, low)
    assert float(found.stress_share_back) == pytest.approx(1.0, rel=1e-9)
    assert float(found.strain_share_back) == pytest.approx(1.0, rel=1e-9)
    assert float(found.stress_back) == pytest.approx(51.4e6, rel=1e-9)
    # the stronger compressed side is not yet there
    assert 0.8 < float(found.stress_share_belly) < 1.0


def test_bending_the_other_way_swaps_belly_and_back():
    section = section_response(pressed(PIPE, 10e-3), RIGID_PVC)
    one, two = (fibre_stress(section, RIGID_PVC, k) for k in (4.0, -4.0))
    assert float(one.stress_belly) == pytest.approx(float(two.stress_back), rel=1e-12)


@pytest.mark.parametrize("curvature", [[0.0, 50.0], [np.nan, 0.0], [0.0, 0.0, 0.0], 0.0])
def test_curvature_that_is_not_tabulated_is_one_error(curvature):
    stack = FAMILY.at([20e-3, 9e-3])
    with pytest.raises(InputError, match=r"^curvature = "):
        fibre_stress(stack, RIGID_PVC, curvature)
