"""What time does to a bow: the correspondence principle, orders in the step, what comes back."""

import dataclasses

import numpy as np
import pytest

from benchmarks.cases import time_table
from benchmarks.survey.wild import bow as survey_bow
from bowfem.bow import Balance, Ending, Walk, brace, join, keep_diary, walk
from bowfem.bow.diary import _Limb
from bowfem.design import DiaryEntry
from bowfem.errors import BowfemError, ConvergenceError, InputError
from bowfem.rod import MomentTable, Settings
from bowfem.section import Memory, plastic_memory

HOUR = 3600.0
SOLID = Memory(np.array([0.6]), np.array([10.0]), 0.4)


def strung(lasts, **more):
    return DiaryEntry(what="strung", lasts=lasts, **more)


def drawn(lasts, times=1, **more):
    return DiaryEntry(what="drawn", lasts=lasts, times=times, **more)


def rest(lasts, **more):
    return DiaryEntry(what="rest", lasts=lasts, **more)


def test_a_bow_kept_strung_stands_still_and_its_tension_falls_as_the_plastic(wagtail):
    # correspondence principle: one memory, a string without stretch, a rod that only bends
    bow, _ = wagtail.solved
    model = bow.models[0]
    bare = dataclasses.replace(
        model.rod, stretch=0.0 * model.rod.stretch, shear=0.0 * model.rod.shear
    )
    model = dataclasses.replace(
        model, rod=bare, string=dataclasses.replace(model.string, EA=np.inf)
    )
    tight = Balance(wagtail.design, [model], Settings(tolerance=1e-12))
    braced = brace(tight)
    last, _ = tight.draw_to(braced, [float(wagtail.draw[-1])])
    made = Walk.from_states(tight, join([braced, last]), Ending.COMPLETE, None)
    # strung in no time, then looked at once: one step each
    memory = plastic_memory()
    entries = [strung(1e-9), *(strung(t) for t in (60.0, HOUR, 86400.0))]
    found = keep_diary(made, entries, memory, steps=2)
    time = np.array([each.time for each in found])
    tension = np.array([each.tension for each in found])
    late = time > 1e-3
    expected = float(braced.limbs[0].tension[0]) * memory.at(time)
    np.testing.assert_allclose(tension[late], expected[late], rtol=1e-8)
    heights = np.array([each.brace_height for each in found])
    assert np.ptp(heights) < 1e-8


class _Beam:
    """One station of a limb, with the law of a table."""

    def __init__(self, law, slope, memory, n=2001):
        k = np.linspace(-2.0, 2.0, n)[None, None, :] * np.ones((1, 4, 1))
        table = MomentTable(k, law(k), slope(k))
        rod = type("Rod", (), {"table": table, "EI": np.ones((1, 4))})()
        self.limb = _Limb(type("Model", (), {"rod": rod})(), memory)

    def bend(self, k, step):
        a, b = self.limb.law(step, 1.0)
        own = self.limb.table.moment_at(np.full((1, 4), k))[0]
        self.limb.keep(a * own + b, step, 1.0)
        return float((a * own + b)[0, 0])

    def load(self, moment, step):
        a, b = self.limb.law(step, 1.0)
        own = (moment - b) / a
        self.limb.keep(np.full((1, 4), moment), step, 1.0)
        return float(self.limb.table.bending_at(own)[0, 0])


def linear(memory):
    return _Beam(lambda k: k, np.ones_like, memory)


def test_relaxation_in_one_step_of_any_length():
    for time, left in time_table("standard_solid")["relaxation"].items():
        beam = linear(SOLID)
        beam.bend(1.0, 1e-9)
        moment = beam.bend(1.0, max(float(time), 1e-9))
        assert moment == pytest.approx(left, abs=1e-9)


def test_creep_and_recovery_have_order_2():
    table = time_table("standard_solid")
    errors = []
    for n in (40, 80, 160):
        beam, k = linear(SOLID), 0.0
        beam.load(1.0, 1e-9)
        for _ in range(n):
            k = beam.load(1.0, 30.0 / n)
        creep = k - table["creep"]["30"]
        beam.load(0.0, 1e-9)
        for _ in range(n):
            k = beam.load(0.0, 30.0 / n)
        back = k - table["recovery_after_30_s_of_unit_stress"]["30"]
        errors.append([abs(creep), abs(back)])
    assert np.max(errors[-1]) < 1e-5
    np.testing.assert_allclose(np.diff(np.log2(errors), axis=0), -2.0, atol=0.1)


def test_set_of_a_law_that_is_curved():
    # stress = int E(t - t') d tanh(strain): held at 0.8 for 30 s and let go (closed form)
    table, beam = time_table("nonlinear_memory"), _Beam(np.tanh, lambda k: np.cosh(k) ** -2, SOLID)
    beam.bend(0.8, 1e-9)
    beam.bend(0.8, 30.0)
    k = float(beam.limb.let_go(1e-9, 1.0)[0, 0])
    assert k == pytest.approx(table["set_at_once"], abs=1e-8)
    gone, errors = 0.0, []
    for time, kept in table["set_after"].items():
        n = 400
        for _ in range(n):
            k = float(beam.limb.let_go((float(time) - gone) / n, 1.0)[0, 0])
        gone = float(time)
        errors.append(abs(k - kept))
    assert max(errors) < 1e-5


def test_steps_cut_finer_change_little(wagtail):
    day = (strung(HOUR), drawn(30.0, 3), rest(12 * HOUR))
    coarse, fine = keep_diary(wagtail, day), keep_diary(wagtail, day, steps=12)
    for one, two in zip(coarse, fine, strict=True):
        assert (one.what, one.label) == (two.what, two.label)
        if one.what == "drawn":
            assert one.weight == pytest.approx(two.weight, rel=1e-4)
        if one.label == "an hour":
            assert one.tips[0] == pytest.approx(two.tips[0], rel=1e-2)


def test_what_a_maker_sees(wagtail):
    day = (strung(HOUR), drawn(3.0), rest(12 * HOUR))
    month = (*day, strung(30 * 86400.0), drawn(3.0), rest(86400.0))
    found = keep_diary(wagtail, month)
    weights = [each.weight for each in found if each.what == "drawn"]
    assert weights[1] < 0.95 * weights[0]  # a month strung takes pounds
    first, last = (
        {each.label: each.tips[0] for each in found if each.entry == entry} for entry in (2, 5)
    )
    assert first["at once"] > first["an hour"] > first["a night"] > 0.0
    assert first["a night"] < 0.1 * first["at once"]  # a day's comes back overnight
    assert last["a night"] > 0.3 * last["at once"]  # a month's does not
    # strung, the string keeps its length, and the brace height grows a little as the plastic gives
    tension = [each.tension for each in found if each.entry == 0]
    assert tension[1] < tension[0]


def test_no_memory_does_nothing(wagtail):
    found = keep_diary(
        wagtail,
        (strung(HOUR), drawn(3.0), rest(HOUR)),
        Memory(np.zeros(1), np.ones(1), 1.0),
    )
    for each in found:
        if each.what == "drawn":
            assert each.weight == pytest.approx(wagtail.force[-1], rel=1e-9)
        if each.what == "strung":
            assert each.tension == pytest.approx(wagtail.brace_tension, rel=1e-9)
        if each.what == "rest":
            assert abs(each.tips[0]) < 1e-9


def test_warmth_takes_weight_and_gives_it_back(wagtail):
    day = (strung(60.0), drawn(3.0), drawn(3.0, temperature=306.15), drawn(3.0))
    cold, warm, again = (each.weight for each in keep_diary(wagtail, day) if each.what == "drawn")
    assert warm == pytest.approx(0.9 * cold, rel=0.01)
    assert again == pytest.approx(cold, rel=0.01)


def test_unlike_limbs_and_their_mirror(lapwing):
    day = (strung(HOUR), drawn(3.0), rest(HOUR))
    found = keep_diary(lapwing, day)
    turned = keep_diary(walk(lapwing.design.upside_down()), day)
    for one, two in zip(found, turned, strict=True):
        np.testing.assert_allclose(one.weight, two.weight, rtol=1e-6)
        np.testing.assert_allclose(one.tips, two.tips[::-1], rtol=1e-5, atol=1e-9)


def test_refuses_what_it_cannot_know(wagtail, giving_way):
    with pytest.raises(ConvergenceError, match="not drawn in full"):
        keep_diary(giving_way)
    law = wagtail.design.with_values({"material.law": "linear", "material.modulus": 2.9e9})
    with pytest.raises(InputError, match="fades is not known"):
        keep_diary(dataclasses.replace(wagtail, design=law))
    with pytest.raises(InputError, match="steps"):
        keep_diary(wagtail, [drawn(3.0, 2000)] * 10)


def test_random_diaries_on_random_bows():
    rng, done = np.random.default_rng(7), 0
    for number in range(60):
        try:
            made = walk(survey_bow(2026, number))
        except BowfemError:
            continue
        if made.ending is not Ending.COMPLETE:
            continue
        entries = [
            DiaryEntry(
                what=str(rng.choice(["strung", "drawn", "rest"])),
                lasts=float(10.0 ** rng.uniform(0.5, 6.0)),
                times=int(rng.integers(1, 4)),
                every=float(10.0 ** rng.uniform(1.0, 4.0)),
            )
            for _ in range(4)
        ]
        longest = {"drawn": 300.0}
        entries = [
            dataclasses.replace(each, lasts=min(each.lasts, longest.get(each.what, np.inf)))
            for each in entries
        ]
        try:
            found = keep_diary(made, entries)
        except ConvergenceError as error:
            assert str(error)
            continue
        assert all(np.isfinite(each.weight) for each in found if each.what == "drawn")
        done += 1
    assert done >= 12
