"""Pressing the hot pipe: standards, closed forms, and the outlines made from them."""

import math

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from benchmarks.pressing import press
from bowfem.errors import InputError
from bowfem.section import Pipe, onset_thickness, pressed

PIPE = Pipe(26.67e-3, 2.87e-3)
RADIUS = 0.5 * PIPE.mid_diameter


def thickness(flattening):
    return PIPE.wall + 2.0 * RADIUS * (1.0 - np.asarray(flattening))


def test_first_stiffness_is_the_ring_of_the_pipe_standard(cases):
    # ring under opposite loads (Roark, M): delta = (pi/4 - 2/pi) F R^3 / EI; ASTM D2412 rounds the
    # factor to 0.149. Two small steps, extrapolated: the force is not linear in the next order.
    small = cases["09"]["ring_small_load"]["value"]
    share = np.array([1e-4, 2e-4])
    found = press(PIPE, thickness(share))
    factor = 2.0 * share / found.force
    wide = ((found.width - PIPE.wall) / RADIUS - 2.0) / found.force
    assert 2.0 * factor[0] - factor[1] == pytest.approx(float(small["vertical"]), rel=1e-7)
    assert 2.0 * wide[0] - wide[1] == pytest.approx(float(small["horizontal"]), rel=1e-6)
    assert math.pi / 4.0 - 2.0 / math.pi == pytest.approx(0.149, abs=5e-4)
    # moments at load and side, over F R
    under, side = (found.curvature * RADIUS - 1.0).T / found.force
    loads = [float(small[f"moment_at_{at}_FR"]) for at in ("load", "side")]
    assert -(2.0 * under[0] - under[1]) == pytest.approx(loads[0], rel=1e-6)
    assert 2.0 * side[0] - side[1] == pytest.approx(loads[1], rel=1e-6)


def test_flats_begin_where_elliptic_integrals_say(cases):
    known = {k: float(v) for k, v in cases["09"]["flat_plates_constants"]["value"].items()}
    at = known["onset_flattening"]
    before, after = press(PIPE, thickness([at - 1e-6, at + 1e-6])).flat
    assert before == 0.0 < after < 1e-4 * RADIUS
    onset = press(PIPE, thickness([at]))
    assert onset.force[0] == pytest.approx(known["onset_F_R2_EI"], rel=1e-9)
    assert onset.curvature[0, 0] * RADIUS == pytest.approx(0.0, abs=1e-8)
    assert thickness(at) == pytest.approx(onset_thickness(PIPE), rel=1e-11)


def test_flattened_ring_is_the_rectangular_elastica(cases):
    # F = 5.742 EI / H^2 on flats, side curvature 2.396 / H, down to touching walls
    known = {k: float(v) for k, v in cases["09"]["flat_plates_constants"]["value"].items()}
    h = np.array([18e-3, 12e-3, 7e-3, 2.0 * PIPE.wall])
    found = press(PIPE, h)
    height = (h - PIPE.wall) / RADIUS
    np.testing.assert_allclose(found.force * height**2, known["F_H2_over_EI"], rtol=1e-9)
    np.testing.assert_allclose(
        found.curvature[:, 1] * RADIUS * height, known["max_curvature_times_H"], rtol=1e-9
    )


@pytest.mark.parametrize("h", [25e-3, 20.5e-3, 19e-3, 9e-3, 2.0 * PIPE.wall])
def test_outline_in_closed_form_is_the_one_found_here(h):
    found, outline = press(PIPE, [h], 16), pressed(PIPE, h)
    assert found.width[0] == pytest.approx(outline.width, rel=1e-10)
    # same place at the same length along the wall: a spline through 4 Gauss points of each of 16
    # elements, read at the outline's own points; a spline's error is a share h^4 of the radius
    node = 0.5 * (np.polynomial.legendre.leggauss(4)[0] + 1.0)
    length = 0.25 * PIPE.mid_perimeter - 0.5 * found.flat[0]
    arc = (np.arange(16)[:, None] + node).ravel() / 16.0 * length
    inside = (outline.arc > arc[0]) & (outline.arc < arc[-1])
    assert np.count_nonzero(inside) > 8
    for solved, closed in ((found.x[0], outline.x), (found.y[0], outline.y)):
        read = CubicSpline(arc, solved)(outline.arc[inside])
        np.testing.assert_allclose(read, closed[inside], atol=1e-6 * RADIUS)


@pytest.mark.parametrize("share", [0.2, 0.4, 0.6])
def test_newton_is_quadratic(share):
    # pressed in one go, with lines of contact and with flats: with one factor, each residual is
    # about the square of the one before
    history = press(PIPE, thickness([share])).residual[0]
    assert len(history) <= 8
    small = history[history < 0.05]
    assert len(small) >= 3
    assert np.all(small[1:] < 10.0 * small[:-1] ** 2 + 1e-13)


def test_order_of_the_thicknesses_does_not_matter():
    one = press(PIPE, [12e-3, 24e-3, 12e-3])
    two = press(PIPE, [24e-3, 12e-3])
    assert one.force[0] == one.force[2]
    np.testing.assert_allclose(one.force[[1, 0]], two.force, rtol=1e-10)
    assert press(PIPE, PIPE.outer_diameter).force[0] == 0.0


@pytest.mark.parametrize(
    ("h", "key"), [([5e-3], "thickness"), ([27e-3], "thickness"), ([[9e-3]], "thicknesses")]
)
def test_wrong_thickness_is_one_error(h, key):
    with pytest.raises(InputError, match=rf"^{key} = "):
        press(PIPE, h)
