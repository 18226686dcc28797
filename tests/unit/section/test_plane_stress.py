"""A law along and across: exact on both sides of uniaxial stress, an energy, convex."""

import numpy as np
import pytest
from hypothesis import given, strategies as st

from bowfem._kernels.crosswise import bent_wall, thick_wall
from bowfem.section import RIGID_PVC, Linear, Saturating
from bowfem.section.plane_stress import plane_stress

LAWS = [RIGID_PVC, Linear(2.9e9), Saturating(2.9e9, 51.4e6, 66.2e6)]
DEPTH, SHARE = np.array([-0.5, 0.5]), np.array([0.5, 0.5])


def across(law, x, change, bend=0.0):
    """Strain across, stress across, and what it adds along, at both sides of a wall."""
    table = plane_stress(law)
    one = (np.array([float(each)]) for each in (x, change, bend))
    return thick_wall(table.table, table.step, law.poisson, *one, DEPTH, SHARE)[:, 0]


def cost(law, x, change):
    table = plane_stress(law)
    strain, lever = np.array([[float(x)]]), np.ones((1, 1))
    change = np.array([[float(change)]])
    found = bent_wall(
        table.table, table.step, law.poisson, strain, lever, DEPTH[None], SHARE, change
    )
    return found[:, 0, 0]


@pytest.mark.parametrize("law", LAWS)
@pytest.mark.parametrize("x", [-0.06, -0.02, 0.004, 0.02, 0.06])
def test_a_flat_wall_is_in_uniaxial_stress(law, x):
    strain, stress, added = across(law, x, 0.0)
    np.testing.assert_allclose(strain, -law.poisson * x, rtol=1e-9)
    np.testing.assert_allclose(stress, 0.0, atol=1e-12)
    np.testing.assert_allclose(added, 0.0, atol=1e-10)
    found = cost(law, x, 0.0)
    np.testing.assert_allclose(found[:5], 0.0, atol=1e-9)


@pytest.mark.parametrize("law", LAWS)
def test_at_rest_it_is_an_elastic_plate(law):
    # D c^2 / 2 with D = E t^3 / (12 (1 - nu^2)): two points at half depth have 1/4 for 1/12
    c = 1e-6
    found = cost(law, 0.0, c)
    assert found[0] == pytest.approx(0.5 * 0.25 * c**2 / (1.0 - law.poisson**2), rel=1e-6)
    assert found[5] == pytest.approx(0.25 / (1.0 - law.poisson**2), rel=1e-6)


@given(st.sampled_from(LAWS), st.floats(-0.06, 0.06), st.floats(-0.12, 0.12))
def test_derivatives_are_those_of_the_energy(law, x, c):
    h = 1e-6
    found = cost(law, x, c)
    up, down = cost(law, x + h, c), cost(law, x - h, c)
    right, left = cost(law, x, c + h), cost(law, x, c - h)
    # central differences of functions of order one: h^2 and 1e-16 / h
    assert found[1] == pytest.approx((up[0] - down[0]) / (2 * h), abs=1e-8)
    assert found[2] == pytest.approx((right[0] - left[0]) / (2 * h), abs=1e-8)
    if abs(x) > 1e-5:
        # second derivatives of a law with a jump in its third
        assert found[3] == pytest.approx((up[1] - down[1]) / (2 * h), abs=2e-4)
        assert found[4] == pytest.approx((up[2] - down[2]) / (2 * h), abs=2e-4)
        assert found[4] == pytest.approx((right[1] - left[1]) / (2 * h), abs=2e-4)
        assert found[5] == pytest.approx((right[2] - left[2]) / (2 * h), abs=2e-4)


def test_a_yielding_wall_gives_way_across():
    """Where it yields along, it bends more easily across: deformation theory's secant (D)."""
    elastic, yielding = (cost(law, 0.04, 0.01)[5] for law in (Linear(2.9e9), RIGID_PVC))
    assert 0.2 * elastic < yielding < 0.7 * elastic


def test_no_force_across_whatever_the_bending():
    for law in LAWS:
        for x, c, b in ((0.02, 0.05, 0.0), (-0.03, 0.1, 1.0), (0.0, -0.08, 1.5)):
            stress = across(law, x, c, b)[1]
            assert stress @ SHARE == pytest.approx(0.0, abs=1e-10)
