"""Studies: the same bows whoever makes them, ranks against a closed form, failures told."""

import os
import signal
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from distributed import Client, LocalCluster

from bowfem.bow import walk
from bowfem.design import Design
from bowfem.errors import InputError
from bowfem.orders.studies import FIGURES, Study, study
from bowfem.orders.tolerances import Plan, Spread, usual_spreads
from bowfem.section import RIGID_PVC, Pipe


@pytest.fixture(scope="module")
def wagtail(root):
    return Design.from_file(root / "examples/designs/wagtail.toml")


@pytest.fixture(scope="module")
def plan(wagtail):
    return Plan(wagtail, usual_spreads(wagtail), 24, seed=5)


@pytest.fixture(scope="module")
def alone(plan):
    return study(plan, workers=1)


def test_each_bow_is_its_walk(plan, alone):
    """Every seventh bow, walked from scratch with sections of its own, weighs the same.

    The tolerance is that of sections interpolated between solved ones; `Study.error` measures it
    at a few, and bows between them had up to 2.2e-5.
    """
    assert alone.solved.all() and 0.0 < alone.error < 1e-5
    for index in range(0, plan.size, 7):
        found = walk(plan.made(plan.values(index)), accuracy=None)  # a study's mesh
        want = [found.force[-1], found.energy[-1], np.max(found.yield_share), found.string_length]
        got = alone.figures[
            index,
            [
                list(FIGURES).index(name)
                for name in ("weight", "energy", "yield_share", "string_length")
            ],
        ]
        np.testing.assert_allclose(got, want, rtol=5e-5)
    assert alone.middle[0] == pytest.approx(walk(plan.design).force[-1], rel=1e-6)


def test_same_with_two_workers_and_on_a_dask_cluster(plan, alone):
    told = []
    two = study(plan, workers=2, progress=lambda done, total: told.append((done, total)))
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as cluster,
        Client(cluster) as client,
    ):
        spread_out = study(plan, client.get_executor())
    for other in (two, spread_out):
        np.testing.assert_array_equal(other.values, alone.values)
        np.testing.assert_array_equal(other.figures, alone.figures)
    assert told[-1] == (24, 24) and [done for done, _ in told] == sorted(done for done, _ in told)


def test_another_seed_other_bows(plan):
    first = plan.values(3)
    assert np.array_equal(first, replace(plan, count=4).values(3))
    assert not np.any(first == replace(plan, seed=6).values(3))
    ends = np.array([(spread.low, spread.high) for spread in plan.spreads])
    many = np.array([plan.values(index) for index in range(400)])
    even = np.array([not spread.normal for spread in plan.spreads])
    assert np.all((many >= ends[:, 0]) & (many <= ends[:, 1]) | ~even)
    # a normal spread has its standard deviation, of 400 bows to some 4 %
    deviation = 0.5 * (ends[:, 1] - ends[:, 0])
    np.testing.assert_allclose(many.std(axis=0)[~even], deviation[~even], rtol=0.1)
    np.testing.assert_allclose(many.mean(axis=0), ends.mean(axis=1), rtol=0.02)


def test_failures_are_told_and_lose_no_other(wagtail):
    """Draws beyond what the bow reaches, and marks beyond the pipe, stand beside good bows."""
    spreads = (
        Spread("limb.marks.2.at", 0.55, 0.70, count=2),
        Spread("draw.length", 0.65, 1.15, count=2),
    )
    found = study(Plan(wagtail, spreads), workers=1)
    assert found.solved.tolist() == [True, False, False, False]
    assert found.reasons[1].startswith("before a draw of")
    assert all(
        reason.startswith("not a valid design: limb.marks.2.at") for reason in found.reasons[2:]
    )
    assert np.isnan(found.figures[1:]).all() and np.isfinite(found.figures[0, :-1]).all()
    assert np.isnan(found.figures[0, -1])  # no arrow was shot
    assert found.share_within(0.0, 1e6) == 0.25


def test_goes_on_where_it_was_stopped(plan, alone, tmp_path):
    file = tmp_path / "bows.part"

    class Stopped(Exception):
        pass

    def stop(done, total):
        if done >= 6:
            raise Stopped

    with pytest.raises(Stopped):
        study(plan, workers=1, progress=stop, keep=file)
    begun = file.read_bytes()
    file.write_bytes(begun[:-5])  # the last record half written
    told = []
    again = study(plan, workers=1, progress=lambda done, _: told.append(done), keep=file)
    assert 0 < told[0] and len(set(told)) == len(told) and told[-1] == plan.size
    np.testing.assert_array_equal(again.figures, alone.figures)
    assert again.reasons == alone.reasons
    whole = file.read_bytes()
    assert whole[: len(begun) - 5] == begun[:-5]
    # all is there: nothing is made, nothing is added
    np.testing.assert_array_equal(study(plan, workers=1, keep=file).figures, alone.figures)
    assert file.read_bytes() == whole
    # spoilt in the middle: from there on it is made again
    file.write_bytes(whole[:300] + b"?" + whole[301:])
    np.testing.assert_array_equal(study(plan, workers=1, keep=file).figures, alone.figures)
    with pytest.raises(InputError, match="same study"):
        study(replace(plan, seed=plan.seed + 1), workers=1, keep=file)
    file.write_text("something else")
    with pytest.raises(InputError, match="new file"):
        study(plan, workers=1, keep=file)
    assert file.read_text() == "something else"


class Losing(Executor):
    """Loses the worker of every other call."""

    def __init__(self):
        self.calls = 0
        self.pool = ThreadPoolExecutor(1)

    def submit(self, fn, /, *args, **kwargs):
        self.calls += 1
        if self.calls % 2:
            return self.pool.submit(fn, *args, **kwargs)
        lost = Future()
        lost.set_exception(MemoryError("no room"))
        return lost


def test_bows_of_a_lost_worker_are_made_again(wagtail):
    plan = Plan(wagtail, (Spread("handle.set", -0.02, 0.02),), 4)
    found = study(plan, Losing())
    assert found.solved.all()
    np.testing.assert_array_equal(found.figures, study(plan, workers=1).figures)


def test_what_is_lost_again_and_again_is_told(wagtail):
    plan = Plan(wagtail, (Spread("handle.set", -0.02, 0.02),), 4)
    losing = Losing()
    losing.submit = lambda fn, *args, **kwargs: Losing.submit(_even(losing), fn, *args)
    found = study(plan, losing)
    assert not found.solved.any()
    assert found.reasons[1] == "its worker was lost 3 times: MemoryError: no room"


def _even(losing):
    losing.calls = 1
    return losing


def test_a_killed_worker_loses_nothing(wagtail):
    # of our own pool: one process is killed while bows are made
    plan = Plan(wagtail, (Spread("handle.set", -0.02, 0.02),), 400)
    killed = []

    def kill(done, total):
        if not killed:
            child = next(
                int(each.name)
                for each in Path("/proc").iterdir()
                if each.name.isdecimal() and _parent(each) == os.getpid()
            )
            os.kill(child, signal.SIGKILL)
            killed.append(child)

    found = study(plan, workers=2, progress=kill)
    assert killed and found.solved.all()
    np.testing.assert_array_equal(found.figures, study(plan, workers=1).figures)


def _parent(process):
    try:
        return int((process / "stat").read_text().rpartition(")")[2].split()[1])
    except OSError:
        return -1


def test_sections_of_a_grid_and_of_a_normal_spread(wagtail):
    grid = (Spread("pipe.wall", 3.0e-3, 3.2e-3, 2), Spread("material.temperature", 288, 303, 2))
    plan = Plan(wagtail.with_value("material.temperature", "20 C"), grid)
    extremes, between = plan.extremes()
    assert len(extremes) == plan.size == 4 and not between
    found = study(plan, workers=1)
    assert found.error < 1e-6
    weight = found.figures[:, 0].reshape(2, 2)
    assert np.all(np.diff(weight, axis=0) > 0.0) and np.all(np.diff(weight, axis=1) < 0.0)
    wide = Plan(wagtail, (Spread("material.stiffness", 0.9, 1.1, normal=True),), 5)
    extremes, between = wide.extremes()
    assert between and [x[0] for x in extremes] == pytest.approx([0.6, 1.4])
    pipe, law = wide.pair(np.array([1.2]))
    assert pipe == Pipe(wagtail.pipe.outer_diameter, wagtail.pipe.wall, wagtail.pipe.name)
    assert law == RIGID_PVC.scaled(1.2)


def test_ranking_of_a_linear_figure_of_normal_causes(wagtail):
    """Rank correlation of normal variables is 6/pi asin(rho/2) (Pearson 1907, from memory)."""
    keys = ("handle.set", "pipe.cut_length", "draw.length")
    plan = Plan(wagtail, tuple(Spread(key, 0.5, 1.5, normal=True) for key in keys), 40_000)
    values = np.random.default_rng(2).normal(size=(plan.count, 3))
    figures = np.zeros((plan.count, len(FIGURES)))
    figures[:, 0] = values @ [4.0, -3.0, 0.0]
    made = Study(plan, values, figures, ("",) * plan.count, figures[0], 0.0)
    want = (6.0 / np.pi * np.arcsin(0.5 * np.array([0.8, 0.6, 0.0]))) ** 2
    np.testing.assert_allclose(made.variance_shares(), want, atol=0.01)
    assert np.isnan(made.variance_shares("energy")).all()  # it does not vary


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("handle.set = +-1 deg", -np.pi / 180, np.pi / 180),
        ("limb.marks.1.thickness=0.7 in..0.9 in", 0.7 * 0.0254, 0.9 * 0.0254),
        ("pipe.wall=tolerance", 0.113 * 0.0254, 3.38e-3),
        ("pipe.outer_diameter=tolerance", 1.046 * 0.0254, 1.054 * 0.0254),
        ("material.modulus=2.5 GPa..3.7 GPa", 2.5e9, 3.7e9),
        ("material.stiffness=normal 0.1", 0.9, 1.1),
        ("draw.length=26 in..28 in:3", 26 * 0.0254, 28 * 0.0254),
    ],
)
def test_spreads_from_text(wagtail, text, low, high):
    spread = Spread.from_text(wagtail, text)
    assert (spread.low, spread.high) == pytest.approx((low, high))
    assert spread.normal == ("normal" in text) and spread.count == 3 * (":3" in text)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("handle.set", "KEY="),
        ("no.such=+-1 mm", "a key"),
        ("name=+-1 mm", "a number"),
        ("handle.set=+-1", "deg"),
        ("handle.set=about 2 deg", "normal SD"),
        ("handle.set=tolerance", "pipe.wall"),
        ("handle.set=2 deg..1 deg", "lower end"),
        ("draw.length=26 in..28 in:x", "COUNT"),
        ("draw.length=26 in..28 in:1", "at least 2"),
        ("material.temperature=+-3 C", "LOW..HIGH"),
        ("string.strands=12..14", "by degrees"),
    ],
)
def test_spreads_refused(wagtail, text, told):
    with pytest.raises(InputError) as error:
        Spread.from_text(wagtail, text)
    assert told in str(error.value)


def test_plans_refused(wagtail):
    one, grid = Spread("handle.set", -0.1, 0.1), Spread("draw.length", 0.6, 0.7, count=3)
    for spreads in ((), (one, one), (one, grid)):
        with pytest.raises(InputError, match="--vary"):
            Plan(wagtail, spreads)
    with pytest.raises(InputError, match="count"):
        Plan(wagtail, (one,), 0)
    with pytest.raises(InputError, match="workers"):
        study(Plan(wagtail, (one,), 1), workers=0)


def test_symmetry_is_given_up_where_a_spread_breaks_it(wagtail):
    found = study(Plan(wagtail, (Spread("handle.offset", 0.005, 0.01),), 2, seed=1), workers=1)
    want = walk(found.plan.made(found.values[0])).force[-1]
    assert found.figures[0, 0] == pytest.approx(want, rel=1e-7)
