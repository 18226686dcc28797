"""The shot of a bow: what is kept, what heavy arrows tend to, what is refused."""

import dataclasses

import numpy as np
import pytest

from benchmarks.survey.bows import bow
from bowfem.bow import shoot, walk
from bowfem.design import Design
from bowfem.errors import ConvergenceError, InputError


@pytest.fixture(scope="module")
def shot(wagtail):
    return shoot(wagtail, 0.025)


def test_energy_is_kept_at_every_instant(shot):
    total = np.sum(shot.motion.energy, axis=1)
    assert np.max(np.abs(total - total[0])) < 1e-5 * shot.work
    # what the arrow and all else have is what was stored since brace, and what brace holds
    assert 0.4 < shot.efficiency < 0.8
    assert shot.efficiency + shot.moving / shot.work < 1.0


def test_the_error_told_holds_for_finer_steps_and_meshes(wagtail, curlew):
    for walked in (wagtail, curlew):
        rough = shoot(walked, 0.025)
        fine = shoot(walk(walked.design, refine=2), 0.025, step=1e-5)
        assert abs(rough.speed - fine.speed) < rough.error < 5e-4 * fine.speed


def test_a_heavy_arrow_gets_all_the_work_in_the_time_of_a_slow_draw(wagtail):
    # v -> sqrt(2 W / m): all that moves is the arrow
    heavy = shoot(wagtail, 1.0)
    assert heavy.efficiency > 0.97
    light = shoot(wagtail, 0.02)
    assert light.speed > heavy.speed and light.efficiency < heavy.efficiency


def test_efficiency_rises_with_the_arrow(wagtail):
    shots = [shoot(wagtail, mass) for mass in (0.02, 0.025, 0.03, 0.05)]
    assert np.all(np.diff([each.efficiency for each in shots]) > 0.0)
    assert np.all(np.diff([each.speed for each in shots]) < 0.0)
    masses = [each.virtual_mass + each.arrow for each in shots]
    work = [0.5 * m * each.speed**2 for m, each in zip(masses, shots, strict=True)]
    assert work == pytest.approx([wagtail.energy[-1]] * 4)


def test_curled_limbs_shoot_with_string_on_the_limb(curlew):
    found = shoot(curlew, 0.025)
    total = np.sum(found.motion.energy, axis=1)
    assert np.max(np.abs(total - total[0])) < 1e-4 * found.work


@pytest.mark.parametrize("arrow", [0.0, -1.0, np.nan, np.inf, 5.0])
def test_refuses_arrows_that_are_none(wagtail, arrow):
    with pytest.raises(InputError) as refused:
        shoot(wagtail, arrow)
    assert refused.value.key == "arrow"


def test_refuses_unlike_limbs_and_bows_not_drawn(lapwing, giving_way, wagtail):
    with pytest.raises(InputError, match="two limbs alike"):
        shoot(lapwing, 0.025)
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
    near, far = (walk(bow(2026, number)) for number in (69, 41))
    assert np.max(near.limbs[0].fold_share) > 0.7
    with pytest.raises(ConvergenceError, match="ms after the fingers let go"):
        shoot(near, 0.025)
    found = shoot(far, 0.025)
    at_draw = float(np.max(far.limbs[0].fold_share[-1]))
    assert found.fold_share == pytest.approx(at_draw, rel=0.02)
