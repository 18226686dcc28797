"""Outlines against closed forms, elliptic integrals, an ODE solver and a finite-element library."""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import ellipe, ellipk

from bowfem.errors import InputError
from bowfem.section import Pipe, circle, ellipse, onset_thickness, pressed, racetrack

PIPE = Pipe(26.67e-3, 2.87e-3)
R = 0.5 * PIPE.mid_diameter
SHAPES = pytest.mark.parametrize("shape", [pressed, racetrack, ellipse])


def test_circle_is_the_annulus(cases):
    row = cases["09"]["circular_tube"]["value"]["mm_units"]
    tube = circle(Pipe(row["D"] * 1e-3, row["t"] * 1e-3))
    assert tube.area * 1e6 == pytest.approx(row["A"], rel=1e-12)
    assert tube.second_moment_weak * 1e12 == pytest.approx(row["I"], rel=1e-12)
    assert tube.second_moment_strong * 1e12 == pytest.approx(row["I"], rel=1e-12)
    assert tube.torsion_constant * 1e12 == pytest.approx(row["J"], rel=1e-12)


def test_racetrack_is_the_stadium(cases):
    # closed forms, 12 digits printed
    for row in cases["09"]["stadium_from_pipe"]["value"]:
        tube = racetrack(PIPE, row["height"] * 1e-3)
        got = (tube.width * 1e3, tube.area * 1e6, tube.second_moment_weak * 1e12)
        assert got == pytest.approx((row["width"], row["A"], row["I_weak"]), rel=2e-12)
        assert tube.second_moment_strong * 1e12 == pytest.approx(row["I_strong"], rel=2e-12)
        bredt = 4.0 * tube.enclosed_area**2 * tube.wall / tube.perimeter
        assert bredt * 1e12 == pytest.approx(row["J_bredt"], rel=2e-12)


def test_torsion_of_thick_stadium(cases):
    # Finite elements, fine mesh. The wall's curvature is kept to first order; the next term is of
    # order (t / 2r)^4: 0.001, 0.004 and 0.1 of the curved part, 2 per cent of the constant or less.
    for row in cases["09"]["stadium_J_fem"]["value"][:6]:
        tube = racetrack(PIPE, row["height"] * 1e-3)
        error = tube.torsion_constant * 1e12 / row["J"] - 1.0
        assert abs(error) < {20.0: 4e-4, 14.0: 7e-4, 8.0: 3e-3}[row["height"]]
        assert abs(error) < abs(row["J_bredt_plus_open"] / row["J"] - 1.0)


def test_ellipse_of_constant_wall(cases):
    for row in cases["09"]["elliptical_tube"]["value"]:
        pipe = Pipe(row["constwall_perimeter"] / math.pi + row["t"], row["t"])
        tube = ellipse(pipe, 2.0 * row["b_mid"] + row["t"])
        assert tube.width == pytest.approx(2.0 * row["a_mid"] + row["t"], rel=1e-11)
        assert tube.second_moment_weak == pytest.approx(row["constwall_I_weak"], rel=1e-11)
        assert tube.second_moment_strong == pytest.approx(row["constwall_I_strong"], rel=1e-11)


def test_pressed_is_the_ring_between_plates(cases):
    # quadrature and root find, 9 digits; one row by ODE to 1e-10
    for row in cases["09"]["ring_parallel_plates_table"]["value"]:
        tube = pressed(PIPE, 2.0 * R * (1.0 - row["flattening"]) + PIPE.wall)
        assert (tube.width - PIPE.wall) / (2.0 * R) == pytest.approx(
            row["width_over_2R"], abs=2e-12
        )
        side = tube.curvature > 0.0
        # curvature is a straight line over x: read it at the side and at the load line
        line = np.polyfit(tube.x[side & (tube.x > 0)], tube.curvature[side & (tube.x > 0)], 1)
        end, flat = 0.5 * (tube.width - PIPE.wall), 0.5 * row["flat_over_R"] * R
        assert np.polyval(line, end) * R == pytest.approx(row["curv_side"], rel=1e-8)
        assert np.polyval(line, flat) * R == pytest.approx(row["curv_load"], abs=1e-8)
        level = (tube.normal_x == 0.0) & (tube.y > 0.0)
        assert np.sum(tube.weights[level]) == pytest.approx(row["flat_over_R"] * R, abs=1e-9 * R)


def test_flats_begin_where_elliptic_integrals_say(cases):
    constants = cases["09"]["flat_plates_constants"]["value"]
    k, e = ellipk(0.5), ellipe(0.5)
    onset = (onset_thickness(PIPE) - PIPE.wall) / PIPE.mid_diameter
    assert onset == pytest.approx(math.pi * (2.0 * e - k) / (2.0 * k), rel=1e-13)
    assert onset == pytest.approx(constants["onset_H_over_2R"], rel=1e-12)
    tube = pressed(PIPE, onset_thickness(PIPE))
    assert (tube.width - PIPE.wall) / 2 / R == pytest.approx(
        constants["onset_width_over_2R"], rel=1e-12
    )


def test_gently_pressed_ring_widens_as_linear_theory():
    # ring under two opposite loads: widening / flattening = (2/pi - 1/2) / (pi/4 - 2/pi) (Roark, M)
    small = 1e-5
    tube = pressed(PIPE, PIPE.outer_diameter - 2.0 * R * small)
    ratio = (tube.width - PIPE.outer_diameter) / (2.0 * R * small)
    expected = (2.0 / math.pi - 0.5) / (math.pi / 4.0 - 2.0 / math.pi)
    assert ratio == pytest.approx(expected, rel=20.0 * small)


@pytest.mark.parametrize("thickness", [9e-3, 16e-3, 23e-3])
def test_pressed_moments_by_ode_and_finite_elements(thickness):
    # independent road: integrate the rod equation k' = f cos(psi), polygon, meshed section
    sections = pytest.importorskip("sectionproperties.analysis")
    geometry = pytest.importorskip("sectionproperties.pre")
    shapely = pytest.importorskip("shapely")
    tube = pressed(PIPE, thickness)
    side = (tube.curvature > 0.0) & (tube.x > 0) & (tube.y > 0)
    slope, at_centre = np.polyfit(tube.x[side], tube.curvature[side], 1)
    flat = np.sum(tube.weights[(tube.normal_x == 0.0) & (tube.y > 0)]) / 2.0
    length = tube.perimeter / 4.0 - flat
    path = solve_ivp(
        lambda s, q: (math.cos(q[2]), -math.sin(q[2]), q[3], slope * math.cos(q[2])),
        (0.0, length),
        (flat, 0.5 * (thickness - PIPE.wall), 0.0, at_centre + slope * flat),
        t_eval=np.linspace(0.0, length, 120),
        rtol=1e-11,
        atol=1e-14,
    ).y
    assert path[1, -1] == pytest.approx(0.0, abs=1e-9 * R)  # ends at mid-height, upright
    assert path[2, -1] == pytest.approx(math.pi / 2.0, abs=1e-8)

    def ring(offset):
        x, y = path[0] + offset * np.sin(path[2]), path[1] + offset * np.cos(path[2])
        half = np.concatenate([np.stack([x, y], 1), np.stack([x, -y], 1)[-2::-1]])
        half = half[: None if flat else -1]  # without flats the halves share their ends
        return 1e3 * np.concatenate([half, -half])

    wall = shapely.Polygon(ring(tube.wall / 2), [ring(-tube.wall / 2)])
    section = sections.Section(geometry.Geometry(wall).create_mesh(mesh_sizes=0.2))
    section.calculate_geometric_properties()
    section.calculate_warping_properties()
    area, (weak, strong, _), torsion = section.get_area(), section.get_ic(), section.get_j()
    # 119 chords inscribed in a quarter turn: sagitta over radius (pi/4/119)^2 / 2 = 2e-5
    assert tube.area * 1e12 == pytest.approx(area * 1e6, rel=1e-4)
    assert tube.second_moment_weak * 1e12 == pytest.approx(weak, rel=1e-4)
    assert tube.second_moment_strong * 1e12 == pytest.approx(strong, rel=1e-4)
    # curved wall to first order, as for the stadium
    assert tube.torsion_constant * 1e12 == pytest.approx(torsion, rel=4e-3)


def test_shear_area_of_thin_tube_is_half():
    # thin circular tube: 1/2 (Cowper 1966 at nu = 0, M); running integral is of fifth order
    tube = circle(PIPE)
    assert tube.shear_area / tube.area == pytest.approx(0.5, rel=1e-5)


def test_shear_area_of_thin_box_limit():
    # Closed racetrack by hand: half flats 2l, radius r; q = r s on the flat, then r l + r^2 sin(a)
    # from the flat's end; I = int y^2.  Simpson on 20001 points stands for the outside world.
    thickness = 12e-3
    tube = racetrack(PIPE, thickness)
    r = 0.5 * (thickness - PIPE.wall)
    flat = 0.25 * PIPE.mid_perimeter - 0.5 * math.pi * r
    turn = np.linspace(0.0, math.pi / 2.0, 20001)
    side = np.trapezoid((r * flat + r**2 * np.sin(turn)) ** 2, r * turn)
    flow = 4.0 * (r**2 * flat**3 / 3.0 + side)
    second = 4.0 * (flat * r**2 + math.pi / 4.0 * r**3)
    assert tube.shear_area == pytest.approx(PIPE.wall * second**2 / flow, rel=1e-4)


@SHAPES
def test_every_shape_ends_in_the_circle(shape):
    tube, full = shape(PIPE, PIPE.outer_diameter), circle(PIPE)
    for name in ("width", "thickness", "second_moment_weak", "torsion_constant"):
        assert getattr(tube, name) == pytest.approx(getattr(full, name), rel=1e-12)


@SHAPES
@pytest.mark.parametrize("share", [0.0, 0.2, 0.5, 0.8, 1.0])
def test_outline_closes_and_keeps_its_perimeter(shape, share):
    low, high = 2.0 * PIPE.wall, PIPE.outer_diameter
    tube = shape(PIPE, low + share * (high - low))
    assert tube.perimeter == pytest.approx(PIPE.mid_perimeter, rel=1e-9)
    # a closed curve turns once, and comes back to where it began
    assert tube.weights @ tube.curvature == pytest.approx(2.0 * math.pi, rel=1e-8)
    for normal in (tube.normal_x, tube.normal_y):
        assert tube.weights @ normal == pytest.approx(0.0, abs=1e-12)
    assert np.all(np.diff(tube.arc) >= 0.0) and np.all(np.diff(tube.angle) > -1e-12)
    assert 2.0 * tube.fibre == tube.thickness == pytest.approx(low + share * (high - low))


def test_tight_fold_is_called_creased():
    # flats: greatest curvature 2.39628 / mid height (case 09), against half the wall
    edge = 2.396280469471 * PIPE.wall / 2.0 + PIPE.wall
    assert pressed(PIPE, 0.97 * edge).creased
    assert not pressed(PIPE, 1.03 * edge).creased


def test_pressing_is_smooth_through_the_onset_of_flats():
    # slope of width over thickness from both sides, one-sided second-order differences
    at, h = onset_thickness(PIPE), 1e-6
    values = [pressed(PIPE, at + i * h).width for i in range(-2, 3)]
    below = (3.0 * values[2] - 4.0 * values[1] + values[0]) / (2.0 * h)
    above = (-3.0 * values[2] + 4.0 * values[3] - values[4]) / (2.0 * h)
    assert above == pytest.approx(below, rel=1e-5)


@SHAPES
@pytest.mark.parametrize("thickness", [5.7e-3, 26.7e-3, math.nan, "12 mm"])
def test_thickness_the_pipe_cannot_take_is_one_error(shape, thickness):
    with pytest.raises(
        InputError, match=r"^thickness = .*: must be between 0\.00574 and 0\.02667 m"
    ):
        shape(PIPE, thickness)
