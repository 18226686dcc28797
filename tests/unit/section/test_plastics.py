"""Plastics: warmth acts on the plastic alone, one spread, figures with their sources."""

import dataclasses
import math

import numpy as np
import pytest

from bowfem.errors import InputError
from bowfem.section import PLASTICS, PVC_U, Linear, plastic

STRAIN = np.linspace(-0.04, 0.04, 17)


def test_temperature_scales_the_whole_curve():
    # about -1 % a kelvin from 23 C (M)
    assert PVC_U.temperature_factor(296.15) == 1.0
    warm = PVC_U.at_temperature(PVC_U.law, 306.15)
    assert warm.initial_modulus == pytest.approx(0.9 * 2.9e9)
    np.testing.assert_allclose(warm.stress(STRAIN), 0.9 * PVC_U.law.stress(STRAIN), rtol=1e-9)
    assert warm.yields() == pytest.approx([0.9 * each for each in PVC_U.law.yields()])
    assert PVC_U.at_temperature(PVC_U.law, None) is PVC_U.law


def test_each_plastic_has_its_own_warmth():
    other = dataclasses.replace(
        PVC_U, name="other", law=Linear(1.0e9), temperature_slope=-0.002, room=293.15
    )
    assert other.at_temperature(other.law, 303.15).initial_modulus == pytest.approx(0.98e9)


@pytest.mark.parametrize("temperature", [23.0, 283.0, 333.3, math.nan])
def test_temperature_outside_is_one_error(temperature):
    with pytest.raises(InputError, match=r"^temperature = .* between 283\.15 and 333\.15 K"):
        PVC_U.temperature_factor(temperature)


def test_the_spread_is_that_of_the_sources():
    # an even spread has its width over the root of twelve as standard deviation
    low, high = PVC_U.stiffness_range
    assert (low, high) == (2.5e9, 3.7e9)
    assert PVC_U.stiffness_deviation == pytest.approx(math.log(high / low) / math.sqrt(12.0))
    assert low < PVC_U.law.initial_modulus < high


def test_plastics_are_named():
    assert plastic("rigid PVC") is PVC_U
    assert all(name == each.name for name, each in PLASTICS.items())
    with pytest.raises(InputError, match=r"^plastic = 'steel': must be one of 'rigid PVC'"):
        plastic("steel")
