"""What a shot comes to in words: bands, the advice on arrows, warnings."""

import dataclasses

import numpy as np
import pytest

from bowfem.findings import Shots
from bowfem.rod import Stop


@pytest.fixture(scope="module")
def shots(wagtail):
    return Shots.from_walk(wagtail, 0.02, (150.0, 190.0))


def test_the_band_holds_stiffness_and_loss(shots, wagtail):
    low, high = shots.speed_band
    weight = wagtail.force[-1]
    assert low <= shots.shot.speed * np.sqrt(150.0 / weight)
    assert high >= shots.shot.speed * np.sqrt(190.0 / weight)
    assert dataclasses.replace(shots, band=None).speed_band is None


def test_heavier_arrows_spare_the_bow(shots):
    speed, efficiency, after = (
        np.array([read(each) for each in shots.others])
        for read in (lambda e: e.speed, lambda e: e.efficiency, lambda e: e.after.fold.value)
    )
    assert np.all(np.diff(speed) < 0.0) and np.all(np.diff(efficiency) > 0.0)
    assert after[0] > after[-1]
    cells = shots.table.rows("us")
    assert len(cells) == len(shots.others) and cells[0][0] == "5"


def test_lightest_arrow_is_that_of_the_trade_or_heavier(shots, wagtail):
    mass, reason = shots.advised
    pound = 0.06479891e-3 / 4.4482216 * wagtail.force[-1]
    taut = [each.arrow for each in shots.others if each.slack == 0.0]
    assert mass == pytest.approx(max(8.0 * pound, min(taut)), rel=1e-6)
    assert "slack" in reason

    def strained(shot):
        peak = dataclasses.replace(shot.after.fold, value=0.95)
        return dataclasses.replace(shot, after=dataclasses.replace(shot.after, fold=peak))

    # were the lighter ones to bend it near folding, a heavier one is advised, and why
    worse = [strained(each) if each.arrow < 1.2 * mass else each for each in shots.others]
    other = dataclasses.replace(shots, others=tuple(worse))
    assert other.advised[0] >= 1.2 * mass and "folding" in other.advised[1]
    none = dataclasses.replace(shots, others=tuple(map(strained, shots.others)))
    assert none.advised is None


def test_warnings_say_what_was_found(shots):
    def told(**changes):
        shot = dataclasses.replace(shots.shot, **changes)
        found = dataclasses.replace(shots, shot=shot).warnings
        return " ".join(each.text("us") for each in found)

    assert "light" in told(arrow=0.005) and "light" not in told(arrow=0.05)
    assert "slack" in told(slack=1e-3) and "slack" not in told(slack=0.0)
    after = shots.shot.after
    assert "folds" in told(after=dataclasses.replace(after, stop=Stop.LIMIT))
    assert "half of what it bears" in told(after=dataclasses.replace(after, tension=1e5))
    assert "90 %" in told(
        after=dataclasses.replace(after, fold=dataclasses.replace(after.fold, value=0.95))
    )
