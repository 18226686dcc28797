"""Learning from a finished bow: the truth is found, the worth of a measurement is what it says."""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.learning import asked, invented, spoilt, trials
from bowfem.bow import walk
from bowfem.design import Design, Side
from bowfem.errors import DesignError, InputError
from bowfem.findings import fade_gaps, moved_sideways
from bowfem.orders.calibration import learn
from bowfem.orders.corrections import tiller_of
from bowfem.orders.measured import Measurement, measurements_from_toml
from bowfem.orders.unknowns import changed, prior, sections_about


@pytest.fixture(scope="module")
def wagtail(root):
    return Design.from_file(root / "examples/designs/wagtail.toml")


@pytest.fixture(scope="module")
def sections(wagtail):
    return sections_about(wagtail)


def test_truth_lies_within_the_stated_band():
    """Of 20 invented bows 19 are expected in the joint 95 % region, fewer than 17 once in 60 times.

    The seed is fixed, so the count is too; `python -m benchmarks.learning` makes 300.
    """
    joint, weight, refused = trials(20)
    assert joint >= 17 and weight >= 17 and refused <= 1


def test_exact_measurements_of_a_whole_walk_find_the_bow(wagtail, sections):
    """Walked with sections of its own, measured all but exactly: prior knowledge has no say."""
    truth = np.array([0.06, -0.1e-3, 0.3e-3])
    bow = changed(wagtail, truth)
    found, pipe = walk(bow), bow.pipe
    # a round pipe on two supports, by the handbook; the wall's shear adds less than 1 % here
    E = 2.9e9 * np.exp(truth[0])
    span, load = 0.8, 20.0
    sag = load * span**3 / (48.0 * E * pipe.second_moment)
    measured = [
        Measurement("weight", float(found.force[-1]), 1e-3, draw=float(found.draw[-1])),
        Measurement("weight", found.weight_at(0.5), 1e-1, draw=0.5),
        Measurement("string", found.string_length, 1e-6),
        Measurement("along", float(found.limbs[0].y[0, -1]), 1e-3),
        Measurement("sag", sag, 0.01 * sag, span=span, load=load),
    ]
    got = learn(wagtail, measured, families=sections)
    assert np.all(np.abs(got.estimate - truth) < np.array([0.01, 0.03e-3, 0.06e-3]))
    assert got.weight == pytest.approx(found.force[-1], rel=1e-4)
    assert np.all(got.error < prior(wagtail)[:3])


def test_worth_of_a_measurement_is_what_making_it_brings(wagtail, sections):
    """The variance falls by what was promised: exactly so in a linear model (Bayes' rule)."""
    first = asked(wagtail)[1:2]
    first = [replace(first[0], value=90.0, error=2.0)]
    got = learn(wagtail, first, families=sections)
    assert got.worth[0][0] == "weight at full draw"
    again = [*first, Measurement("weight", got.weight, 2.0, draw=wagtail.pivot_draw)]
    better = learn(wagtail, again, families=sections)
    left = (better.weight_error / got.weight_error) ** 2
    assert left == pytest.approx(1.0 - got.worth[0][1], abs=0.01)


def test_corrections_meet_the_order(wagtail, sections):
    measured = [Measurement("weight", 165.0, 1.0, draw=wagtail.pivot_draw)]
    got = learn(wagtail, measured, 158.0, sections)
    assert len(got.corrections) >= 2
    names = [each.move.name for each in got.corrections]
    assert any("puffed up" in name for name in names)
    assert not {"warmer", "thicker wall", "longer cut"} & {*names}
    for each in got.corrections:
        bow = walk(each.move.lever.change(got.design, each.amount))
        assert bow.force[-1] == pytest.approx(158.0, rel=2e-3)
        assert np.max(bow.yield_share) == pytest.approx(each.yield_share, rel=1e-3)


def test_a_named_size_is_known_worse_than_a_measured_pipe(wagtail):
    by_size = prior(wagtail)
    given = prior(
        wagtail.with_values(
            {"pipe.outer_diameter": "26.7 mm", "pipe.wall": "3.1 mm", "material.stiffness": 1.1}
        )
    )
    assert given[0] < by_size[0] and given[1] < by_size[1]
    # an even spread's deviation is its width over the root of 12
    assert by_size[1] == pytest.approx((3.38e-3 - 0.113 * 0.0254) / 12**0.5)


GOOD = """
[[weight]]
draw = "28 in"
force = "36 lbf"
[[string]]
length = "43.4 in"
error = "1/16 in"
[[tip]]
limb = "lower"
toward = "-1 in"
along = "21 in"
[[hang]]
span = "20 in"
weight = "10 lbf"
sag = "2.6 mm"
[[tiller]]
upper = "5.1 in"
lower = "5 in"
[[unbraced]]
toward = "-1/4 in"
[[pressed]]
at = "21 in"
thickness = "8 mm"
[[weighed]]
length = "24 in"
mass = "0.46 lb"
[[wall]]
thickness = "3 mm"
"""


def test_file_of_measurements(wagtail):
    weight, string, toward, along, sag, *more = measurements_from_toml(GOOD, wagtail)
    kinds = ["gap", "gap", "rest toward", "pressed", "mass", "wall"]
    assert [each.kind for each in more] == kinds
    assert [each.side for each in more[:2]] == list(Side)
    assert more[4].error == pytest.approx(0.015 * 0.46 * 0.45359237)
    assert weight.draw == pytest.approx(26.25 * 0.0254)  # AMO: 1.75 in beyond the pivot
    assert (weight.value, weight.error) == pytest.approx((36 * 4.4482216, 2.0))
    assert string.error == pytest.approx(0.0254 / 16)
    assert (toward.side, toward.kind, along.kind) == (Side.LOWER, "toward", "along")
    assert toward.value == pytest.approx(-0.0254)
    assert sag.error == pytest.approx(0.02 * 2.6e-3)


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("", "file"),
        ("[[mass]]\nvalue = 1", "mass"),
        ('[weight]\ndraw = "28 in"', "weight"),
        ('[[weight]]\ndraw = "28 in"', "weight.1.force"),
        ('[[weight]]\ndraw = "5 in"\nforce = "3 lbf"', "weight.1.draw"),
        ('[[weight]]\ndraw = "28 in"\nforce = "3 kg"', "weight.1.force"),
        ('[[weight]]\ndraw = "28 in"\nforce = "-3 lbf"', "weight.1.value"),
        ('[[brace]]\nheight = "6 in"', "brace.1.height"),
        ("[[tip]]", "tip.1.toward"),
        ('[[tip]]\nlimb = "left"\ntoward = "1 in"', "tip.1.limb"),
        ('[[hang]]\nspan = "20 in"\nweight = "9 lbf"\nsag = "2 in"', "hang.1.sag"),
        ('[[string]]\nlength = "43 in"\nerror = "0 in"\nlenght = "2 in"', "string.1.lenght"),
    ],
)
def test_files_refused(wagtail, text, key):
    with pytest.raises(DesignError) as error:
        measurements_from_toml(text, wagtail)
    assert key in [fault.key for fault in error.value.faults]


def test_order_refused(wagtail):
    with pytest.raises(InputError, match="weight"):
        learn(wagtail, [Measurement("weight", 165.0, 1.0, draw=0.6)], -1.0)


@pytest.mark.parametrize(
    ("way", "kind", "slip"),
    [
        (0, "weight", "newtons, written as pounds"),
        (1, "weight", "pounds, written as newtons"),
        (2, "weight", ""),
        (3, "string", "centimetres"),
        (4, "sag", ""),
    ],
)
def test_a_wrong_unit_is_refused_by_name(sections, way, kind, slip):
    design, _, _, measured = invented(way, sections, seed=3)
    assert learn(design, measured, families=sections).plausible
    found = learn(design, spoilt(measured, way), 150.0, sections)
    assert not found.plausible and found.corrections == ()
    names = {spoilt(measured, way)[each.number].kind for each in found.suspects}
    assert names == {kind}
    assert all(slip in each.slip for each in found.suspects)


def test_a_mark_pressed_nearly_shut_does_not_stall(wagtail, sections):
    """Told a weight a fifth low, the bow is a fifth weaker: not the one that was meant."""
    thin = wagtail.with_value("limb.marks.2.thickness", 2.02 * wagtail.pipe.wall)
    # pressed further it is shut, and no thinner than that
    pressed = changed(thin, [0.0, 0.1e-3, -1e-3])
    assert pressed.limb.marks[1].thickness == pytest.approx(2.0 * pressed.pipe.wall, abs=1e-12)
    meant = learn(thin, [Measurement("wall", wagtail.pipe.wall, 1e-5)], families=sections).weight
    told = Measurement("weight", 0.85 * meant, 0.5, draw=thin.pivot_draw)
    got = learn(thin, [told], families=sections)
    assert got.weight == pytest.approx(0.85 * meant, rel=5e-3)
    half = replace(told, value=0.3 * meant)
    assert not learn(thin, [half], families=sections).plausible


def test_the_pipe_alone_narrows_the_weight(wagtail, sections):
    """Nothing is heated yet: an offcut and a wall take most of the variance, as was promised."""
    nothing = learn(wagtail, [Measurement("wall", wagtail.pipe.wall, 1.0)], families=sections)
    promised = dict(nothing.worth)
    thick = changed(wagtail, [0.1, 0.0, 0.0])
    stiff = float(thick.material.stress_and_tangent(0.0)[1]) * wagtail.pipe.second_moment
    sag = 20.0 * 0.534**3 / (48.0 * stiff)
    hung = Measurement("sag", sag, 0.02 * sag, span=0.534, load=20.0)
    got = learn(wagtail, [hung], families=sections)
    assert got.estimate[0] == pytest.approx(0.1, abs=0.02)
    left = (got.weight_error / nothing.weight_error) ** 2
    assert left == pytest.approx(
        1.0 - promised["sag of an offcut with a weight hung on it"], abs=0.1
    )
    assert got.before_error == pytest.approx(nothing.before_error, rel=1e-6)
    assert got.weight_error < 0.6 * got.before_error


def test_tiller_and_rest_tell_of_limbs_and_set(wagtail, sections):
    truth = [0.0, 0.0, 0.0, 0.4e-3, np.deg2rad(1.5)]
    found = walk(changed(wagtail, truth))
    fade = max(shape.fade_end for shape in found.design.limbs)
    gaps = [
        Measurement("gap", float(np.interp(fade, limb.s, limb.clearance[0])), 1e-4, side=side)
        for side, limb in zip(Side, found.limbs, strict=True)
    ]
    rest = Measurement("rest toward", float(found.limbs[0].unbraced_x[-1]), 1e-3)
    got = learn(wagtail, [*gaps, rest], families=sections)
    assert got.names[3:] == ("limbs apart", "set")
    assert got.estimate[3] == pytest.approx(0.4e-3, abs=0.1e-3)
    assert got.estimate[4] == pytest.approx(np.deg2rad(1.5), abs=np.deg2rad(0.2))


def test_a_push_sideways_is_read_and_tells_of_the_wall(wagtail, sections):
    text = """
[[sideways]]
push = "2 lbf"
moved = "{:.8f} m"
[[sideways]]
limb = "lower"
strung = false
push = "2 lbf"
moved = "{:.8f} m"
error = "0.1 mm"
"""
    truth = np.array([0.05, -0.15e-3, 0.0])
    found = walk(changed(wagtail, truth))
    ways = [moved_sideways(found, Side.UPPER, 8.896443230521, strung=on) for on in (True, False)]
    measured = measurements_from_toml(text.format(*ways), wagtail)
    assert [each.kind for each in measured] == ["sideways", "sideways unstrung"]
    assert measured[0].error == pytest.approx(0.1 * ways[0]) and measured[1].side is Side.LOWER
    got = learn(wagtail, measured, families=sections)
    # one figure does not tell modulus from wall, but narrows the weight they make together
    assert got.plausible and got.weight_error < 0.6 * got.before_error
    assert abs(got.weight - found.force[-1]) < 2.0 * got.weight_error


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ('push = "0 lbf"\nmoved = "1 in"', "sideways.1.push"),
        ('push = "1 lbf"\nmoved = "-1 in"', "sideways.1.value"),
        ('push = "1 lbf"\nmoved = "1 in"\nstrung = "yes"', "sideways.1.strung"),
        ('push = "1 lbf"', "sideways.1.moved"),
    ],
)
def test_a_push_that_cannot_be_is_refused(wagtail, line, key):
    with pytest.raises(DesignError) as refused:
        measurements_from_toml(f"[[sideways]]\n{line}\n", wagtail)
    assert [fault.key for fault in refused.value.faults] == [key]


def test_tiller_is_brought_back(wagtail, sections):
    """A bow whose upper limb came out thicker: each move walked again brings the tiller meant."""
    uneven = wagtail.with_values(
        {"limb.marks.1.thickness": "20.32 mm", "limb.marks.2.thickness": "8.1 mm"}
    )
    uneven = replace(uneven, lower=wagtail.limb)
    found = walk(uneven)
    _, (upper, lower) = fade_gaps(found)
    assert upper < lower - 1e-4  # the stiffer limb stands nearer to the string (C)
    measured = [
        Measurement("gap", upper, 3e-4, side=Side.UPPER),
        Measurement("gap", lower, 3e-4, side=Side.LOWER),
        Measurement("weight", float(found.force[-1]), 1.0, draw=uneven.pivot_draw),
    ]
    got = learn(wagtail, measured, families=sections)
    assert got.plausible and got.tiller[1] == pytest.approx(0.0, abs=1e-6)
    assert got.tiller[0] == pytest.approx(upper - lower, abs=3e-4)
    assert got.tiller_corrections
    for each in got.tiller_corrections:
        changed = walk(each.move.lever.change(got.design, each.amount), accuracy=None)
        assert tiller_of(changed) == pytest.approx(0.0, abs=2e-4)
        assert changed.force[-1] == pytest.approx(each.weight, rel=1e-4)
        assert ("upper" in each.move.name) == (each.amount < 0.0) or "limb" not in each.move.name
    assert learn(wagtail, measured[2:], families=sections).tiller_corrections == ()
