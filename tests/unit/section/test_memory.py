"""The plastic's memory: closed forms of sums that fade, and the figures it is made of."""

import numpy as np
import pytest

from benchmarks.cases import shot_table, time_table
from bowfem.errors import InputError
from bowfem.rod import Branches
from bowfem.section import MEMORY, Memory, plastic_memory


def of_spectrum(row):
    return Memory(np.full(9, row["g_each"]), 10.0 ** np.arange(-5, 4), 1.0)


@pytest.mark.parametrize("row", shot_table("S8_loss_spectrum")["rows"])
def test_loss_of_an_even_spectrum(row):
    kept = of_spectrum(row)
    assert kept.loss_tangent(1.0) == pytest.approx(row["tan_1Hz"], rel=1e-7)
    assert kept.loss_tangent(30.0) == pytest.approx(row["tan_30Hz"], rel=1e-7)
    ratio = kept.rising(15e-3) / kept.rising(2.0)
    assert ratio == pytest.approx(row["ramp15ms_over_ramp2s"], abs=5e-8)


@pytest.mark.parametrize("row", shot_table("S9_hysteresis_loop")["rows"])
def test_work_of_a_slow_draw_and_its_return(row):
    # strain 0 to 1, held, back to 0
    g = next(
        each["g_each"]
        for each in shot_table("S8_loss_spectrum")["rows"]
        if each["tan_delta_nominal"] == row["tan_delta_nominal"]
    )
    branches = Branches(np.full(9, g), 10.0 ** np.arange(-5, 4))
    n = 200
    grid = row["t_r"] * np.linspace(0.0, 1.0, n + 1)
    times = np.concatenate([grid, [grid[-1] + row["t_h"]], grid[-1] + row["t_h"] + grid[1:]])
    strain = np.concatenate([grid / row["t_r"], [1.0], 1.0 - grid[1:] / row["t_r"]])
    held, work = np.zeros(9), []
    for step, k in zip(np.diff(times), np.diff(strain), strict=True):
        x = step / branches.time
        plateau = branches.share * k / x if step else np.zeros(9)
        off = held - plateau
        # of a strain that runs straight in a step, the work is exact
        mean = plateau + off * (-np.expm1(-x) / x if step else 1.0)
        work.append(k * float(np.sum(mean)))
        held = plateau + off * np.exp(-x)
    np.testing.assert_allclose(branches.moments(times, strain, 1.0), held, atol=1e-14)
    assert 0.5 + np.sum(work[: n + 1]) == pytest.approx(row["work_in"], abs=1e-8)
    assert 0.5 - np.sum(work[n + 1 :]) == pytest.approx(row["work_out"], abs=1e-8)


def test_stress_after_steps_of_strain():
    table = time_table("boltzmann_steps")
    kept = Memory(np.array([0.2, 0.2, 0.3]), np.array([1.0, 100.0, 1e4]), 0.3)
    steps = [(0.0, 0.010), (3600.0, 0.030), (3605.0, 0.010), (90000.0, 0.0)]
    for time, stress in table["stress"].items():
        t, total, before = float(time), 0.0, 0.0
        for at, strain in steps:
            if at <= t:
                total += float(kept.at(t - at)) * (strain - before)
                before = strain
        assert total == pytest.approx(stress, abs=1e-15)
    assert kept.loss_tangent(1.0) == pytest.approx(
        time_table("loss_tangent")["tan_delta"], rel=1e-12
    )


def test_standard_solid_at_rest_and_rising():
    table, solid = time_table("standard_solid"), Memory(np.array([0.6]), np.array([10.0]), 0.4)
    for time, left in table["relaxation"].items():
        assert solid.at(float(time)) == pytest.approx(left, rel=1e-12)
    for time, stress in table["constant_strain_rate_1_per_s"].items():
        assert float(time) * solid.rising(float(time)) == pytest.approx(stress, rel=1e-12)


def test_plastic_keeps_to_its_figures():
    kept = plastic_memory()
    for key, time in (
        ("hour", 3600.0),
        ("day", 86400.0),
        ("month", 3.6e6),
        ("lifetime", 1.57788e9),
    ):
        assert kept.at(time) == pytest.approx(MEMORY[key].value, rel=1e-3)
    assert kept.at(60.0) == pytest.approx(1.0, rel=1e-3)
    assert kept.loss_tangent([1.0, 30.0]) == pytest.approx(0.02, rel=0.15)
    # less fades if so told, and parts that fade slowly can be taken as rest
    assert plastic_memory(fading=0.7).at(86400.0) == pytest.approx(1.0 - 0.7 * 0.17, rel=1e-3)
    quick = kept.quicker_than(1e3)
    assert quick.at(0.0) == pytest.approx(kept.at(0.0)) and np.all(quick.time <= 1e3)
    assert np.all(np.diff(kept.at(np.logspace(-6, 10, 100))) < 0.0)


def test_refuses_what_is_no_memory():
    for given in ({"loss_tangent": 0.0}, {"loss_tangent": np.nan}, {"fading": 5.0}):
        with pytest.raises(InputError):
            plastic_memory(**given)
    with pytest.raises(InputError):
        Memory(np.array([-0.1]), np.array([1.0]), 1.0)
    with pytest.raises(InputError):
        Memory(np.array([0.1, 0.2]), np.array([1.0]), 1.0)
