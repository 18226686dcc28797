"""Following loads: order, Newton's convergence, step control, honest stops; laws of section."""

from typing import Any

import numpy as np
import pytest
from scipy.special import ellipk

from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import (
    Force,
    LineLoad,
    MomentTable,
    Pressure,
    Rod,
    Settings,
    Stop,
    TautString,
    clamp,
    follow,
    pull,
    rest_length,
)

NAN = float("nan")
TO_ROUND_OFF = Settings(tolerance=1e-15)


def slope(counts, errors) -> float:
    """Fitted order of convergence."""
    return -float(np.polyfit(np.log(counts), np.log(errors), 1)[0])


def with_law(rod: Rod, law, tangent, end: float, knots: int) -> Rod:
    k = np.linspace(-end, end, knots)
    parts = (k, law(k), tangent(k))
    return rod.with_table(
        MomentTable(*(np.broadcast_to(p, (*rod.EI.shape, knots)).copy() for p in parts))
    )


def test_tip_displacement_converges_at_order_eight():
    # degree 4 collocated at Gauss points: nodal order 8 (de Boor and Swartz, 1973; from memory)
    # P L^2 / EI = 10: Mattiasson (1981), case 02, recomputed by elliptic integrals to 12 digits
    exact = np.array([1.0 - 0.554995597753751, 0.810609024880296])
    counts = np.array([2, 3, 4, 6])
    errors = []
    for n in counts:
        tip = follow(Rod.straight(1.0, int(n), EI=1.0), [clamp(0)], [Force(y=10.0)]).tip[0]
        errors.append(np.max(np.abs(tip - exact)))
    assert errors[-1] < 1e-8
    assert slope(counts, errors) > 6.5


@pytest.mark.parametrize("model", [{"EA": 100.0}, {"GA": 50.0}, {"EA": 100.0, "GA": 50.0}])
def test_stretch_and_shear_keep_the_order(model):
    # against a mesh of four times the finest: a rate, not a value
    def tip(n):
        rod = Rod.arc(1.0, 1.0, n, EI=1.0, **model)
        return follow(rod, [clamp(0)], [Force(x=-2.0, y=3.0)]).tip[0]

    counts = np.array([2, 3, 4, 6])
    exact = tip(24)
    errors = [np.max(np.abs(tip(int(n)) - exact)) for n in counts]
    assert slope(counts, errors) > 6.5


@pytest.mark.parametrize("ratio", [1e2, 1e8, np.inf])
def test_no_locking(ratio):
    # one element on a slender rod: a closed form of small deflection, whatever the other stiffness
    rod = Rod.straight(1.0, 1, EI=1.0, EA=ratio, GA=ratio)
    tip = follow(rod, [clamp(0)], [Force(y=1e-6)]).tip[0, 1]
    assert tip == pytest.approx(1e-6 * (1 / 3 + 1 / ratio), rel=1e-8)


def test_stretched_rod():
    # EA, GA per unstressed length: F L / EA exactly, at any load
    rod = Rod.straight(2.0, 2, EI=1.0, EA=50.0)
    path = follow(rod, [clamp(0)], [Force(x=5.0)], [-0.1, 1.0])
    np.testing.assert_allclose(path.tip[:, 0], [2.0 - 0.02, 2.2], rtol=1e-14)
    assert path.energy[1, 1] == pytest.approx(0.5 * 5.0 * 0.2, rel=1e-12)


def test_follower_force_turns_the_tip_back():
    # closed form: the tip's tangent is reversed at P L^2 / EI = (2 K(1/sqrt 2))^2
    load = (2 * ellipk(0.5)) ** 2
    path = follow(Rod.straight(1.0, 16, EI=1.0), [clamp(0)], [Force(y=load, follower=True)])
    assert path.turn[0, -1] == pytest.approx(np.pi, rel=1e-9)
    assert path.reaction[0, 0, 2] == pytest.approx(0.0, abs=1e-8 * load)


@pytest.mark.parametrize("model", [{}, {"EA": 1e5, "GA": 1e4}])
@pytest.mark.parametrize("steps", [1, 2, 3])
def test_roll_up_to_a_circle(steps, model):
    rod = Rod.straight(1.0, 4, EI=2.0, **model)
    factors = np.arange(1, steps + 1) / steps
    path = follow(rod, [clamp(0)], [Force(couple=4 * np.pi)], factors)
    assert path.stop is Stop.COMPLETE and len(path) == steps
    assert path.substeps.tolist() == [1] * steps
    np.testing.assert_allclose(path.tip[-1], 0.0, atol=1e-12)
    np.testing.assert_allclose(path.turn[-1], 2 * np.pi * path.rod.nodes, rtol=1e-12, atol=1e-15)


@pytest.mark.parametrize(
    "loads",
    [
        [Force(y=4.0)],
        [Force(y=4.0, follower=True)],
        [Pressure(4.0)],
        [LineLoad(x=-1.0, y=5.0)],
        [Force(couple=3.0), Force(node=3, y=-2.0)],
    ],
)
@pytest.mark.parametrize("law", [None, np.tanh])
def test_newton_is_quadratic(loads, law):
    rod = Rod.straight(1.0, 6, EI=1.0, EA=1e4, GA=5e3)
    if law:
        rod = with_law(rod, lambda k: 5 * np.tanh(k / 5), lambda k: np.cosh(k / 5) ** -2, 20.0, 401)
    path = follow(rod, [clamp(0)], loads, [0.6], settings=TO_ROUND_OFF, strict=False)
    step = path.history[:, 1]
    near = np.flatnonzero((step[:-1] < 0.1) & (step[1:] > 1e-14))
    assert near.size >= 1
    # error after a step over the square of the one before: about 1 for a rod of unit length; a
    # tangent wrong by a thousandth would give 1e-3 / step
    assert np.all(step[near + 1] <= 20.0 * step[near] ** 2)
    assert path.stop is Stop.COMPLETE and path.substeps[0] == 1


@pytest.mark.parametrize("draw", [0.25, 0.45, 0.6])
def test_newton_is_quadratic_with_a_string(curled, draw):
    rod = curled(4, belly=0.012, EA=1e6, GA=4e5)
    rest = rest_length(rod, (0.0, 0.12))
    begin, string = (0.0, 0.12, rest), TautString(EA=1e5)
    to = [(0.0, y) for y in np.linspace(0.13, draw, 8)]
    start = pull(rod, [clamp(0)], string, to, rest - 0.02, begin=begin)
    path = pull(
        rod,
        [clamp(0)],
        string,
        [(0.0, draw + 0.05)],
        rest - 0.02,
        begin=begin,
        start=start,
        settings=Settings(tolerance=1e-15, predict=False),
        strict=False,
    )
    step = path.history[:, 1]
    near = np.flatnonzero((step[:-1] < 0.1) & (step[1:] > 1e-12))
    assert near.size >= 1
    assert np.all(step[near + 1] <= 20.0 * step[near] ** 2 + 1e-12)


def test_a_step_too_large_is_halved():
    rod = Rod.straight(1.0, 8, EI=1.0)
    whole = follow(rod, [clamp(0)], [Force(y=10.0)])
    hard = follow(rod, [clamp(0)], [Force(y=10.0)], settings=Settings(iterations=4))
    assert len(hard) == 1 and hard.substeps[0] > whole.substeps[0]
    np.testing.assert_allclose(hard.nodes, whole.nodes, atol=1e-9)


@pytest.mark.parametrize("strict", [True, False])
def test_step_floor_is_reported_and_states_kept(strict):
    # M = tanh(k): no couple of 1.2 can be carried, 0.99 can, at k = artanh(0.99)
    rod = with_law(Rod.straight(1.0, 4, EI=1.0), np.tanh, lambda k: np.cosh(k) ** -2, 12.0, 601)
    factors, what = [0.5, 0.9, 0.99, 1.2, 1.3], [Force(couple=1.0)]
    if strict:
        with pytest.raises(ConvergenceError, match="after 3 states") as caught:
            follow(rod, [clamp(0)], what, factors)
        path: Any = caught.value.status
    else:
        path = follow(rod, [clamp(0)], what, factors, strict=False)
    assert path.stop is Stop.NO_CONVERGENCE and "look for a limit point" in path.stop.value
    assert path.factor.tolist() == [0.5, 0.9, 0.99] and len(path) == 3
    np.testing.assert_allclose(path.turn[:, -1], np.arctanh(path.factor), rtol=1e-6)


def test_impossible_settings_stop_at_once():
    rod = Rod.straight(1.0, 4, EI=1.0)
    settings = Settings(iterations=1, finest=0.25)
    path = follow(rod, [clamp(0)], [Force(y=1.0)], settings=settings, strict=False)
    assert path.stop is Stop.NO_CONVERGENCE and len(path) == 0


def test_prediction_saves_iterations_and_changes_no_state():
    rod = Rod.straight(1.0, 8, EI=1.0)
    factors = np.linspace(0.5, 10.0, 20)
    args = (rod, [clamp(0)], [Force(y=1.0)], factors)
    ahead, plain = follow(*args), follow(*args, settings=Settings(predict=False))
    np.testing.assert_allclose(ahead.tip, plain.tip, atol=1e-12)
    assert ahead.iterations.sum() < plain.iterations.sum()


def test_going_on_from_an_earlier_path():
    rod = Rod.straight(1.0, 8, EI=1.0)
    whole = follow(rod, [clamp(0)], [Force(y=1.0)], [2.0, 4.0, 6.0])
    first = follow(rod, [clamp(0)], [Force(y=1.0)], [2.0, 4.0])
    second = follow(rod, [clamp(0)], [Force(y=1.0)], [6.0], start=first)
    np.testing.assert_allclose(second.tip[-1], whole.tip[-1], atol=1e-12)
    assert second.factor.tolist() == [6.0]


@pytest.mark.parametrize(
    "other",
    [Rod.straight(2.0, 4, EI=1.0), Rod.straight(1.0, 5, EI=1.0), Rod.straight(1.0, 4, EI=2.0)],
)
def test_path_of_another_rod_is_refused(other):
    path = follow(other, [clamp(0)], [Force(y=0.1)])
    with pytest.raises(InputError) as caught:
        follow(Rod.straight(1.0, 4, EI=1.0), [clamp(0)], [Force(y=0.1)], start=path)
    assert caught.value.key == "start"


def test_table_of_a_line_is_the_linear_rod():
    plain = Rod.straight(1.0, 6, EI=2.0)
    tabled = with_law(plain, lambda k: 2 * k, lambda k: 2 + 0 * k, 8.0, 17)
    load = [Force(y=9.0)]
    a, b = follow(plain, [clamp(0)], load), follow(tabled, [clamp(0)], load)
    np.testing.assert_allclose(a.nodes, b.nodes, atol=1e-11)
    np.testing.assert_allclose(a.energy, b.energy, rtol=1e-11)
    assert b.table_share[0] == pytest.approx(np.max(np.abs(b.bending)) / 8.0, rel=1e-12)


def test_table_of_a_curved_law():
    # M = tanh(k), end couple: k = artanh(M), energy ln cosh k; cubic cells, order 4
    counts, errors = np.array([21, 41, 81]), []
    for knots in counts:
        rod = with_law(
            Rod.straight(1.0, 2, EI=1.0), np.tanh, lambda k: np.cosh(k) ** -2, 3.0, int(knots)
        )
        path = follow(rod, [clamp(0)], [Force(couple=1.0)], [-0.7, 0.93])
        k = np.arctanh(path.factor)
        errors.append(np.max(np.abs(path.turn[:, -1] / k - 1)))
        np.testing.assert_allclose(path.energy[:, 0], np.log(np.cosh(k)), rtol=1e-3)
    assert errors[-1] < 1e-5
    assert slope(counts - 1, errors) > 3.5


@pytest.mark.parametrize("n", [1.0, 1.5, 2.16])
def test_power_law_under_a_small_tip_load(n):
    # M = K k^(1/n): w / L = (P L^(1 + 1/n) / K)^n / (n + 2) (references.json, case 12)
    def law(k):
        return np.sign(k) * np.abs(k) ** (1 / n)

    def tangent(k):  # vertical at rest: the chord of the first cell
        first = np.min(np.abs(k[k != 0.0]))
        safe = np.where(k == 0.0, first, np.abs(k))
        return np.where(k == 0.0, first ** (1 / n - 1), safe ** (1 / n - 1) / n)

    load = 0.001 ** (1 / n)
    rod = with_law(Rod.straight(1.0, 32, EI=1.0), law, tangent, 0.0012, 4001)
    tip = follow(rod, [clamp(0)], [Force(y=load)]).tip[0, 1]
    assert tip == pytest.approx(0.001 / (n + 2), rel=1e-6)  # square of the slope


@pytest.mark.parametrize(
    ("key", "bad"),
    [
        ("tolerance", {"tolerance": NAN}),
        ("tolerance", {"tolerance": 0.0}),
        ("finest", {"finest": -1.0}),
        ("finest", {"finest": 2.0}),
        ("iterations", {"iterations": 0}),
        ("iterations", {"iterations": 2.5}),
    ],
)
def test_bad_settings(key, bad):
    with pytest.raises(InputError) as caught:
        Settings(**bad)
    assert caught.value.key == key


@pytest.mark.parametrize("factors", [NAN, [], [[1.0, 2.0]], [0.5, np.inf], "high", [[1.0], []]])
def test_bad_factors(factors):
    with pytest.raises(InputError) as caught:
        follow(Rod.straight(1.0, 2, EI=1.0), [clamp(0)], [Force(y=0.1)], factors)
    assert caught.value.key == "factors"


def test_reactions_and_sign_are_those_of_the_last_state():
    # nothing moves, so a first step of no length must not count as found
    rod = Rod.straight(2.0, 4, EI=3.0)
    assert follow(rod, [clamp(0)], [Force(x=1.0)]).reaction[0, 0, 0] == pytest.approx(-1.0)
    euler = np.pi**2 * 3.0 / 16.0  # pi^2 EI / (2 L)^2, closed form
    signs = [follow(rod, [clamp(0)], [Force(x=-euler * f)]).sign for f in (0.999, 1.001)]
    assert signs[0] == -signs[1]


def test_history_is_that_of_the_last_solve():
    path = follow(Rod.straight(2.0, 4, EI=3.0), [clamp(0)], [Force(y=1.0)], [1.0, 1.001])
    assert len(path.history) == path.iterations[-1]
