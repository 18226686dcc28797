"""Two limbs in balance: mirror, statics, energy, an independent solution, tuning."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq, root

from benchmarks.survey import makers
from benchmarks.survey.wild import bow
from bowfem.bow import Ending, GivesWay, LimbModel, brace, walk
from bowfem.bow.balance import Balance
from bowfem.bow.bracing import BraceError
from bowfem.bow.walking import _ending
from bowfem.design import Design, Side
from bowfem.errors import ConvergenceError
from bowfem.findings.tuning import Tuning
from bowfem.rod import Settings, clamp, pull, rest_length

#: A material that does not yield, or these bows would fold first.
ELASTIC = {"material.law": "linear", "material.modulus": "2.9 GPa"}
DESIGNS = Path(__file__).parents[3] / "examples" / "designs"
INCH = 0.0254
TIGHT = Settings(tolerance=1e-13)
UNEQUAL = {
    "handle.offset": "1/2 in",
    "handle.pivot_height": "-1/2 in",
    "handle.arrow_height": "1-3/4 in",
    "string.nock_height": "1/4 in",
    "nock.lower_inset": "1 in",
}


def example(name: str) -> Design:
    return Design.from_file(DESIGNS / f"{name}.toml")


def with_lower(design: Design, **changes: str) -> Design:
    """Give a design a lower limb of its own: the upper one with changes."""
    design = dataclasses.replace(design, lower=design.limb)
    return design.with_values({f"lower.{key}": value for key, value in changes.items()})


def thinner_below(name: str) -> Design:
    design = with_lower(example(name).with_values(UNEQUAL))
    last = len(design.limb.marks)
    return design.with_value(f"lower.marks.{last}.thickness", "0.28 in")


@pytest.fixture(scope="module")
def unequal() -> Design:
    return thinner_below("wagtail")


@pytest.fixture(scope="module")
def unequal_curls() -> Design:
    return thinner_below("curlew")


@pytest.mark.parametrize("name", ["wagtail", "curlew", "dunlin"])
def test_equal_limbs_are_the_symmetric_bow(name):
    # tolerance: that of the solver, in shares of the largest value
    one = walk(example(name), settings=TIGHT)
    two = walk(example(name), settings=TIGHT, both_limbs=True)
    assert one.is_symmetric and not two.is_symmetric
    for key in ("draw", "force", "tension", "energy", "string_energy"):
        values = getattr(one, key)
        np.testing.assert_allclose(
            getattr(two, key), values, rtol=0, atol=1e-9 * np.abs(values).max(), err_msg=key
        )
    for limb, side in zip(two.limbs, (1.0, -1.0), strict=True):
        for key, sign in (("x", 1.0), ("y", side), ("moment", 1.0), ("strain_back", 1.0)):
            if name == "curlew" and key in ("moment", "strain_back"):
                continue  # where elements are cut as contact ends depends on the way there
            values = getattr(one.limbs[0], key)
            np.testing.assert_allclose(
                getattr(limb, key), sign * values, rtol=0, atol=1e-8 * np.abs(values).max()
            )
    assert two.string_length == pytest.approx(one.string_length, rel=1e-10)
    assert two.brace_height == pytest.approx(one.brace_height, rel=1e-12)


@pytest.mark.parametrize("name", ["unequal", "unequal_curls"])
def test_upside_down_is_the_mirror_image(name, request):
    design = request.getfixturevalue(name)
    one, two = walk(design), walk(design.upside_down())
    assert design.upside_down().upside_down() == design
    for key, sign in (("draw", 1), ("force", 1), ("energy", 1), ("nock_x", 1), ("nock_y", -1)):
        values = getattr(one, key)
        scale = max(np.abs(values).max(), 1e-3)
        np.testing.assert_allclose(getattr(two, key), sign * values, rtol=0, atol=1e-9 * scale)
    for limb, other in zip(one.limbs, reversed(two.limbs), strict=True):
        for key, sign in (("x", 1), ("y", -1), ("moment", 1), ("stress_belly", 1), ("tension", 1)):
            values = getattr(limb, key)
            np.testing.assert_allclose(
                getattr(other, key), sign * values, rtol=0, atol=1e-8 * np.abs(values).max()
            )
    first, second = Tuning.from_walk(one), Tuning.from_walk(two)
    assert second.tiller == pytest.approx(-first.tiller, abs=1e-9)
    np.testing.assert_allclose(second.rotation, -first.rotation, atol=1e-9)
    np.testing.assert_allclose(second.nock_travel, -first.nock_travel, atol=1e-10)
    assert {first.late, second.late} == set(Side)


@pytest.mark.parametrize("name", ["unequal", "unequal_curls"])
def test_hand_and_fingers_share_a_line(name, request):
    found = walk(request.getfixturevalue(name))
    design = found.design
    assert found.ending is Ending.COMPLETE
    pivot = np.array([design.pivot_distance, design.handle.pivot_height])
    # statics from the strings' own directions: no pull of the solver's enters
    force = np.zeros((found.draw.size, 2))
    for limb in found.limbs:
        way = np.stack([found.nock_x - limb.string_x[:, 0], found.nock_y - limb.string_y[:, 0]])
        force += (limb.tension * way / np.hypot(*way)).T
    arm = np.stack([found.nock_x, found.nock_y], axis=-1) - pivot
    moment = arm[:, 0] * force[:, 1] - arm[:, 1] * force[:, 0]
    free = np.all([np.isnan(limb.contact[:, 1, 0]) for limb in found.limbs], axis=0)
    assert np.count_nonzero(free) > 5
    scale = found.tension * found.draw
    assert np.abs(moment / scale)[free].max() < 1e-9
    np.testing.assert_allclose(np.hypot(*force[free].T), found.force[free], rtol=1e-9, atol=1e-7)
    # and by the solver's own account at every state, contact or not
    assert np.abs(found.across / found.tension).max() < 1e-9
    assert found.force[0] == pytest.approx(0.0, abs=1e-9 * found.tension[0])
    np.testing.assert_allclose(np.hypot(*arm.T), found.draw, rtol=1e-12)


@pytest.mark.parametrize("name", ["unequal", "unequal_curls"])
def test_work_of_the_fingers_is_the_energy_gained(name, request):
    # first law; what is left is the quadrature of the draw curve. The drawn distance is that to
    # the pivot: the force has no part across.
    found = walk(request.getfixturevalue(name), step=0.004)
    assert found.energy_at(found.draw[-1]) == pytest.approx(found.energy[-1], rel=1e-6)
    assert np.all(np.diff(found.force) > 0.0)


def test_brace_height_and_square_are_as_designed(unequal):
    found = walk(unequal)
    assert found.brace_height == pytest.approx(6 * INCH, rel=1e-11)
    # at rest the two strings are one straight line
    tips = [np.array([limb.string_x[0, 0], limb.string_y[0, 0]]) for limb in found.limbs]
    nock = np.array([found.nock_x[0], found.nock_y[0]])
    pivot = np.array([unequal.pivot_distance, unequal.handle.pivot_height])
    arrow = pivot + np.array([0.0, unequal.handle.arrow_height])
    along = (tips[0] - tips[1]) / np.hypot(*(tips[0] - tips[1]))
    across = np.array([along[1], -along[0]])
    assert (nock - tips[1]) @ across == pytest.approx(0.0, abs=1e-11)
    assert (nock - pivot) @ across == pytest.approx(6 * INCH, rel=1e-11)
    assert (nock - arrow) @ along == pytest.approx(0.25 * INCH, abs=1e-11)
    assert found.limbs[0].tension[0] == pytest.approx(found.limbs[1].tension[0], rel=1e-11)
    assert abs(along[0]) > 1e-4  # unequal limbs: the string leans


def test_string_length_and_brace_height_are_two_ways_to_say_one_thing(unequal):
    given = walk(unequal)
    back = walk(unequal.with_value("string.length", given.string_length))
    assert back.brace_height == pytest.approx(given.brace_height, rel=1e-8)
    assert back.force[-1] == pytest.approx(given.force[-1], rel=1e-8)


def test_string_too_long_for_two_limbs_is_refused(unequal):
    with pytest.raises(ConvergenceError, match="too long"):
        walk(unequal.with_value("string.length", "46.2 in"))


def test_two_half_bows_and_one_balance(unequal):
    # independent of Balance: rods pulled from rest, and the equations of a bow at rest and drawn
    # written out and handed to SciPy
    found = walk(unequal, refine=1, settings=TIGHT)
    models = [LimbModel.from_design(unequal, side=side) for side in Side]
    pivot = np.array([unequal.pivot_distance, unequal.handle.pivot_height])
    paths = {}

    def strings(nock, lengths):
        """Forces on the nock point of upper and lower string, x toward the archer, y up."""
        forces = []
        for i, (model, side) in enumerate(zip(models, (1.0, -1.0), strict=True)):
            place = [side * nock[1], nock[0]]
            start = paths.get(i)
            if start is None:  # from a string just taut on the unstrung limb
                slack = rest_length(model.rod, (place[0], place[1]))
                begin = (*place, float(slack))
                steps = np.linspace(slack, lengths[i], 30)
                start = pull(
                    model.rod,
                    [clamp(0)],
                    model.string,
                    [place] * 30,
                    steps,
                    begin=begin,
                    settings=TIGHT,
                )
            paths[i] = pull(
                model.rod,
                [clamp(0)],
                model.string,
                [place],
                lengths[i],
                begin=(0.0, 0.0, 0.0),
                start=start,
                settings=TIGHT,
            )
            along, across = -paths[i].pull[-1]
            forces.append(np.array([across, side * along]))
        return forces

    arrow = pivot + np.array([0.0, unequal.handle.arrow_height])

    def rest(unknown):
        nock, lengths = unknown[:2], unknown[2:]
        upper, lower = strings(nock, lengths)
        along = upper / np.hypot(*upper)
        across = np.array([along[1], -along[0]])
        height, square = (nock - pivot) @ across - 6 * INCH, (nock - arrow) @ along - 0.25 * INCH
        return [*(upper + lower) / 100.0, height, square]

    guess = [found.nock_x[0] + 0.002, found.nock_y[0] - 0.001, 0.545, 0.56]
    solved = root(rest, guess, tol=1e-13)
    assert np.abs(rest(solved.x)).max() < 1e-9
    assert sum(solved.x[2:]) == pytest.approx(found.string_length, rel=1e-8)
    nock = np.array([found.nock_x[0], found.nock_y[0]])
    np.testing.assert_allclose(solved.x[:2], nock, atol=1e-8)

    lengths = solved.x[2:]
    for state in (8, 20, found.draw.size - 1):
        draw = found.draw[state]

        def moment(angle, draw=draw):
            way = np.array([np.cos(angle), np.sin(angle)])
            fx, fy = sum(strings(pivot + draw * way, lengths))
            return fx * way[1] - fy * way[0]

        angle = brentq(moment, 0.0, 0.3, xtol=1e-14)
        way = np.array([np.cos(angle), np.sin(angle)])
        force = -sum(strings(pivot + draw * way, lengths)) @ way
        assert force == pytest.approx(found.force[state], rel=1e-7)
        place = [found.nock_x[state], found.nock_y[state]]
        np.testing.assert_allclose(pivot + draw * way, place, atol=1e-8)


def test_weaker_limb_bends_more_and_comes_toward_the_archer():
    # common practice, no source: the weaker limb has the larger tiller, and bends more in the draw
    found = walk(with_lower(example("wagtail"), **{"marks.2.thickness": "0.26 in"}))
    tuning = Tuning.from_walk(found)
    assert tuning.tiller < 0.0  # the lower limb stands further from the string
    # the pull runs through the pivot, so both limbs bear one moment there: the weaker bends more
    tips = [limb.x[:, -1] - limb.unbraced_x[-1] for limb in found.limbs]
    assert np.all(tips[1] > tips[0])
    assert tuning.late is Side.LOWER
    assert tuning.return_times[1] > tuning.return_times[0] > 1e-3


def test_tuning_of_a_symmetric_bow_is_even():
    found = walk(example("wagtail"), both_limbs=True)
    tuning = Tuning.from_walk(found)
    assert tuning.tiller == pytest.approx(0.0, abs=1e-9)
    assert np.abs(tuning.rotation).max() < 1e-9
    assert np.abs(tuning.nock_travel).max() < 1e-9
    assert tuning.late is None


def test_return_time_is_that_of_a_spring_and_mass():
    # closed form: a rigid limb of mass m turning by a small angle about the centre against an
    # energy U: kinetic m L^2/6 w^2 a^2 = U, quarter period pi / 2w
    limb = walk(example("wagtail")).limbs[0]
    s = np.linspace(0.0, 1.0, 2001)
    states = np.zeros((2, s.size))
    moved = states.copy()
    moved[1] = 1e-3 * s
    flat = dataclasses.replace(
        limb,
        s=s,
        x=moved,
        y=states,
        unbraced_x=0 * s,
        unbraced_y=0 * s,
        clearance=states,
        mass_per_length=np.full(s.size, 0.3),
        energy=np.array([0.0, 2e-4]),
    )
    found = dataclasses.replace(walk(example("wagtail")), limbs=(flat, flat))
    expected = np.pi / 2 * np.sqrt(0.3 / 6 * 1e-6 / 2e-4)
    assert Tuning.from_walk(found).return_times[0] == pytest.approx(expected, rel=1e-6)


def test_a_string_high_above_the_hand_turns_the_bow(unequal):
    # the pull runs through the pivot: with the nock point above it, the line falls as it is drawn
    high = unequal.with_values({"handle.arrow_height": "4 in", "string.nock_height": "1/2 in"})
    low = unequal.with_values({"handle.arrow_height": "-3 in", "string.nock_height": "-1/2 in"})
    up, down = (Tuning.from_walk(walk(design)) for design in (high, low))
    assert up.rotation[-1] < -0.01 < 0.01 < down.rotation[-1]


def test_limbs_that_cannot_be_balanced_end_the_walk_with_the_states_before(unequal):
    found = walk(unequal, 44 * INCH)
    assert found.ending in (Ending.FOLD, Ending.OVERBENT, Ending.TURNS_OVER)
    assert len(found.draw) > 20 and np.all(np.isfinite(found.force))
    assert found.message.startswith(found.design.name)
    if found.gives_way is not None:
        assert found.gives_way.side.value in found.message


def test_unstable_balance_is_told():
    # a pull of F at a short distance d from the pivot: turned by a small angle its energy falls by
    # F d / 2 times the angle squared, more than the string's resistance along the bow gives back
    bow = Balance.from_design(example("wagtail"), TIGHT, both=True)
    drawn, ended = bow.draw_to(brace(bow), [0.3, 0.5])
    assert drawn is not None and ended is Ending.COMPLETE
    bow.pivot = drawn.nock[-1] - np.array([0.004, 0.0])
    states, ended = bow.draw_to(drawn, [0.005])
    assert states is None and ended is Ending.TURNS_OVER


@pytest.mark.parametrize(
    ("design", "stands"), [(example("wagtail"), True), (bow(11, 144).with_values(ELASTIC), False)]
)
def test_a_braced_bow_stands_at_the_least_of_its_energy(design, stands):
    # both halves solved apart, with the nock point moved along the bow: one limb gains what the
    # other loses, to the first order; what is left tells whether they stand
    model = LimbModel.from_design(design)
    if stands:
        (path,) = brace(Balance.from_design(design, TIGHT)).limbs
    else:
        with pytest.raises(BraceError) as caught:
            walk(design)
        assert caught.value.ending is Ending.TURNS_OVER
        path = caught.value.status
    (x, y), length = path.nock[-1], path.string_length[-1]
    below, there, above = (
        np.sum(model.pulled([[x + move, y]], length, TIGHT, start=path).energy[-1])
        for move in (-1e-3, 0.0, 1e-3)
    )
    assert bool(below + above > 2.0 * there) == stands


@pytest.mark.parametrize("number", [157, 289])
def test_random_bows_of_two_limbs_are_refused_with_a_reason(number):
    with pytest.raises(BraceError) as caught:  # failed to converge once
        walk(bow(0, number))
    assert caught.value.ending in (Ending.TURNS_OVER, Ending.FOLD, Ending.OVERBENT)


def test_one_limb_gives_way_to_the_other():
    """A draw that ends unstable, with or without a limb that was seen to give way."""
    bow = Balance.from_design(example("lapwing"), TIGHT)
    states = brace(bow)
    ending, message = _ending(bow, states, Ending.TURNS_OVER, None)
    assert ending is Ending.TURNS_OVER and Ending.TURNS_OVER.text in message
    seen = GivesWay(0.5, 0.3, Ending.TURNS_OVER, Side.LOWER)
    ending, message = _ending(bow, states, Ending.GIVES_WAY, seen)
    assert ending is Ending.TURNS_OVER and "on the lower limb" in message


def test_two_limbs_lost_at_once_are_refused_by_name(monkeypatch):
    monkeypatch.setattr(Balance, "hold", lambda *words: Ending.NO_CONVERGENCE)
    with pytest.raises(BraceError, match="Lapwing: cannot be braced: no equilibrium") as caught:
        walk(example("lapwing"))
    assert caught.value.ending is Ending.NO_CONVERGENCE


@pytest.mark.parametrize("number", [3709, 4343])
def test_a_string_along_a_tip_that_widens_does_not_slip(number):
    # tips on edge grow wider outward; as the string lifts off the bend inside them it runs along
    # the tip, a quarter degree below the line of its axis: these bows were told to end there
    found = walk(makers.bow(0, number))
    assert found.ending is Ending.COMPLETE
    work = found.energy_at(float(found.draw[-1]))
    assert work == pytest.approx(float(found.energy[-1]), rel=1e-3)
