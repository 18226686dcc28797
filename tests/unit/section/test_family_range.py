"""Families between pipes and plastics: scaling is exact, the rest is near what is solved."""

from dataclasses import replace

import numpy as np
import pytest

from bowfem.section import RIGID_PVC, CurledFamily, Linear, Pipe, SectionFamily
from bowfem.section.family_range import FamilyRange

PIPE = Pipe(26.67e-3, 3.1e-3)
AT = np.linspace(6.9e-3, 26e-3, 9)


def moments(family):
    return family.at(AT * family.thicknesses[-1] / 26.67e-3).moment


@pytest.fixture(scope="module")
def walls():
    pairs = [(Pipe(26.67e-3, wall), RIGID_PVC) for wall in (2.9e-3, 3.3e-3)]
    check = [(Pipe(26.67e-3, 3.17e-3), RIGID_PVC)]
    return FamilyRange.from_pairs(pairs, between=True, checks=check, turned=True)


@pytest.mark.parametrize("turned", [False, True])
def test_size_and_stiffness_scale_exactly(turned):
    """The wall's energy has no length and no stress of its own (D): one family serves all."""
    large, stiff = Pipe(2 * PIPE.outer_diameter, 2 * PIPE.wall), RIGID_PVC.scaled(1.7)
    pairs = [(PIPE, RIGID_PVC), (large, stiff)]
    found = FamilyRange.from_pairs(pairs, between=True, turned=True)
    assert found.names == () and len(found.lying) == 1
    got = found(large, stiff, turned=turned)
    want = SectionFamily.from_pipe(large, stiff, turned=turned)
    np.testing.assert_allclose(got.thicknesses, want.thicknesses, rtol=1e-9)
    a, b = (family.at(2.0 * AT) for family in (got, want))
    for name in ("moment", "tangent", "belly", "loaded_thickness", "crosswise_strain"):
        one, other = getattr(a, name), getattr(b, name)
        np.testing.assert_allclose(one, other, rtol=1e-6, atol=1e-7 * np.max(np.abs(other)))
    for name in (
        "axial_stiffness",
        "shear_stiffness",
        "bending_stiffness",
        "torsion_constant",
        "area",
        "mass_per_length",
        "width",
        "thickness",
    ):
        np.testing.assert_allclose(getattr(a, name), getattr(b, name), rtol=1e-6, err_msg=name)


def test_between_walls(walls):
    """At walls that are no nodes moments are within 5 parts in 100 000 of what is solved there."""
    assert walls.names == ("wall",) and len(walls.lying) == 5
    assert 0.0 < walls.error < 2e-4  # a wall that yields across varies faster with thickness
    pipe, law = Pipe(26.6e-3, 3.02e-3), RIGID_PVC.scaled(0.8)
    for turned in (False, True):
        got = moments(walls(pipe, law, turned=turned))
        want = moments(SectionFamily.from_pipe(pipe, law, turned=turned))
        np.testing.assert_allclose(got, want, atol=5e-5 * np.max(np.abs(want)))


def test_what_is_not_in_the_range_is_solved(walls):
    for pipe, law in (
        (Pipe(26.67e-3, 3.6e-3), RIGID_PVC),
        (PIPE, replace(RIGID_PVC, exponent=7.0)),
        (PIPE, Linear(3e9)),
    ):
        assert walls(pipe, law) is SectionFamily.from_pipe(pipe, law)


def test_two_numbers_vary():
    """Wall and the modulus beside unchanged stresses: 15 families span the range."""
    laws = [replace(RIGID_PVC, modulus=modulus) for modulus in (2.7e9, 3.1e9)]
    pairs = [(Pipe(26.67e-3, wall), law) for wall in (3.0e-3, 3.2e-3) for law in laws]
    found = FamilyRange.from_pairs(pairs, between=True)
    assert found.names == ("wall", "reference_stress") and len(found.lying) == 15
    pair = Pipe(26.67e-3, 3.07e-3), replace(RIGID_PVC, modulus=2.83e9)
    want = moments(SectionFamily.from_pipe(*pair))
    np.testing.assert_allclose(moments(found(*pair)), want, atol=5e-5 * np.max(np.abs(want)))
    few = FamilyRange.from_pairs(pairs[:2])
    assert len(few.lying) == 2  # each of a few is solved, and given as it is
    np.testing.assert_allclose(
        moments(few(*pairs[1])), moments(SectionFamily.from_pipe(*pairs[1])), rtol=1e-6
    )


def test_laws_of_two_kinds_have_nothing_between():
    assert FamilyRange.from_pairs([(PIPE, RIGID_PVC), (PIPE, Linear(2.9e9))]) is None


@pytest.mark.parametrize("turned", [False, True])
def test_sections_of_a_mild_set_lie_on_one_polynomial(turned):
    # a set in the handle bends it to a few hundredths of 1/diameter; solved sections beside
    pipe = Pipe.from_size("3/4 in Sch 40")
    between = FamilyRange.from_pairs([(pipe, RIGID_PVC)], turned=turned)
    assert between is not None
    at = pipe.outer_diameter * np.array([1.0, 0.95, 0.8])
    for size in (-0.05, -0.01, 1e-3, 0.03, 0.059):
        curvature = size / pipe.outer_diameter
        found = between(pipe, RIGID_PVC, turned=turned, natural_curvature=curvature).at(at)
        exact = CurledFamily(pipe, RIGID_PVC, curvature, turned).at(at)
        apart = np.max(np.abs(found.moment - exact.moment), axis=1)
        assert np.max(apart / np.max(np.abs(exact.moment), axis=1)) < 5e-6
        np.testing.assert_allclose(found.bending_stiffness, exact.bending_stiffness, rtol=2e-7)
