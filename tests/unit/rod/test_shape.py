"""Natural shape, fields along the rod, tables; bad input."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import fresnel

from bowfem.errors import InputError
from bowfem.rod import Force, MomentTable, Rod, clamp, follow

NAN = float("nan")


def table(k: np.ndarray, m: np.ndarray, c: np.ndarray, n: int = 1) -> MomentTable:
    return MomentTable(*(np.broadcast_to(part, (n, 4, k.size)).copy() for part in (k, m, c)))


def test_straight():
    rod = Rod.straight(2.0, 5, EI=3.0, angle=np.pi / 6)
    assert rod.n_elements == 5 and rod.length == 2.0
    np.testing.assert_allclose(rod.position0[-1], [np.sqrt(3.0), 1.0], rtol=1e-15)
    np.testing.assert_array_equal(rod.EI, 3.0)
    np.testing.assert_array_equal(rod.stretch, 0.0)
    np.testing.assert_allclose(np.diff(rod.nodes), 0.4, rtol=1e-14)


@pytest.mark.parametrize("angle", [0.3, -2.0, 2 * np.pi])
def test_arc_is_a_circle(angle):
    # closed form; four Gauss points integrate cos to about (angle / n)^9
    rod = Rod.arc(3.0, angle, 16, EI=1.0, start=0.4)
    side = np.sign(angle)
    turn = rod.nodes / 3.0 * side
    exact = (
        3.0
        * side
        * np.stack([np.sin(0.4 + turn) - np.sin(0.4), np.cos(0.4) - np.cos(0.4 + turn)], axis=-1)
    )
    np.testing.assert_allclose(rod.position0, exact, atol=1e-10)
    assert rod.length == pytest.approx(3.0 * abs(angle), rel=1e-15)
    np.testing.assert_allclose(rod.curvature0, side / 3.0)


def test_clothoid_converges_at_the_order_of_gauss():
    # curvature proportional to arc length: Fresnel integrals (scipy), x = int cos(pi t^2 / 2)
    exact = np.array(fresnel(2.0)[::-1])
    counts = np.array([4, 6, 8, 12])
    errors = [
        np.hypot(
            *(
                Rod.from_curvature(
                    np.linspace(0.0, 2.0, n + 1), EI=1.0, curvature0=lambda s: np.pi * s
                ).position0[-1]
                - exact
            )
        )
        for n in counts
    ]
    slope, _ = np.polyfit(np.log(counts), np.log(errors), 1)
    assert errors[-1] < 1e-8
    assert -slope > 7.5  # 2 x 4 Gauss points


def test_polyline_keeps_its_corners():
    corners = np.array([[1.0, 2.0], [1.0, 5.0], [5.0, 5.0], [5.0, 4.0]])
    rod = Rod.polyline(corners, 3, EI=1.0)
    np.testing.assert_allclose(rod.position0[::3], corners, atol=1e-14)
    assert rod.length == pytest.approx(8.0)
    np.testing.assert_allclose(np.diff(rod.nodes), np.repeat([1.0, 4 / 3, 1 / 3], 3))


def test_kinks_turn_the_tangent():
    rod = Rod.from_curvature([0.0, 1.0, 2.0], EI=1.0, kinks={1: np.pi / 2})
    np.testing.assert_allclose(rod.position0[-1], [1.0, 1.0], atol=1e-15)


def test_surface_of_an_arc_is_a_concentric_arc():
    rod = Rod.from_curvature(np.linspace(0.0, 2.0, 9), EI=1.0, curvature0=0.5, belly=0.25)
    radii = np.hypot(*(rod.surface0 - [0.0, 2.0]).T)  # about the centre of curvature
    np.testing.assert_allclose(radii, 1.75, rtol=1e-10)  # quadrature of the axis
    assert rod.surface0.shape == (4 * 8 + 1, 2)
    assert rod.end_belly == pytest.approx(0.25)


def test_surface_slope_of_a_taper():
    rod = Rod.from_curvature([0.0, 0.3, 1.0], EI=1.0, belly=lambda s: 0.02 - 0.01 * s)
    np.testing.assert_allclose(rod.belly_slope, -0.01, rtol=1e-11)
    assert rod.end_belly == pytest.approx(0.01, rel=1e-12)


def test_fields_as_number_function_and_array_are_one():
    nodes = np.linspace(0.0, 1.0, 4)
    plain = Rod.from_curvature(nodes, EI=2.0)
    called = Rod.from_curvature(nodes, EI=lambda s: 2.0 + 0.0 * s)
    given = Rod.from_curvature(nodes, EI=np.full((3, 4), 2.0))
    np.testing.assert_array_equal(plain.EI, called.EI)
    np.testing.assert_array_equal(plain.EI, given.EI)
    np.testing.assert_allclose(Rod.straight(1.0, 3, EI=1.0, EA=4.0, GA=8.0).stretch, 0.25)


def test_energy_of_a_table_is_the_area_under_it():
    # M = tanh(k): energy ln cosh k; the cell's quadrature is of order 4
    errors = []
    for n in (21, 41):
        k = np.linspace(-2.0, 2.0, n)
        found = table(k, np.tanh(k), 1 / np.cosh(k) ** 2).energy[0, 0]
        errors.append(np.max(np.abs(found - np.log(np.cosh(k)))))
        assert found[n // 2] == 0.0
    assert quad(np.tanh, 0.0, 2.0)[0] == pytest.approx(np.log(np.cosh(2.0)), rel=1e-12)
    assert errors[1] < 1e-6
    assert np.log2(errors[0] / errors[1]) > 3.8


def test_table_gives_its_stiffness_at_rest():
    k = np.linspace(-1.0, 1.0, 5)
    rod = Rod.straight(1.0, 2, EI=9.0).with_table(table(k, 3 * k, np.full(5, 3.0), 2))
    np.testing.assert_array_equal(rod.EI, 3.0)


K3 = np.array([-1.0, 0.0, 1.0])
BAD = {
    "nodes": [
        lambda: Rod.from_curvature([0.0, NAN, 1.0], EI=1.0),
        lambda: Rod.from_curvature([0.0, 1.0, np.inf], EI=1.0),
        lambda: Rod.from_curvature([0.0, 1.0, 1.0], EI=1.0),
        lambda: Rod.from_curvature([0.1, 1.0], EI=1.0),
        lambda: Rod.from_curvature([0.0], EI=1.0),
        lambda: Rod.from_curvature([[0.0, 1.0]], EI=1.0),
        lambda: Rod.from_curvature([[0.0, 1.0], [2.0]], EI=1.0),  # type: ignore
    ],
    "EI": [
        lambda: Rod.straight(1.0, 2, EI=NAN),
        lambda: Rod.straight(1.0, 2, EI=-1.0),
        lambda: Rod.straight(1.0, 2, EI=0.0),
        lambda: Rod.straight(1.0, 2, EI=np.inf),
        lambda: Rod.straight(1.0, 2, EI=np.ones(3)),
        lambda: Rod.straight(1.0, 2, EI="stiff"),
        lambda: Rod.straight(1.0, 2, EI=lambda s: 1.0 - 1.2 * s),
    ],
    "EA": [lambda: Rod.straight(1.0, 2, EI=1.0, EA=-1.0)],
    "GA": [lambda: Rod.straight(1.0, 2, EI=1.0, GA=NAN)],
    "curvature0": [lambda: Rod.from_curvature([0, 1], EI=1.0, curvature0=np.inf)],
    "belly": [lambda: Rod.from_curvature([0, 1], EI=1.0, belly=NAN)],
    "origin": [
        lambda: Rod.from_curvature([0, 1], EI=1.0, origin=(NAN, 0.0)),
        lambda: Rod.from_curvature([0, 1], EI=1.0, origin=(0.0, 0.0, 0.0)),  # type: ignore
    ],
    "angle": [
        lambda: Rod.straight(1.0, 2, EI=1.0, angle=NAN),
        lambda: Rod.arc(1.0, 0.0, 2, EI=1.0),
        lambda: Rod.arc(1.0, NAN, 2, EI=1.0),
    ],
    "kinks": [
        lambda: Rod.from_curvature([0, 1], EI=1.0, kinks={5: 1.0}),
        lambda: Rod.from_curvature([0, 1], EI=1.0, kinks={1: NAN}),
    ],
    "length": [
        lambda: Rod.straight(NAN, 2, EI=1.0),
        lambda: Rod.straight(-1.0, 2, EI=1.0),
        lambda: Rod.straight([1.0, 2.0], 2, EI=1.0),  # type: ignore
        lambda: Rod.straight("long", 2, EI=1.0),  # type: ignore
    ],
    "n_elements": [
        lambda: Rod.straight(1.0, 0, EI=1.0),
        lambda: Rod.straight(1.0, 2.5, EI=1.0),  # type: ignore
        lambda: Rod.arc(1.0, 1.0, True, EI=1.0),
    ],
    "radius": [lambda: Rod.arc(-1.0, 1.0, 2, EI=1.0)],
    "corners": [
        lambda: Rod.polyline([[0.0, 0.0, 0.0]], 2, EI=1.0),
        lambda: Rod.polyline([[0.0, 0.0], [0.0, 0.0]], 2, EI=1.0),
        lambda: Rod.polyline([[0.0, 0.0], [NAN, 0.0]], 2, EI=1.0),
    ],
    "table": [
        lambda: MomentTable(np.ones(3), np.ones(3), np.ones(3)),
        lambda: MomentTable([1.0], [1.0], [1.0]),  # type: ignore
        lambda: MomentTable(np.ones((1, 4, 3)), np.ones((1, 4, 5)), np.ones((1, 4, 3))),
        lambda: table(K3, np.full(3, NAN), np.ones(3)),
        lambda: table(-K3, K3, np.ones(3)),
        lambda: Rod.straight(1.0, 2, EI=1.0).with_table(table(K3, K3, np.ones(3), 3)),
    ],
    "table.curvature": [
        lambda: table(np.array([-1.0, 0.1, 1.0]), K3, np.ones(3)),
        lambda: table(np.linspace(-1.0, 1.0, 4), np.ones(4), np.ones(4)),
    ],
    "table.tangent": [
        lambda: Rod.straight(1.0, 1, EI=1.0).with_table(table(K3, -K3, -np.ones(3))),
    ],
}


@pytest.mark.parametrize(("key", "call"), [(k, call) for k, calls in BAD.items() for call in calls])
def test_bad_input_is_one_error(key, call):
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.key == key
    assert "must be" in str(caught.value) and caught.value.allowed


def test_a_law_from_points_carries_a_measured_curve():
    # points of tanh: the curve goes through them, odd, and bends a cantilever as its law would
    k = np.linspace(0.0, 3.0, 25)
    law = MomentTable.from_points(k, np.tanh(k), n_elements=4)
    for sign in (1.0, -1.0):
        np.testing.assert_allclose(
            law.moment_at(sign * np.full((4, 4), 1.5))[0], sign * np.tanh(1.5), rtol=1e-3
        )
    np.testing.assert_allclose(law.bending_at(np.full((4, 4), np.tanh(0.7))), 0.7, rtol=2e-3)
    rod = Rod.straight(1.0, 4, EI=1.0).with_table(law)
    end = follow(rod, [clamp(0)], [Force(couple=float(np.tanh(0.7)))])
    assert end.turn[-1, -1] == pytest.approx(0.7, rel=2e-3)  # M is the same all along
    both = MomentTable.from_points([-2.0, -1.0, 0.0, 1.0, 2.0], [-2.0, -1.2, 0.0, 1.0, 1.5], 1)
    assert both.moment_at(np.full((1, 4), -1.0))[0][0, 0] == pytest.approx(-1.2, rel=1e-6)


@pytest.mark.parametrize(
    ("k", "m"),
    [
        ([0.0, 1.0], [0.0, 1.0]),
        ([0.0, 1.0, 2.0], [0.0, 1.0, 0.9]),
        ([0.0, 1.0, 1.0], [0.0, 1.0, 2.0]),
        ([0.0, 1.0, 2.0], [0.1, 1.0, 2.0]),
        ([0.0, 1.0, np.nan], [0.0, 1.0, 2.0]),
    ],
)
def test_a_law_from_points_that_make_none(k, m):
    with pytest.raises(InputError):
        MomentTable.from_points(k, m, 2)
