"""Stress-strain laws against their defining equations and general-purpose libraries."""

# Wrong types are passed on purpose.
# pyright: reportArgumentType=false

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from bowfem.errors import InputError
from bowfem.section import (
    PROVENANCE,
    RIGID_PVC,
    Linear,
    RambergOsgood,
    Saturating,
    Tabulated,
)

TEST_STRAINS = (-0.05, -0.03, -0.01, 0.008, 0.015, 0.025, 0.035)
TEST_STRESSES = (-64e6, -55e6, -28e6, 22e6, 36e6, 47e6, 50e6)
LAWS = {
    "linear": Linear(2.9e9),
    "saturating": Saturating(2.9e9, 51.4e6, 66.2e6),
    "power": RIGID_PVC,
    "steep power": RambergOsgood(2.5e9, 40e6, 0.002, 30.0),
    "table": Tabulated(TEST_STRAINS, TEST_STRESSES),
    "tension table": Tabulated((0.0, 0.01, 0.02, 0.03), (0.0, 27e6, 43e6, 50e6)),
}
EACH = pytest.mark.parametrize("law", LAWS.values(), ids=LAWS)
STRAIN = np.linspace(-0.08, 0.08, 801)


@EACH
def test_tangent_is_the_slope_of_stress(law):
    # central difference: error h^2 s'''/6 plus kinks of the second derivative, h |s''| / 4
    h = 1e-7
    slope = (law.stress(STRAIN + h) - law.stress(STRAIN - h)) / (2.0 * h)
    np.testing.assert_allclose(law.tangent(STRAIN), slope, atol=5e-6 * law.initial_modulus)


@EACH
@pytest.mark.parametrize("strain", [-0.07, -0.02, 0.003, 0.031, 0.07])
def test_energy_is_the_area_under_the_curve(law, strain):
    knots = [s for s in (*TEST_STRAINS, 0.01, 0.02, 0.03) if min(0, strain) < s < max(0, strain)]
    area, _ = quad(law.stress, 0.0, strain, points=knots or None, epsabs=0.0, epsrel=1e-11)
    assert float(law.energy(strain)) == pytest.approx(area, rel=1e-9)


@EACH
def test_small_strain_energy_keeps_its_digits(law):
    # quadratic law at rest: half the modulus times strain squared; next term of order strain
    assert float(law.energy(1e-9)) == pytest.approx(0.5e-18 * law.initial_modulus, rel=1e-6)


@EACH
def test_shape_is_kept_and_rest_is_rest(law):
    assert law.stress(np.zeros((2, 3))).shape == law.tangent(np.zeros((2, 3))).shape == (2, 3)
    assert float(law.stress(0.0)) == 0.0 == float(law.energy(0.0))


@pytest.mark.parametrize("strain", [1e-12, 1e-4, 0.01, 0.03, 0.08, 0.5, 3.0, 40.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("exponent", [1.3, 5.5, 60.0])
def test_power_law_solves_its_equation(strain, sign, exponent):
    # strain = s/E + 0.014 (s/52 MPa)^n, compression reference 66.2/51.4 higher; root by brentq
    reference = 52e6 * (1.0 if sign > 0 else 66.2 / 51.4)

    def residual(s):
        return s / 2.9e9 + 0.014 * (s / reference) ** exponent - strain

    root = brentq(residual, 0.0, 2.9e9 * strain, xtol=1e-30, rtol=1e-15, maxiter=1000)
    law = replace(RIGID_PVC, exponent=exponent)
    assert float(law.stress(sign * strain)) == pytest.approx(sign * root, rel=1e-13)


def test_saturating_law_levels_off_at_each_yield():
    law = LAWS["saturating"]
    assert law.stress([-0.5, 0.5]) == pytest.approx([-66.2e6, 51.4e6], rel=1e-12)
    assert float(law.stress(law.yield_strain_tension)) == pytest.approx(0.95 * 51.4e6)
    assert float(law.energy(2.0)) == pytest.approx(
        51.4e6 * 2.0 - math.log(2.0) * 51.4e6**2 / 2.9e9, rel=1e-12
    )


def test_table_is_the_monotone_cubic_of_scipy():
    # same published construction (Fritsch and Butland 1984), independent code
    law = LAWS["table"]
    x, y = np.array(TEST_STRAINS), np.array(TEST_STRESSES)
    other = PchipInterpolator(np.insert(x, 3, 0.0), np.insert(y, 3, 0.0))
    inside = np.linspace(x[0], x[-1], 500)
    np.testing.assert_allclose(law.stress(inside), other(inside), rtol=1e-12, atol=1e-3)
    np.testing.assert_allclose(law.stress(x), y, rtol=1e-14)


def test_table_runs_on_with_its_last_slope():
    law = LAWS["table"]
    last = float(law.tangent(0.035))
    assert float(law.stress(0.045)) == pytest.approx(50e6 + 0.010 * last, rel=1e-12)
    assert (law.limit_strain, law.yield_strain_compression) == (0.035, 0.05)
    assert (law.yield_tension, law.yield_compression) == (50e6, 64e6)


def test_tension_table_is_mirrored():
    law = LAWS["tension table"]
    np.testing.assert_allclose(law.stress(-STRAIN), -law.stress(STRAIN), rtol=1e-13, atol=1e-6)


def test_rigid_pvc_yields_where_published():
    # yield 51.4 / 66.2 MPa (S); yield strain in tension about 3 % (2.5-4) (M)
    assert (RIGID_PVC.yield_tension, RIGID_PVC.yield_compression) == pytest.approx((51.4e6, 66.2e6))
    assert 0.025 < RIGID_PVC.yield_strain_tension < 0.04
    # shear modulus 1.03 GPa (D: 2.9 / 2.8)
    assert RIGID_PVC.shear_modulus == pytest.approx(1.03e9, abs=0.01e9)


def test_every_default_figure_says_where_it_is_from():
    law = RIGID_PVC
    for key in (
        "modulus",
        "reference_stress",
        "offset_strain",
        "exponent",
        "compression_ratio",
        "yield_tension",
        "poisson",
        "density",
    ):
        figure = PROVENANCE[key]
        assert getattr(law, key) == figure.value
        assert figure.status in "SMDC"
        assert figure.source


@pytest.mark.parametrize(
    ("make", "key"),
    [
        (lambda: Linear(0.0), "modulus"),
        (lambda: Saturating(2.9e9, -1.0, 66e6), "yield_tension"),
        (lambda: RambergOsgood(2.9e9, 52e6, 0.014, 1.0), "exponent"),
        (lambda: RambergOsgood(2.9e9, 52e6, 0.0, 5.0), "offset_strain"),
        (lambda: Linear(2.9e9, poisson=0.6), "poisson"),
        (lambda: Linear(2.9e9, density=math.inf), "density"),
        (lambda: Tabulated((0.01,), (2e7,)), "strains"),
        (lambda: Tabulated((0.02, 0.01), (2e7, 3e7)), "strains"),
        (lambda: Tabulated((0.01, 0.02), (3e7, 2e7)), "stresses"),
        (lambda: Tabulated((0.01, 0.02), (3e7,)), "stresses"),
        (lambda: Tabulated((-0.01, 0.01, 0.02), (1e6, 2e7, 3e7)), "stresses"),
        (lambda: Tabulated((0.01, math.nan), (2e7, 3e7)), "strains"),
        (lambda: Tabulated((0.0, 0.01, 0.02), (1e6, 2e7, 3e7)), "stresses"),
        (lambda: Tabulated("ab", (2e7, 3e7)), "strains"),
    ],
)
def test_impossible_law_is_one_error(make, key):
    with pytest.raises(InputError, match=rf"^{key} = "):
        make()


def test_laws_are_values():
    assert hash(LAWS["table"]) == hash(Tabulated(list(TEST_STRAINS), np.array(TEST_STRESSES)))
    assert LAWS["table"] == Tabulated(list(TEST_STRAINS), np.array(TEST_STRESSES))
