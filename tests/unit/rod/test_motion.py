"""Motion in time: textbook vibrations and swings, a bow's shot, what must be kept."""

import numpy as np
import pytest

from benchmarks.cases import shot_table
from bowfem.errors import InputError
from bowfem.rod import (
    Force,
    LineLoad,
    MovingRod,
    Rod,
    Spring,
    TautString,
    clamp,
    follow,
    let_go,
    natural_frequencies,
    pin,
    pull,
)

STRAIGHT = shot_table("S10_straight_bow")["cases"]
STRING = TautString(EA=6e4, across=0.0)


def straight_bow(n, case):
    """Half a bow at brace and drawn: a straight tapered limb under its string."""
    limb = Rod.straight(0.6, n, EI=lambda s: 30.0 * (1.0 - 0.75 * s / 0.6))
    nock = [(0.0, 0.16 + 0.5 * i / 20) for i in range(21)]
    begin = (0.0, 0.16, 0.63)
    return pull(limb, [clamp(0)], STRING, nock, case["l0"], begin=begin)


def half(drawn, mass=0.3, **given):
    return MovingRod(drawn, [clamp(0)], mass, string=STRING, **{"tip_mass": 0.005, **given})


def shot(drawn, step, arrow=0.025, duration=0.0225):
    return let_go(half(drawn), duration, nock_mass=0.001, carried=0.5 * arrow, step=step)


def test_shot_of_a_straight_bow_and_its_orders():
    # a multibody library and DOP853 on the semi-discrete equations agree (see the table)
    case = STRAIGHT[0]
    drawn = straight_bow(24, case)
    speeds = [-shot(drawn, step).release.speed for step in (4e-5, 2e-5, 1e-5, 5e-6)]
    assert speeds[-1] == pytest.approx(case["v"], rel=1e-6)
    assert np.log2(np.diff(speeds[:3])[0] / np.diff(speeds[:3])[1]) == pytest.approx(2.0, abs=0.1)
    coarse = [-shot(straight_bow(n, case), 5e-6).release.speed for n in (6, 12)]
    errors = np.abs(np.array(coarse) / case["v"] - 1.0)
    assert np.log2(errors[0] / errors[1]) > 3.0


def test_shot_of_a_heavier_arrow():
    case, heavy = STRAIGHT
    found = shot(straight_bow(24, case), 5e-6, heavy["changed"]["ma"], 0.03)
    assert -found.release.speed == pytest.approx(heavy["v"], rel=1e-6)


def test_shot_keeps_time_tension_and_place():
    case = STRAIGHT[0]
    found = shot(straight_bow(20, case), 1e-5)
    left = found.release
    assert left.time == pytest.approx(case["t_exit"], rel=1e-5)
    assert left.tension == pytest.approx(case["T_exit"], rel=1e-4)
    assert left.place == pytest.approx(case["nock_exit"], abs=1e-6)
    told = case["history"]
    at = np.searchsorted(found.time, np.array(told["t"]) - 1e-9)
    np.testing.assert_allclose(found.tension[at, 0], told["T"], rtol=2e-3)
    np.testing.assert_allclose(found.nock[at, 0], told["nock"], rtol=1e-5)
    np.testing.assert_allclose(-found.speed[at, 0], told["nock_speed"], rtol=1e-4)


def test_a_string_weighs_on_the_arrow_with_a_third_of_its_mass():
    # Hickman 1947: one third (seen); a third of it at the nock point, a third at each tie
    drawn, grams = straight_bow(12, STRAIGHT[0]), 1e-3

    def speed(string, arrow):
        limb = half(drawn, tip_mass=0.005 + string / 3)
        found = let_go(limb, 0.03, nock_mass=0.001 + string / 6, carried=0.0125 + arrow / 2)
        return -found.release.speed

    at = speed(0.0, 0.0)
    assert 0.3 < (speed(grams, 0.0) - at) / (speed(0.0, grams) - at) < 0.4


def test_what_follows_the_release_is_cut_where_asked():
    drawn = straight_bow(6, STRAIGHT[0])
    whole = shot(drawn, 4e-5)
    cut = let_go(half(drawn), 0.0225, nock_mass=0.001, carried=0.0125, after=0.0)
    assert cut.time[-1] == cut.release.time == whole.release.time
    np.testing.assert_array_equal(cut.tension, whole.tension[: cut.time.size])


def test_energy_is_kept_with_order_2():
    case, drift = STRAIGHT[0], []
    drawn = straight_bow(12, case)
    for step in (4e-5, 2e-5, 1e-5):
        found = shot(drawn, step)
        before = found.time < found.release.time
        total = np.sum(found.energy[before], axis=1)
        drift.append(np.max(np.abs(total - total[0])) / (0.5 * case["W"]))
        # what has left took its part along, and no more
        after = np.sum(found.energy[found.time > found.release.time], axis=1)
        gone = 0.5 * 0.0125 * found.release.speed**2
        assert after == pytest.approx(total[0] - gone, rel=1e-4)
    assert drift[0] < 1e-5
    np.testing.assert_allclose(np.diff(np.log2(drift)), -2.0, atol=0.1)


def test_frequencies_of_a_braced_bow():
    case = STRAIGHT[0]
    found = natural_frequencies(half(straight_bow(40, case), state=0), 3, nock_mass=0.001)
    np.testing.assert_allclose(found, case["frequencies_braced_no_arrow_Hz"][:3], rtol=1e-6)


def test_frequencies_of_a_cantilever():
    # cos b cosh b = -1: 1.8751, 4.6941, 7.8548 (Timoshenko, Vibration Problems; from memory)
    roots = np.array([1.875104068711961, 4.694091132974175, 7.854757438237613])
    exact, errors = roots**2 * np.sqrt(8.0) / (2.0 * np.pi), []
    for n in (8, 16, 32):
        rod = Rod.straight(1.0, n, EI=4.0)
        found = natural_frequencies(MovingRod(follow(rod, [clamp(0)]), [clamp(0)], 0.5), 3)
        errors.append(found / exact - 1.0)
    assert np.max(np.abs(errors[-1])) < 3e-6
    np.testing.assert_allclose(np.diff(np.log2(errors), axis=0), -4.0, atol=0.2)


def test_cantilever_let_go():
    table = shot_table("S3_cantilever_let_go")["rows"]
    rod = Rod.straight(1.0, 12, EI=1.0)
    bent = follow(rod, [clamp(0)], [Force(y=1e-4)])
    found = let_go(MovingRod(bent, [clamp(0)], 1.0), 1.0, step=2.5e-4)
    tip = found.nodes[0][:, -1, 1] / found.nodes[0][0, -1, 1]
    for row in table:
        if float(row["t"]) <= 1.0:
            at = np.interp(float(row["t"]), found.time, tip)
            assert at == pytest.approx(float(row["ratio"]), abs=3e-4)


@pytest.mark.parametrize("row", shot_table("S4_rigid_pendulum")["rows"])
def test_a_rigid_bar_swings_at_any_angle(row):
    # 4 sqrt(2/3) K(sin(theta0 / 2)), a quarter of it down to the lowest point
    start = np.radians(row["theta0_deg"])
    bar = Rod.straight(1.0, 2, EI=1e5, angle=float(start - 0.5 * np.pi))
    quarter = 0.25 * float(row["period"])
    weight = LineLoad(y=-1.0)
    rest = follow(bar, [clamp(0)])
    found = let_go(
        MovingRod(rest, [pin(0)], 1.0, loads=[weight]), 1.05 * quarter, step=quarter / 2000
    )
    side = found.nodes[0][:, -1, 0]
    k = int(np.argmax(side < 0.0))
    crossed = np.interp(0.0, [-side[k - 1], -side[k]], found.time[k - 1 : k + 1])
    assert crossed == pytest.approx(quarter, rel=1e-4)


def test_rigid_limbs_under_an_elastic_string():
    # two rigid bars on torsion springs (DOP853, 1e-13); stiff rods, pinned, a spring at the root
    table = shot_table("S2_rigid_elastic_string")
    stiffness = shot_table("S1_rigid_inextensible")["rows"]
    base = next(row for row in stiffness if row["set"] == "set 2")
    for row in table["rows"]:
        a, g, rest = base["a"], base["g"], base["phi0"]
        bar = Rod.from_curvature(np.array([0.0, 0.5 * a, a]), EI=1e8, origin=(g, 0.0), angle=rest)
        spring = [pin(0), Spring(0, turn=base["c"])]
        string = TautString(EA=row["k"] * row["l0"], across=0.0)
        ways = np.linspace(0.2, base["X_full"], 40)
        drawn = pull(
            bar,
            spring,
            string,
            [(0.0, x) for x in ways],
            row["l0"],
            begin=(0.0, 0.2, 1.2 * (a + g)),
        )
        assert 2.0 * drawn.pull[-1, 1] == pytest.approx(row["F_full"], rel=1e-5)
        bow = MovingRod(
            drawn,
            spring,
            row["limb_mass_each"] / a,
            string=string,
            tip_mass=row["tip_mass_each"],
        )
        found = let_go(
            bow,
            1.1 * row["t"],
            nock_mass=0.5 * row["nock_mass"] + 1e-9,
            carried=0.5 * row["arrow_mass"],
            step=5e-6,
        )
        assert -found.release.speed == pytest.approx(row["v"], rel=1e-5)
        assert found.release.time == pytest.approx(row["t"], rel=1e-5)


def test_a_power_of_two_in_the_units_changes_nothing():
    case = STRAIGHT[0]
    one = shot(straight_bow(6, case), 4e-5)
    limb = Rod.straight(0.6, 6, EI=lambda s: 8.0 * 30.0 * (1.0 - 0.75 * s / 0.6))
    string = TautString(EA=8.0 * 6e4, across=0.0)
    nock = [(0.0, 0.16 + 0.5 * i / 20) for i in range(21)]
    drawn = pull(limb, [clamp(0)], string, nock, case["l0"], begin=(0.0, 0.16, 0.63))
    bow = MovingRod(drawn, [clamp(0)], 2.4, string=string, tip_mass=0.04)
    many = let_go(bow, 0.0225, nock_mass=0.008, carried=0.1)
    assert many.release.speed == one.release.speed
    np.testing.assert_array_equal(many.tension, 8.0 * one.tension)


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"step": 0.0}, "step"),
        ({"step": np.nan}, "step"),
        ({"duration": 1e9}, "duration"),
        ({"mass": -1.0}, "mass"),
        ({"tip_mass": -1.0}, "tip_mass"),
        ({"carried": np.inf}, "carried"),
        ({"nock_mass": 0.0, "carried": 0.0}, "nock_mass, carried"),
        ({"clip": -1.0}, "clip"),
        ({"stop": np.nan}, "stop"),
        ({"along": (1.0, 1.0)}, "along"),
        ({"along": ((0.0, 1.0),) * 3}, "along"),
        ({"drag": -1.0}, "drag"),
        ({"moments": np.zeros(3)}, "moments"),
        ({"string": TautString(across=0.0)}, "EA"),
    ],
)
def test_refuses_what_it_cannot_use(changed, key):
    drawn = straight_bow(4, STRAIGHT[0])
    of_rod = {"mass", "tip_mass", "along", "drag", "moments", "string"}
    rod = {"mass": 0.3, "string": STRING, **{k: v for k, v in changed.items() if k in of_rod}}
    rest = {k: v for k, v in changed.items() if k not in of_rod}
    with pytest.raises(InputError) as refused:
        let_go(MovingRod(drawn, [clamp(0)], **rod), **{"duration": 0.01, "carried": 0.01, **rest})
    assert refused.value.key == key


def test_frequencies_of_what_has_none():
    rod = Rod.straight(1.0, 4, EI=4.0)
    rest = follow(rod, [clamp(0)])
    with pytest.raises(InputError) as refused:
        natural_frequencies(MovingRod(rest, [clamp(0)], 0.0))
    assert refused.value.key == "mass"
    with pytest.raises(InputError):  # not held: it can move without resistance
        natural_frequencies(MovingRod(rest, [], 0.5))
