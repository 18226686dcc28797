"""Supports and loads against beam formulas, rings and buckling loads; bad input.

Formulas of small deflection: Young, Budynas, Roark's Formulas (from memory), each rechecked here by
statics or integration. Small loads: what is left of the nonlinearity is the load squared.
"""

from typing import Any

import numpy as np
import pytest

from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import (
    Force,
    LineLoad,
    MomentTable,
    Pressure,
    Rod,
    Settings,
    Spring,
    Stop,
    Support,
    clamp,
    follow,
    guide,
    pin,
)

NAN = float("nan")
WRONG: Any = 1.5
SHORT: Any = (0.0, 0.0)
SMALL = 1e-5
BEAM = Rod.straight(2.0, 4, EI=3.0)  # L = 2 m, EI = 3 N m2
#: Both ends held along it, a straight rod must be able to stretch.
STRETCHY = Rod.straight(2.0, 4, EI=3.0, EA=1e3)


def test_cantilever_under_each_load():
    P, L, EI = SMALL, 2.0, 3.0
    tip = follow(BEAM, [clamp(0)], [Force(y=P)]).tip[0, 1]
    assert tip == pytest.approx(P * L**3 / (3 * EI), rel=1e-8)
    tip = follow(BEAM, [clamp(0)], [LineLoad(y=P)]).tip[0, 1]
    assert tip == pytest.approx(P * L**4 / (8 * EI), rel=1e-8)
    tip = follow(BEAM, [clamp(0)], [LineLoad(y=lambda s: P * s / L)]).tip[0, 1]
    assert tip == pytest.approx(11 * P * L**4 / (120 * EI), rel=1e-8)
    tip = follow(BEAM, [clamp(0)], [Pressure(P)]).tip[0, 1]
    assert tip == pytest.approx(P * L**4 / (8 * EI), rel=1e-8)
    tip = follow(BEAM, [clamp(0)], [Force(node=2, couple=P)]).tip[0, 1]
    assert tip == pytest.approx(P * (L / 2) * (L - L / 4) / EI, rel=1e-8)


def test_propped_cantilever():
    # uniform load q: reaction at the prop 3 q L / 8, at the clamp 5 q L / 8 and q L^2 / 8
    q, L = SMALL, 2.0
    slide = Support(-1, ("y",))
    react = follow(BEAM, [clamp(0), slide], [LineLoad(y=-q)]).reaction[0]
    assert react[-1, 1] == pytest.approx(3 * q * L / 8, rel=1e-8)
    assert react[0, 1:] == pytest.approx([5 * q * L / 8, q * L**2 / 8], rel=1e-8)
    assert np.all(react[1:-1] == pytest.approx(0.0, abs=1e-12 * q))


def test_pinned_and_guided_beam():
    P, L, EI = SMALL, 2.0, 3.0
    simple = follow(BEAM, [pin(0), Support(-1, ("y",))], [Force(node=2, y=-P)])
    assert simple.nodes[0, 2, 1] == pytest.approx(-P * L**3 / (48 * EI), rel=1e-8)
    assert simple.turn[0, 0] == pytest.approx(-P * L**2 / (16 * EI), rel=1e-8)
    # a guide that slides across: half of a beam clamped at both ends, of length 2 L
    guided = follow(STRETCHY, [clamp(0), guide(-1, along="y")], [Force(y=-P)])
    assert guided.tip[0, 1] == pytest.approx(-P * L**3 / (12 * EI), rel=1e-8)
    assert guided.turn[0, -1] == pytest.approx(0.0, abs=1e-15)
    assert guided.reaction[0, -1, 1] == pytest.approx(0.0, abs=1e-9 * P)
    along = follow(STRETCHY, [pin(0), guide(-1, along="x")], [Force(node=2, y=-P, x=P)])
    assert along.tip[0, 0] == pytest.approx(2.0 + P * (L / 2) / 1e3, rel=1e-12)
    assert along.tip[0, 1] == pytest.approx(0.0, abs=1e-15)
    assert along.turn[0, -1] == pytest.approx(0.0, abs=1e-15)


def test_springs():
    P, L, EI = SMALL, 2.0, 3.0
    on_spring = follow(BEAM, [clamp(0), Spring(-1, y=5.0)], [Force(y=P)]).tip[0, 1]
    assert on_spring == pytest.approx(P / (3 * EI / L**3 + 5.0), rel=1e-8)
    hinge = follow(BEAM, [pin(0), Spring(0, turn=7.0)], [Force(y=P)]).tip[0, 1]
    assert hinge == pytest.approx(P * L**2 / 7.0 + P * L**3 / (3 * EI), rel=1e-8)
    held = follow(BEAM, [Support(0, ("y", "turn")), Spring(0, x=4.0)], [Force(x=P)])
    assert held.nodes[0, 0, 0] == pytest.approx(P / 4.0, rel=1e-9)
    assert held.reaction[0, 0, 0] == pytest.approx(0.0, abs=1e-9 * P)


def test_prescribed_displacement():
    # a clamped beam whose far clamp settles by d: shear 12 EI d / L^3, moments 6 EI d / L^2
    d, L, EI = 1e-5, 2.0, 3.0
    settle = Support(-1, ("y", "turn"), moved=(0.0, d, 0.0))
    path = follow(BEAM, [clamp(0), settle], factors=[0.5, 1.0])
    np.testing.assert_allclose(path.tip[:, 1], [d / 2, d], rtol=1e-14)
    assert path.reaction[1, -1, 1] == pytest.approx(12 * EI * d / L**3, rel=1e-8)
    assert path.reaction[1, 0, 2] == pytest.approx(-6 * EI * d / L**2, rel=1e-8)
    turned = Support(0, ("x", "y", "turn"), moved=(0.0, 0.0, d))
    path = follow(BEAM, [turned, Support(-1, ("y",))])  # 3 EI / L per turn, carry-over none
    assert path.reaction[0, 0, 2] == pytest.approx(3 * EI * d / L, rel=1e-8)


def test_large_imposed_turn_carries_the_rod_along():
    path = follow(BEAM, [Support(0, ("x", "y", "turn"), moved=(0.3, -0.2, 2.0))])
    expected = [0.3 + 2 * np.cos(2.0), -0.2 + 2 * np.sin(2.0)]
    assert path.tip[0] == pytest.approx(expected, rel=1e-9)
    assert path.energy[0, 0] == pytest.approx(0.0, abs=1e-12)


def test_constant_loads_do_not_scale():
    base = follow(BEAM, [clamp(0)], [Force(y=0.5, constant=True), Force(y=0.25)], [2.0])
    plain = follow(BEAM, [clamp(0)], [Force(y=1.0)])
    np.testing.assert_allclose(base.tip, plain.tip, rtol=1e-12)
    parts = [
        LineLoad(y=0.3, constant=True),
        LineLoad(y=0.1),
        Pressure(0.2, constant=True),
        Pressure(0.05),
    ]
    both = follow(BEAM, [clamp(0)], parts, [2.0])
    once = follow(BEAM, [clamp(0)], [LineLoad(y=0.5), Pressure(0.3)])
    np.testing.assert_allclose(both.tip, once.tip, rtol=1e-12)


def test_loads_on_one_node_add():
    two = follow(BEAM, [clamp(0)], [Force(y=0.4), Force(node=4, y=0.2, x=0.1)])
    one = follow(BEAM, [clamp(0)], [Force(x=0.1, y=0.6)])
    np.testing.assert_allclose(two.tip, one.tip, rtol=1e-13)


def test_follower_force_turns_with_its_node():
    path = follow(BEAM, [clamp(0)], [Force(y=3.0, follower=True)])
    turn = path.turn[0, -1]
    assert turn > 1.0
    # statics: the clamp carries the force in its turned direction
    expected = [3.0 * np.sin(turn), -3.0 * np.cos(turn)]
    np.testing.assert_allclose(path.reaction[0, 0, :2], expected, rtol=1e-7)


def test_reactions_balance_all_loads():
    loads = [Force(node=2, x=0.3, y=-0.8, couple=0.2), LineLoad(x=0.1, y=-0.4), Pressure(0.6)]
    path = follow(BEAM, [clamp(0), Support(-1, ("y",))], loads, settings=Settings(tolerance=1e-13))
    # pressure on a line from A to B acts as p times the chord, turned left
    chord = path.nodes[0, -1] - path.nodes[0, 0]
    force = np.array([0.3 + 0.1 * 2, -0.8 - 0.4 * 2]) + 0.6 * np.array([-chord[1], chord[0]])
    assert path.reaction[0, :, :2].sum(axis=0) == pytest.approx(-force, rel=1e-11)


def test_ring_under_pressure():
    # closed inextensible ring: N = -p R, no bending; the pressure acts to the left, inward
    errors = []
    for n in (8, 16):
        ring = Rod.arc(0.5, 2 * np.pi, n, EI=1.0)
        path = follow(ring, [clamp(0), clamp(-1)], [Pressure(2.0)])
        errors.append(np.max(np.abs(path.axial[0] + 1.0)))
        np.testing.assert_allclose(path.moment[0], 0.0, atol=10 * errors[-1])
    assert errors[1] < 1e-7
    assert np.log2(errors[0] / errors[1]) > 4.0


@pytest.mark.parametrize(
    ("supports", "factor"),
    [
        ([clamp(0)], 0.25),  # Euler: F = factor pi^2 EI / L^2
        ([pin(0), Support(-1, ("y",))], 1.0),
        ([clamp(0), Support(-1, ("y", "turn"))], 4.0),
        ([clamp(0), Support(-1, ("turn",))], 1.0),
        ([clamp(0), Support(-1, ("y",))], 2.0457),  # tan x = x: (4.493409 / pi)^2
    ],
)
def test_tangent_changes_sign_at_the_buckling_load(supports, factor):
    # stretch of 1e-5 changes the load by that much
    rod = Rod.straight(2.0, 4, EI=3.0, EA=1e6)
    push = [Force(x=-factor * np.pi**2 * 3.0 / 4.0)]
    below, above = (follow(rod, supports, push, [f]).sign for f in (0.9995, 1.0005))
    assert below == -above != 0


def test_spring_lifts_the_buckling_load():
    # pinned root on a rotational spring c, free tip: x tan x = c L / EI with x = L sqrt(F / EI)
    x = 0.8603335890193798  # x tan x = 1
    supports = [pin(0), Spring(0, turn=1.5)]
    rod = Rod.straight(2.0, 4, EI=3.0, EA=1e6)
    load = [Force(x=-(x**2) * 3.0 / 4.0)]
    assert x * np.tan(x) == pytest.approx(1.0, rel=1e-12)
    below, above = (follow(rod, supports, load, [f]).sign for f in (0.999, 1.001))
    assert below == -above != 0


def test_loose_rod_is_reported():
    with pytest.raises(ConvergenceError, match="add a support") as caught:
        follow(BEAM, [], [Force(y=1.0)])
    path: Any = caught.value.status
    assert path.stop is Stop.SINGULAR and len(path) == 0


@pytest.mark.parametrize("supports", [[pin(0)], [Support(0, ("turn",))], [Support(0, ("x", "y"))]])
def test_mechanism_gives_no_state(supports):
    path = follow(BEAM, supports, [Force(y=1.0, couple=1.0)], strict=False)
    assert path.stop in (Stop.SINGULAR, Stop.NO_CONVERGENCE)
    assert len(path) == 0 and path.tip.shape == (0, 2)


BAD = {
    "node": [
        ([clamp(9)], []),
        ([clamp(WRONG)], []),
        ([clamp(True)], []),
        ([clamp(0), pin(-6)], []),
        ([clamp(0)], [Force(node=5)]),
        ([clamp(0), Spring(17)], []),
    ],
    "holds": [([Support(0, (WRONG,))], [])],
    "moved": [([Support(0, ("x",), (NAN, 0.0, 0.0))], []), ([Support(0, ("x",), SHORT)], [])],
    "spring": [
        ([clamp(0), Spring(1, y=-1.0)], []),
        ([clamp(0), Spring(1, turn=NAN)], []),
        ([clamp(0), Spring(1, x=np.inf)], []),
    ],
    "force": [([clamp(0)], [Force(y=NAN)]), ([clamp(0)], [Force(couple=np.inf)])],
    "line load": [([clamp(0)], [LineLoad(y=NAN)]), ([clamp(0)], [LineLoad(x=np.ones(7))])],
    "pressure": [([clamp(0)], [Pressure(NAN)]), ([clamp(0)], [Pressure(np.ones((2, 4)))])],
    "loads": [([clamp(0)], [3.0])],
    "supports": [([0], [])],
}


@pytest.mark.parametrize(
    ("key", "supports", "loads"), [(k, *case) for k, cases in BAD.items() for case in cases]
)
def test_bad_input_is_one_error(key, supports, loads):
    with pytest.raises(InputError) as caught:
        follow(BEAM, supports, loads)
    assert caught.value.key == key


def test_one_number_an_element_is_read_so_with_four_elements_too():
    # 1, 2, 3, 4 of four elements: not a pattern of the four stations of each
    stiff = Rod.straight(1.0, 4, EI=[1.0, 2.0, 3.0, 4.0])
    np.testing.assert_array_equal(stiff.EI, np.repeat([[1.0], [2.0], [3.0], [4.0]], 4, axis=1))
    # and with others: three numbers an element each
    three = Rod.straight(1.0, 3, EI=[1.0, 2.0, 3.0])
    np.testing.assert_array_equal(three.EI[:, 0], [1.0, 2.0, 3.0])
    with pytest.raises(InputError, match="one for each of 3 elements"):
        Rod.straight(1.0, 3, EI=[1.0, 2.0, 3.0, 4.0])


def test_supports_that_contradict_each_other_are_refused():
    rod = Rod.straight(1.0, 2, EI=1.0)
    one = Support(-1, ("y",), moved=(0.0, 0.1, 0.0))
    follow(rod, [clamp(0), one, one])
    with pytest.raises(InputError, match="held at one place"):
        follow(rod, [clamp(0), one, Support(-1, ("y",), moved=(0.0, 0.2, 0.0))])


def test_a_rod_held_where_it_would_have_to_stretch_says_so():
    rod = Rod.straight(1.0, 4, EI=1.0)
    with pytest.raises(ConvergenceError, match="finite EA"):
        follow(rod, [pin(0), pin(-1)], [Force(node=2, y=0.1)])


def test_slopes_that_are_not_those_of_the_moments_are_refused():
    k = np.linspace(-1.0, 1.0, 11) * np.ones((2, 4, 1))
    MomentTable(k, np.tanh(k), np.cosh(k) ** -2)
    for slope in (-(np.cosh(k) ** -2), 3.0 * np.cosh(k) ** -2):
        with pytest.raises(InputError, match="slopes"):
            MomentTable(k, np.tanh(k), slope)
