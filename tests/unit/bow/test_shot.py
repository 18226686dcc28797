"""The shot of a bow: what is kept, what heavy arrows tend to, what is refused."""

import dataclasses

import numpy as np
import pytest

from benchmarks.survey.wild import bow
from bowfem.bow import USUAL_ARROW_MASS, dry_fire, frequencies_at_brace, shoot, shot_as_walk, walk
from bowfem.design import BowString, Design
from bowfem.errors import ConvergenceError, InputError
from bowfem.units import GRAIN


@pytest.fixture(scope="module")
def shot(wagtail):
    return shoot(wagtail, 0.025)


def with_keys(walked, **keys):
    changes = {key.replace("__", "."): value for key, value in keys.items()}
    return dataclasses.replace(walked, design=walked.design.with_values(changes))


def test_energy_is_kept_at_every_instant(shot):
    on = shot.motion.time <= shot.time
    total = 2.0 * np.sum(shot.motion.energy, axis=1)
    assert np.max(np.abs(total - total[0])[on]) < 1e-5 * shot.work
    # afterwards the arrow's is gone, and no more
    off = np.abs(total[~on] - (total[0] - shot.energy))
    assert np.max(off) < 2e-4 * shot.work
    # what the arrow and all else have is what was stored since brace, and what brace holds
    assert 0.4 < shot.efficiency < 0.8
    assert shot.lost > 0.0 and shot.air > 0.0 and shot.rest > 0.0


def test_the_error_told_holds_for_finer_steps_and_meshes(wagtail, curlew):
    for walked in (wagtail, curlew):
        rough = shoot(walked, 0.025)
        usual = shoot(walk(walked.design, refine=2), 0.025)
        fine = shoot(walk(walked.design, refine=3), 0.025, step=1e-5)
        assert abs(rough.speed - fine.speed) < rough.error < 5e-4 * fine.speed
        assert abs(usual.speed - fine.speed) < min(usual.error, 5e-5 * fine.speed)


@pytest.mark.parametrize("name", ["wagtail", "curlew", "dunlin", "lapwing"])
def test_a_third_of_the_string_s_weight_slows_as_the_arrow_s(name, root, monkeypatch):
    # C. N. Hickman, Effect of String Weight on Arrow Velocity and Efficiency of Bows (Archery: the
    # Technical Side, 1947): 108 and 254 grains of string, 400 of arrow; speed falls as if a third
    # of what is added were added to the arrow, the efficiency of three wooden bows to 0.912, 0.952
    # and 0.925 of what it was. F. Nagler (same book): 30 grains of string count as 10 of arrow.
    # That is rounded: 7.5 to 12.5 of 30.
    bow = walk(Design.from_file(root / "examples" / "designs" / f"{name}.toml"))

    def shot_with(string, arrow):
        per_length = string * GRAIN / bow.string_length
        monkeypatch.setattr(BowString, "mass_per_length", property(lambda _: per_length))
        return shoot(bow, arrow * GRAIN, after=0.0)

    light, heavy = shot_with(108.0, 400.0), shot_with(254.0, 400.0)
    assert 0.91 < heavy.efficiency / light.efficiency < 0.955
    for string, shot in ((254.0, heavy), (138.0, shot_with(138.0, 400.0))):
        less, more = (
            shot_with(108.0, 400.0 + part * (string - 108.0)).speed
            for part in (7.5 / 30.0, 12.5 / 30.0)
        )
        assert less > shot.speed > more


def test_a_heavy_arrow_gets_all_the_work_in_the_time_of_a_slow_draw(wagtail):
    # v -> sqrt(2 W / m): all that moves is the arrow
    heavy = shoot(with_keys(wagtail, shot__loss_tangent=0.0, shot__drag="no"), 1.0)
    assert heavy.efficiency > 0.97
    light = shoot(wagtail, 0.02)
    assert light.speed > heavy.speed and light.efficiency < heavy.efficiency


def test_efficiency_rises_with_the_arrow(wagtail):
    shots = [shoot(wagtail, mass) for mass in (0.02, 0.025, 0.03, 0.05)]
    assert np.all(np.diff([each.efficiency for each in shots]) > 0.0)
    assert np.all(np.diff([each.speed for each in shots]) < 0.0)
    masses = [each.virtual_mass + each.arrow for each in shots]
    work = [0.5 * m * each.speed**2 for m, each in zip(masses, shots, strict=True)]
    assert work == pytest.approx([each.work for each in shots])


def test_curled_limbs_shoot_with_string_on_the_limb(curlew):
    found = shoot(curlew, 0.025)
    total = 2.0 * np.sum(found.motion.energy, axis=1)[found.motion.time <= found.time]
    assert np.max(np.abs(total - total[0])) < 1e-4 * found.work


@pytest.mark.parametrize("arrow", [0.0, -1.0, np.nan, np.inf, 5.0])
def test_refuses_arrows_that_are_none(wagtail, arrow):
    with pytest.raises(InputError) as refused:
        shoot(wagtail, arrow)
    assert refused.value.key == "arrow"


def test_a_bow_of_two_limbs_alike_shoots_as_one(wagtail):
    one, two = shoot(wagtail, 0.025), shoot(walk(wagtail.design, both_limbs=True), 0.025)
    assert two.speed == pytest.approx(one.speed, rel=1e-8)
    assert abs(two.rise) < 1e-6
    for name in ("held", "work", "moving", "lost", "air", "impulse"):
        assert getattr(two, name) == pytest.approx(getattr(one, name), rel=1e-6)


def test_unlike_limbs_keep_energy_and_momentum(lapwing):
    found = shoot(lapwing, 0.025)
    on = found.motion.time <= found.time
    total = np.sum(found.motion.energy, axis=1)[on]
    assert np.max(np.abs(total - total[0])) < 1e-4 * found.work
    assert 0.0 < abs(found.rise) < 0.1 * found.speed


def test_the_bow_upside_down_shoots_the_same(lapwing):
    turned = shoot(walk(lapwing.design.upside_down()), 0.025)
    found = shoot(lapwing, 0.025)
    assert turned.speed == pytest.approx(found.speed, rel=1e-6)
    assert turned.rise == pytest.approx(-found.rise, rel=1e-4)


def test_memory_air_and_hand_as_the_design_says(wagtail):
    plain = with_keys(wagtail, shot__loss_tangent=0.0, shot__drag="no")
    bare = shoot(plain, 0.025)
    assert bare.lost == bare.air == 0.0
    assert bare.held == pytest.approx(wagtail.force[-1], rel=1e-3)
    assert bare.work == pytest.approx(wagtail.energy[-1], rel=1e-4)
    windy = shoot(with_keys(plain, shot__drag="yes"), 0.025)
    assert windy.speed < bare.speed and 0.005 < windy.air / windy.work < 0.05
    # remembered: stiffer when drawn at once, softer the longer it is held
    held = [shoot(with_keys(plain, shot__loss_tangent=0.02, shot__hold=t), 0.025) for t in (0, 300)]
    assert held[0].held > held[1].held and held[0].speed > held[1].speed
    # a hand that is heavy holds still, and a light one takes part of the shot
    light, heavy = (shoot(with_keys(plain, shot__hand_mass=m), 0.025) for m in (0.3, 90.0))
    assert heavy.speed == pytest.approx(bare.speed, rel=1e-3)
    assert light.speed != pytest.approx(bare.speed, rel=1e-3)
    with pytest.raises(InputError, match="two limbs alike"):
        shoot(with_keys(walk(wagtail.design, both_limbs=True), shot__hand_mass=1.0), 0.025)


def test_limbs_bend_further_after_the_arrow_has_gone(wagtail):
    found = shoot(wagtail, 0.025)
    assert found.after.fold.value > found.before.fold.value
    assert found.after.tension > 2.0 * wagtail.brace_tension
    assert found.time < found.after.fold.time < found.time + 0.0301
    # and all the more without one
    dry = dry_fire(wagtail)
    assert dry.fold[0] > found.after.fold.value and dry.tension[0] > found.after.tension
    assert dry.fold[1] >= dry.fold[0] and dry.tension[1] >= dry.tension[0]


def test_frequencies_of_the_strung_bow(wagtail):
    found = frequencies_at_brace(wagtail)
    assert np.all(np.diff(found) > 0.0) and 10.0 < found[0] < 60.0
    # of both limbs, those in which they do the same are among them
    both = frequencies_at_brace(walk(wagtail.design, both_limbs=True), 8)
    for each in found:
        assert np.min(np.abs(both / each - 1.0)) < 1e-6


def test_instants_of_a_shot_as_a_walk(curlew):
    found = shoot(curlew, 0.025)
    shown = shot_as_walk(found, 12)
    assert shown.time[0] == 0.0 and shown.time[-1] == found.motion.time[-1]
    # at the start it is the drawn bow, by its bending alone
    for name in ("x", "y"):
        gap = getattr(shown.limbs[0], name)[0] - getattr(curlew.limbs[0], name)[-1]
        assert np.max(np.abs(gap)) < 3e-3
    at = [int(np.argmin(np.abs(found.motion.time - t))) for t in shown.time]
    tips = found.motion.nodes[0][at, -1]
    np.testing.assert_allclose(shown.limbs[0].y[:, -1], tips[:, 0], atol=2e-3)
    np.testing.assert_allclose(shown.limbs[0].x[:, -1], tips[:, 1], atol=3e-3)
    with pytest.raises(InputError):
        shot_as_walk(found, 1)


def test_refuses_bows_not_drawn(giving_way, wagtail):
    with pytest.raises(ConvergenceError, match="not drawn in full"):
        shoot(giving_way, 0.025)
    with pytest.raises(ConvergenceError):
        shoot(dataclasses.replace(wagtail, solved=None), 0.025)


def test_stiffness_scales_speed_by_its_root(root):
    # all stresses 4 % larger, a string as stiff as ever: the band of the speed rests on it
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    one = shoot(walk(design), 0.025)
    stiff = walk(
        dataclasses.replace(
            design, material_choice=dataclasses.replace(design.material_choice, stiffness=1.04)
        )
    )
    assert shoot(stiff, 0.025).speed / one.speed == pytest.approx(np.sqrt(1.04), rel=1e-3)


def test_a_limb_that_folds_on_the_way_is_told():
    # random bows whose limbs are bent to 0.79 and 0.28 of folding at full draw
    elastic = {"shot__loss_tangent": 0.0, "shot__drag": "no"}
    near, far = (with_keys(walk(bow(2026, number)), **elastic) for number in (69, 41))
    assert np.max(near.limbs[0].fold_share) > 0.7
    with pytest.raises(ConvergenceError, match="ms after the fingers let go"):
        shoot(near, 0.025)
    found = shoot(far, 0.025)
    at_draw = float(np.max(far.limbs[0].fold_share[-1]))
    assert found.before.fold.value == pytest.approx(at_draw, rel=0.02)


def test_a_string_that_snaps_taut_behind_brace_lets_the_arrow_go():
    # slack for half the shot: nothing pulls the arrow back until the string is taut again
    walked = walk(bow(2026, 1107))
    found = shoot(walked, 5.0 / 9.0 * USUAL_ARROW_MASS * float(walked.force[-1]), after=0.0)
    fine = shoot(walked, found.arrow, after=0.0, step=1e-5)
    assert found.slack > 0.01
    assert abs(found.speed - fine.speed) < found.error < 2e-3 * found.speed
    on = found.motion.time <= found.time
    total = np.sum(found.motion.energy[on], axis=1)
    assert np.max(np.abs(total - total[0])) < 2e-5 * found.work


def test_a_limb_that_folds_in_the_hand_is_told():
    # near its fold at full draw; while it is held, what fades there brings it over
    walked = walk(bow(2026, 70), accuracy=None)
    with pytest.raises(ConvergenceError, match="folds in the hand"):
        shoot(walked, 0.012)
