"""Out of the plane: what it refuses, what it must keep, and a spatial rod's own equilibrium."""

import numpy as np
import pytest

from benchmarks.space import answer, plane
from bowfem.errors import InputError
from bowfem.rod import (
    Force,
    Pressure,
    Rod,
    Sideways,
    TautString,
    clamp,
    follow,
    pull,
    side_factors,
)


@pytest.fixture(scope="module")
def loaded():
    return follow(Rod.straight(1.0, 4, EI=1e9), [clamp(0)], [Force(y=-1.0)])


@pytest.fixture(scope="module")
def braced():
    limb = Rod.straight(0.6, n_elements=8, EI=40.0)
    nock = [(0.0, 0.15), (0.0, 0.3)]
    return pull(limb, [clamp(0)], TautString(), nock, 0.58, begin=(0.0, 0.15, 0.62))


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"side_stiffness": 0.0}, "side_stiffness"),
        ({"twist_stiffness": -1.0}, "twist_stiffness"),
        ({"twist_stiffness": np.nan}, "twist_stiffness"),
        ({"nock": -1.0}, "nock"),
        ({"nock": np.nan}, "nock"),
        ({"first": ("shift", "sway")}, "first, last"),
        ({"first": ("roll", "turn")}, "first"),
        ({"first": ("shift",)}, "first, last"),
        ({"first": ("shift", "turn")}, "first, last"),
    ],
)
def test_refuses_what_it_cannot_use(loaded, changed, key):
    stiffness = {"side_stiffness": 1.0, "twist_stiffness": 1.0}
    with pytest.raises(InputError) as refused:
        Sideways(loaded, **{**stiffness, **changed})
    assert refused.value.key == key


def test_off_centre_needs_a_string(loaded):
    with pytest.raises(InputError, match="taut string"):
        Sideways(loaded, 1.0, 1.0).off_centre(1e-3)


def test_unloaded_it_is_a_plain_cantilever(braced):
    # w = F L^3 / 3 B, slope F L^2 / 2 B, and nothing takes any of it
    rest = follow(braced.rod, [clamp(0)], [Force(y=1.0)], [0.0])
    found = Sideways(rest, 7.0, 3.0).push(2.0)
    assert found.shift[-1] == pytest.approx(2.0 * 0.6**3 / 21.0, rel=1e-10)
    assert abs(found.turn[-1]) == pytest.approx(2.0 * 0.6**2 / 14.0, rel=1e-10)
    assert np.max(np.abs(found.roll)) < 1e-12
    assert Sideways(rest, 7.0, 3.0).factor > 1e9


def test_a_free_nock_is_less_stable_than_a_held_one(braced):
    factors = [Sideways(braced, 60.0, 30.0, nock=k).factor for k in (0.0, 100.0, 1e4, np.inf)]
    assert np.all(np.diff(factors) > 0.0)


def test_left_and_factor_agree_and_push_grows_as_stiffness_goes(braced):
    soft = Sideways(braced, 6.0, 3.0, nock=0.0)
    assert soft.left == pytest.approx(1.0 - 1.0 / soft.factor, rel=1e-12)
    firm = Sideways(braced, 60.0, 30.0, nock=0.0)
    # forces take ten times less of ten times the stiffness
    assert firm.factor == pytest.approx(10.0 * soft.factor, rel=1e-9)


@pytest.mark.parametrize(
    ("free", "soft", "moved"),
    [(False, 1.0, 1.98645e-3), (True, 1.0, 7.87516e-3), (True, 0.67, -11.75802e-3)],
)
def test_a_spatial_frame_program_s_answer_to_a_push(free, soft, moved):
    # OpenSees, 140 corotational elements, m/N: python -m benchmarks.space; the last one flips
    # its elements are of second order: twice as many change its answers by some 1e-4
    state = answer(plane(7), free, soft)
    assert state.give(1.0) == pytest.approx(moved, rel=1e-4 if soft == 1.0 else 2e-4)
    assert (state.factor < 1.0) == (moved < 0.0)


@pytest.mark.parametrize("nock", [0.0, 300.0, np.inf])
def test_factor_is_the_least_eigenvalue_of_the_whole_pencil(braced, nock):
    state = Sideways(braced, 6.0, 3.0, nock=nock)
    K, G = state.matrices
    taken = np.linalg.eigvals(np.linalg.solve(K, -G))
    assert 1.0 / state.factor == pytest.approx(np.max(taken.real), rel=1e-9)


def test_weakest_shape_is_where_the_energy_falls_most(braced):
    state = Sideways(braced, 6.0, 3.0, nock=0.0)
    shape = state.weakest
    assert np.max(np.abs(shape.shift)) == pytest.approx(1.0, rel=1e-12)
    assert shape.shift[0] == 0.0 and shape.s[-1] == pytest.approx(0.6)


def test_smooth_in_stiffness_and_nock(braced):
    # second differences fall with the square of the step: no kink
    def bend(step):
        at = [Sideways(braced, 6.0 * (1 + k * step), 3.0, nock=0.0).factor for k in (-1, 0, 1)]
        return abs(at[0] - 2 * at[1] + at[2])

    assert bend(0.1) / bend(0.05) == pytest.approx(4.0, rel=0.1)


def test_twisted_at_rest_rolls_by_the_twist(braced):
    rest = follow(braced.rod, [clamp(0)], [Force(y=1.0)], [0.0])
    found = Sideways(rest, 7.0, 3.0).twisted(0.1)
    np.testing.assert_allclose(found.roll, 0.1 * found.s, rtol=1e-10, atol=1e-14)


def test_states_at_once_tell_what_each_tells(braced):
    found = side_factors(braced, 6.0, 3.0, nock=0.0)
    each = [Sideways(braced, 6.0, 3.0, state=i, nock=0.0).factor for i in range(len(braced))]
    np.testing.assert_allclose(found, each, rtol=1e-9)


def test_alike_rods_on_one_string_give_way_as_each_does(braced):
    one = Sideways(braced, 6.0, 3.0, nock=0.0)
    assert one.together(one) == pytest.approx(one.factor, rel=1e-9)
    # one of them pushed: half of both to one side, half of both to opposite ones
    held = Sideways(braced, 6.0, 3.0)
    assert one.give_beside(one, 2.0) == pytest.approx(one.give(1.0) + held.give(1.0), rel=1e-9)
    firm = Sideways(braced, 60.0, 30.0, nock=0.0)
    # a firm rod holds the soft one back, as far as a nock held in place would
    assert one.factor < one.together(firm) < held.factor
    assert firm.together(one) == pytest.approx(one.together(firm), rel=1e-9)
    with pytest.raises(InputError, match="free nock"):
        one.together(Sideways(braced, 6.0, 3.0))


def test_a_loop_that_grips_steadies_and_one_that_slips_does_not(braced):
    slips, plain, grips = (
        Sideways(braced, 6.0, 3.0, nock=0.0, loop=loop).factor for loop in (-0.01, 0.0, 0.03)
    )
    assert slips < plain < grips


@pytest.mark.parametrize("ratio", [0.2, 0.5, 1.0, 2.0])
def test_ring_under_a_radial_load_that_keeps_its_direction(ratio):
    # Timoshenko, Gere, Theory of Elastic Stability, 1961, ch. 7 (from memory): 9 / (4 + B / GJ)
    # two waves round it: half of one lies between a node and a crest of the shift
    factors = []
    for n in (2, 4, 8):
        part = Rod.arc(1.0, np.pi / 4, n, EI=1e10)
        thrust = Force(x=-np.cos(np.pi / 4), y=-np.sin(np.pi / 4))
        path = follow(part, [clamp(0)], [Pressure(1.0), thrust])
        held = Sideways(path, 1.0, ratio, first=("shift", "roll"), last=("turn",))
        factors.append(held.factor)
    exact = 9.0 / (4.0 + 1.0 / ratio)
    errors = np.abs(np.array(factors) / exact - 1.0)
    assert errors[-1] < 1e-8
    assert np.log2(errors[0] / errors[1]) > 6.0
