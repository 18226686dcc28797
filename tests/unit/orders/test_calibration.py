"""Learning from a finished bow: the truth is found, the worth of a measurement is what it says."""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.learning import asked, trials
from bowfem.bow import walk
from bowfem.design import Design, Side
from bowfem.errors import DesignError, InputError
from bowfem.orders.calibration import changed, learn, prior, sections_about
from bowfem.orders.measured import Measurement, measurements_from_toml


@pytest.fixture(scope="module")
def wagtail(root):
    return Design.from_file(root / "examples/designs/wagtail.toml")


@pytest.fixture(scope="module")
def sections(wagtail):
    return sections_about(wagtail)


def test_truth_lies_within_the_stated_band():
    """Of 20 invented bows 19 are expected in the joint 95 % region, fewer than 17 once in 60 times.

    The seed is fixed, so the count is too; `python -m benchmarks.learning` makes 200.
    """
    joint, weight = trials(20)
    assert joint >= 17 and weight >= 17


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
    assert np.all(got.error < prior(wagtail))


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
"""


def test_file_of_measurements(wagtail):
    weight, string, toward, along, sag = measurements_from_toml(GOOD, wagtail)
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
