"""The smooth curve through a walk's states, beside scipy's (a general-purpose library)."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from bowfem.bow.spline import SmoothCurve


def test_is_the_complete_spline_of_scipy():
    x = np.cumsum(np.random.default_rng(3).uniform(0.5, 1.5, 12))
    y = np.sin(x) + x
    ours = SmoothCurve.through(x, y)
    other = CubicSpline(x, y, bc_type=((1, ours.slope[0]), (1, ours.slope[-1])))
    fine = np.linspace(x[0], x[-1], 400)
    np.testing.assert_allclose(ours.at(fine), other(fine), rtol=0, atol=1e-13)
    np.testing.assert_allclose(ours.slope_at(fine), other(fine, 1), rtol=0, atol=1e-12)
    whole = [other.integrate(x[0], b) for b in fine]
    np.testing.assert_allclose(ours.area(fine), whole, rtol=0, atol=1e-12)


@pytest.mark.parametrize("n", [2, 3, 4])
def test_few_points_give_the_polynomial_through_them(n):
    x = np.array([0.3, 0.5, 1.1, 1.2])[:n]
    poly = np.polynomial.Polynomial([2.0, -1.0, 0.5, 3.0][:n])
    fine = np.linspace(x[0], x[-1], 50)
    np.testing.assert_allclose(SmoothCurve.through(x, poly(x)).at(fine), poly(fine), atol=1e-13)


def test_converges_at_fourth_order():
    def error(n: int) -> float:
        x = np.linspace(0.0, 1.0, n + 1)
        fine = np.linspace(0.0, 1.0, 1000)
        return float(
            np.max(np.abs(SmoothCurve.through(x, np.exp(2 * x)).at(fine) - np.exp(2 * fine)))
        )

    errors = [error(n) for n in (10, 20, 40)]
    assert np.log2(errors[0] / errors[1]) > 3.8 and np.log2(errors[1] / errors[2]) > 3.8
