"""Motion in time of more than one elastic rod: two on a string, memory, air, stop, free hand."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from benchmarks.cases import shot_table
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import (
    Branches,
    Force,
    LineLoad,
    MovingRod,
    Rod,
    Spring,
    Stop,
    Support,
    TautString,
    clamp,
    follow,
    let_go,
    natural_frequencies,
    pin,
    pull,
)
from tests.unit.rod.test_motion import STRAIGHT, half, straight_bow

CASE = STRAIGHT[0]


def mirrored(drawn, **given):
    upper, lower = (half(drawn, along=((0.0, 1.0), (sign, 0.0)), **given) for sign in (1.0, -1.0))
    return [upper, lower]


def test_two_limbs_alike_shoot_as_one_does():
    drawn = straight_bow(6, CASE)
    one = let_go(half(drawn), 0.03, nock_mass=0.001, carried=0.0125)
    two = let_go(mirrored(drawn), 0.03, nock_mass=0.002, carried=0.025)
    assert two.release.speed == pytest.approx(one.release.speed, rel=1e-8)
    assert np.max(np.abs(two.speed[:, 1])) < 1e-8
    np.testing.assert_allclose(two.energy, 2.0 * one.energy, rtol=1e-6, atol=1e-8)
    # and swings as one does, besides what one cannot
    of_one = natural_frequencies(half(drawn, state=0), 3, nock_mass=0.001)
    of_two = natural_frequencies(mirrored(drawn, state=0), 8, nock_mass=0.002)
    for each in of_one:
        assert np.min(np.abs(of_two / each - 1.0)) < 1e-8


def test_two_limbs_not_alike_keep_energy_with_order_2():
    drawn = straight_bow(8, CASE)
    drift = []
    for step in (8e-5, 4e-5, 2e-5):
        upper, lower = mirrored(drawn)
        heavy = MovingRod(**{**vars(lower), "tip_mass": 0.02})
        found = let_go([upper, heavy], 0.018, nock_mass=0.002, carried=0.025, step=step)
        total = np.sum(found.energy, axis=1)
        drift.append(np.max(np.abs(total - total[0])) / total[0])
        assert np.max(np.abs(found.speed[:, 1])) > 0.1  # the arrow is not sent straight
    assert drift[-1] < 3e-6
    assert np.log2(drift[2] / drift[0]) < -3.6


def test_rods_of_other_length_and_stiffness_share_a_string():
    # the same limb twice, once told in pieces half as long: only the frame of numbers differs
    drawn, finer = straight_bow(6, CASE), straight_bow(12, CASE)
    both = [mirrored(drawn)[0], mirrored(finer)[1]]
    mixed = let_go(both, 0.03, nock_mass=0.002, carried=0.025)
    alike = let_go(mirrored(finer), 0.03, nock_mass=0.002, carried=0.025)
    assert mixed.release.speed == pytest.approx(alike.release.speed, rel=5e-5)


def test_what_holds_the_bow_takes_its_momentum():
    # nearly all mass at tip and nock point
    drawn = straight_bow(8, CASE)
    found = let_go(
        half(drawn, 1e-6, tip_mass=0.05), 0.05, nock_mass=0.001, carried=0.0125, step=1e-5
    )
    on = found.time < found.release.time
    force = found.support_force[on, 0, 1]
    given = np.concatenate(
        [[0.0], np.cumsum(0.5 * (force[1:] + force[:-1]) * np.diff(found.time[on]))]
    )
    tip = np.gradient(found.nodes[0][on, -1, 1], found.time[on])
    has = 0.0135 * found.speed[on, 0] + 0.05 * tip
    assert np.max(np.abs(given - has)[5:-5]) < 1e-4 * np.max(np.abs(has))


def test_rigid_limbs_under_a_string_that_hardly_stretches():
    # limbs that stand still when the string is straight: all energy is the arrow's (closed form)
    row = next(
        each for each in shot_table("S1_rigid_inextensible")["rows"] if each["set"] == "set 2"
    )
    bar = Rod.from_curvature(
        np.array([0.0, 0.5 * row["a"], row["a"]]), EI=1e8, origin=(row["g"], 0.0), angle=row["phi0"]
    )
    held = [pin(0), Spring(0, turn=row["c"])]
    speeds = []
    for stiffness in (1e7, 1e8, 1e9):
        string = TautString(EA=stiffness, across=0.0)
        nock = [(0.0, x) for x in np.linspace(0.2, row["X_full"], 40)]
        begin = (0.0, 0.2, 1.2 * (row["a"] + row["g"]))
        drawn = pull(bar, held, string, nock, row["l"], begin=begin)
        bow = MovingRod(drawn, held, row["limb_mass_each"] / row["a"], string=string)
        given = {"nock_mass": 1e-9, "carried": 0.5 * row["arrow_mass"], "step": 2e-6}
        speeds.append(-let_go(bow, 1.05 * row["t"], **given).release.speed)
    short = 1.0 - np.array(speeds) / row["v"]
    np.testing.assert_allclose(short[:-1] / short[1:], 10.0, rtol=0.05)
    assert 0.0 < short[-1] < 1e-4


@pytest.mark.parametrize("row", shot_table("S2b_free_handle")["rows"][:3])
def test_a_handle_that_is_free_to_recoil(row):
    # DOP853, 1e-12
    base = next(r for r in shot_table("S1_rigid_inextensible")["rows"] if r["set"] == "set 2")
    soft = next(r for r in shot_table("S2_rigid_elastic_string")["rows"] if r["k"] == 6e4)
    bar = Rod.from_curvature(
        np.array([0.0, 0.5 * base["a"], base["a"]]),
        EI=1e8,
        origin=(base["g"], 0.0),
        angle=base["phi0"],
    )
    spring = Spring(0, turn=base["c"])
    string = TautString(EA=soft["k"] * soft["l0"], across=0.0)
    nock = [(0.0, x) for x in np.linspace(0.2, base["X_full"], 40)]
    begin = (0.0, 0.2, 1.2 * (base["a"] + base["g"]))
    drawn = pull(bar, [pin(0), spring], string, nock, soft["l0"], begin=begin)
    bow = MovingRod(
        drawn,
        [Support(0, ("x",)), spring],
        base["limb_mass_each"] / base["a"],
        string=string,
        root_mass=0.5 * row["handle_mass"],
    )
    given = {"nock_mass": 1e-9, "carried": 0.5 * base["arrow_mass"], "step": 5e-6}
    found = let_go(bow, 1.1 * row["t"], **given)
    assert -found.release.speed == pytest.approx(row["v"], rel=2e-5)
    assert found.release.time == pytest.approx(row["t"], rel=2e-5)


def test_a_mass_on_a_spring_with_memory():
    # x'' = -x - H, H' = -H + 0.05 x': the standard linear solid (roots in the table)
    roots = [
        complex(str(each).replace(" ", ""))
        for each in shot_table("S7_standard_linear_solid")["roots"]
    ]
    A = np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, -1.0], [0.0, 0.05, -1.0]])
    np.testing.assert_allclose(np.sort(np.linalg.eigvals(A)), np.sort(roots), atol=1e-12)
    rod = Rod.straight(1.0, 1, EI=1.0 / 3.0)
    bent = follow(rod, [clamp(0)], [Force(y=1e-5)])
    bow = MovingRod(bent, [clamp(0)], 1e-9, tip_mass=1.0)
    found = [
        let_go(bow, 8.0, branches=Branches([0.05], [1.0]), step=step) for step in (4e-3, 2e-3, 1e-3)
    ]
    x = np.array([each.nodes[0][-1, -1, 1] / each.nodes[0][0, -1, 1] for each in found])
    exact = (expm(8.0 * A) @ [1.0, 0.0, 0.0])[0]
    assert np.log2((x[0] - exact) / (x[1] - exact)) == pytest.approx(2.0, abs=0.02)
    assert (4.0 * x[2] - x[1]) / 3.0 == pytest.approx(exact, abs=1e-8)


def test_energy_with_memory_is_kept_with_order_2():
    drawn, drift = straight_bow(8, CASE), []
    branches = Branches(np.full(9, 0.03), 10.0 ** np.arange(-5, 4), 0.9)
    for step in (4e-5, 2e-5, 1e-5):
        found = let_go(
            half(drawn), 0.02, nock_mass=0.001, carried=0.0125, step=step, branches=branches
        )
        total = np.sum(found.energy, axis=1)
        drift.append(np.max(np.abs(total - total[0])) / total[0])
        assert found.energy[-1, 5] > 0.005 * total[0]  # something is lost
    assert drift[0] < 2e-5
    np.testing.assert_allclose(np.diff(np.log2(drift)), -2.0, atol=0.2)


def test_no_loss_is_the_elastic_motion():
    drawn = straight_bow(6, CASE)
    given = {"nock_mass": 0.001, "carried": 0.0125}
    plain = let_go(half(drawn), 0.03, **given)
    none = let_go(half(drawn), 0.03, branches=Branches([0.0, 0.0], [1e-3, 1.0]), **given)
    np.testing.assert_allclose(none.speed, plain.speed, rtol=1e-12, atol=1e-9)


def test_moments_at_the_start_are_in_balance_in_the_hand():
    drawn = straight_bow(6, CASE)
    one, EI = Branches([0.1], [1.0]), drawn.rod.EI
    fresh = one.moments([0.0, 1e-9], np.stack([0.0 * EI, drawn.bending[-1]]), EI)
    found = let_go(half(drawn, moments=fresh), 1e-4, nock_mass=0.001, carried=0.0125, branches=one)
    # linear limbs, bent at once: a tenth stiffer
    stiff = let_go(half(drawn), 1e-4, nock_mass=0.001, carried=0.0125)
    ratio = found.acceleration[0, 0] / stiff.acceleration[0, 0]
    assert ratio == pytest.approx(1.1, rel=0.01)


def test_a_bar_that_falls_in_the_air():
    # I w' = m g L / 2 cos - b L^4 / 4 w |w|, b the drag over length and speed squared
    drag, mass = 0.8, 0.5
    bar = Rod.straight(1.0, 4, EI=1e5)
    exact = solve_ivp(
        lambda t, y: [
            y[1],
            3.0 / mass * (-0.5 * mass * 9.81 * np.cos(y[0]) - drag / 4.0 * y[1] * abs(y[1])),
        ],
        (0.0, 0.5),
        [0.0, 0.0],
        method="DOP853",
        rtol=1e-12,
        atol=1e-12,
    ).y[0, -1]
    rest, weight = follow(bar, [clamp(0)]), LineLoad(y=-9.81 * mass)
    falls = MovingRod(rest, [pin(0)], mass, loads=[weight], drag=drag)
    errors, kept = [], []
    for step in (2e-3, 1e-3, 5e-4):
        found = let_go(falls, 0.5, step=step)
        x, y = found.nodes[0][-1, -1]
        errors.append(abs(np.arctan2(y, x) - exact))
        fallen = 0.5 * mass * 9.81 * -y  # of the weight, whose energy is not told
        kept.append(abs(np.sum(found.energy[-1]) - fallen) / fallen)
    assert errors[-1] < 1e-5 and kept[-1] < 1e-4
    assert np.log2(errors[0] / errors[1]) > 1.7 and np.log2(kept[0] / kept[1]) > 1.7


def test_a_stop_takes_what_the_string_brings():
    drawn = straight_bow(6, CASE)
    free = let_go(half(drawn), 0.03, nock_mass=0.001)
    found = let_go(half(drawn), 0.03, nock_mass=0.001, stop=0.12)
    at = int(np.argmax(free.nock[:, 0] < 0.12))
    at_stop = np.interp(-0.12, -free.nock[at - 1 : at + 1, 0], free.speed[at - 1 : at + 1, 0])
    assert found.slap.place == pytest.approx(0.12, abs=1e-9)
    assert found.slap.speed == pytest.approx(at_stop, rel=2e-3)
    assert found.nock[:, 0].min() > 0.12 - 1e-9
    assert found.energy[-1, 6] >= 0.5 * 0.001 * found.slap.speed**2
    total = np.sum(found.energy, axis=1)
    assert np.max(np.abs(total - total[0])) < 2e-3 * total[0]


def test_a_clip_holds_the_arrow_until_it_is_pulled():
    drawn = straight_bow(6, CASE)
    found = let_go(half(drawn), 0.03, nock_mass=0.001, carried=0.0125, clip=10.0)
    loose = let_go(half(drawn), 0.03, nock_mass=0.001, carried=0.0125)
    assert found.release.time > loose.release.time
    assert -found.release.speed < -loose.release.speed
    at = int(np.argmin(np.abs(found.time - found.release.time)))
    assert 0.0125 * found.acceleration[at, 0] == pytest.approx(10.0, rel=1e-3)


def test_branches_remember_and_refuse():
    one = Branches([0.5, 0.2], [10.0, 1e-3])
    held = one.moments([0.0, 1.0, 11.0], np.array([0.0, 1.0, 1.0]), EI=2.0)
    # standard solid at a constant rate, then held (closed form)
    exact = 2.0 * 0.5 * 10.0 * (1.0 - np.exp(-0.1)) * np.exp(-1.0)
    np.testing.assert_allclose(held, [exact, 0.0], atol=1e-12)
    for wrong in (([-0.1], [1.0]), ([0.1], [0.0]), ([0.1], [1.0, 2.0]), ([np.nan], [1.0])):
        with pytest.raises(InputError):
            Branches(*wrong)
    with pytest.raises(InputError):
        Branches([0.1], [1.0], 0.0)
    with pytest.raises(InputError):
        one.moments([1.0, 0.0], np.zeros(2), 1.0)
    with pytest.raises(InputError):  # a string that only one of two has
        let_go(
            [half(straight_bow(4, CASE)), MovingRod(straight_bow(4, CASE), [clamp(0)], 1.0)], 0.1
        )


def test_a_motion_that_is_lost_can_be_kept():
    # steps of a hundredth of a second on limbs that weigh next to nothing
    light, given = half(straight_bow(6, CASE), 1e-5), {"nock_mass": 1e-6, "step": 0.01}
    with pytest.raises(ConvergenceError, match="lost after"):
        let_go(light, 0.05, **given)
    found = let_go(light, 0.05, strict=False, **given)
    assert found.stop is Stop.NO_CONVERGENCE
    assert 1 < found.time.size < 6 and np.all(np.isfinite(found.nock))
