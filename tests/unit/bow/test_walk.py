"""Walks of whole bows: energy, mesh, contact, early stops, and what is known in print."""

from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from bowfem.bow import Ending, LimbModel, walk
from bowfem.design import Design
from bowfem.errors import ConvergenceError, InputError
from bowfem.findings import hot_spots
from bowfem.findings.bending import hinge
from bowfem.findings.string_follow import StringFollow
from bowfem.section import SectionFamily, ovalising_response, pressed

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"
POUND = 4.4482216152605
INCH = 0.0254


@pytest.fixture(scope="module")
def wagtail() -> Design:
    return Design.from_file(DESIGNS / "wagtail.toml")


@pytest.fixture(scope="module")
def curlew() -> Design:
    return Design.from_file(DESIGNS / "curlew.toml")


@pytest.fixture(scope="module")
def dunlin() -> Design:
    return Design.from_file(DESIGNS / "dunlin.toml")


@pytest.mark.parametrize("name", ["wagtail", "curlew", "dunlin"])
def test_work_of_the_fingers_is_the_energy_gained(name, request):
    # first law: exact; what is left is the quadrature of the draw curve
    found = walk(request.getfixturevalue(name), step=0.004)
    assert found.ending is Ending.COMPLETE
    assert found.energy_at(found.draw[-1]) == pytest.approx(found.energy[-1], rel=1e-6)
    assert found.force[0] == pytest.approx(0.0, abs=1e-9 * found.tension[0])
    assert np.all(np.diff(found.force) > 0.0)


def test_pull_is_the_string_force_in_balance(wagtail):
    found = walk(wagtail)
    limb, _ = found.limbs
    # fingers against two strings: statics from the string's own direction
    dx = limb.string_x[:, -1] - limb.string_x[:, 0]
    dy = limb.string_y[:, -1] - limb.string_y[:, 0]
    np.testing.assert_allclose(
        found.force, 2 * found.tension * dx / np.hypot(dx, dy), rtol=1e-9, atol=1e-8
    )
    # moment at the bow's centre: tension times its lever about that point
    lever = (dy * limb.string_x[:, -1] - dx * limb.string_y[:, -1]) / np.hypot(dx, dy)
    np.testing.assert_allclose(limb.moment[:, 0], found.tension * np.abs(lever), rtol=1e-6)


@pytest.mark.parametrize(("name", "tolerance"), [("wagtail", 1e-4), ("curlew", 1e-5)])
def test_default_mesh_is_fine_enough(name, tolerance, request):
    design = request.getfixturevalue(name)
    coarse, fine = walk(design), walk(design, refine=3)
    np.testing.assert_allclose(coarse.force[1:], fine.force[1:], rtol=tolerance)


def test_short_flat_bow_draws_what_makers_report(wagtail):
    # common practice, no source: 48 in of 3/4 in Schedule 40, straight taper, 35 to 50 lb at 28 in
    found = walk(wagtail)
    assert 35.0 < found.force[-1] / POUND < 50.0
    linear = walk(wagtail.with_values({"material.law": "linear", "material.modulus": "2.9 GPa"}))
    assert linear.force[-1] > 1.1 * found.force[-1]


def test_string_lies_on_the_curl_at_brace_and_lifts_off(curlew):
    found = walk(curlew)
    limb, _ = found.limbs
    outer, inner = limb.contact[0, 1]
    assert inner < outer - 0.03 and limb.clearance[0].min() == pytest.approx(0.0, abs=1e-6)
    assert np.all(np.isnan(limb.contact[-1, 1]))
    length = np.where(
        np.isnan(limb.contact[:, 1, 0]), 0.0, limb.contact[:, 1, 0] - limb.contact[:, 1, 1]
    )
    assert np.all(np.diff(length) <= 1e-9)  # it peels off, draw by draw
    assert limb.pressure[0].max() > 0.0 and limb.pressure[-1].max() == 0.0


def test_force_is_smooth_through_lift_off(curlew):
    coarse, fine = walk(curlew, step=0.003), walk(curlew, step=0.003, refine=4)
    bound = np.abs(np.diff(fine.force, 2)).max()
    assert np.abs(np.diff(coarse.force, 2)).max() < 1.1 * bound
    assert np.abs(np.diff(coarse.force, 2) - np.diff(fine.force, 2)).max() < 0.05 * bound


def test_string_length_and_brace_height_are_two_ways_to_say_one_thing(curlew):
    given = walk(curlew)
    back = walk(curlew.with_value("string.length", given.string_length))
    assert back.brace_height == pytest.approx(given.brace_height, rel=1e-8)
    assert back.force[-1] == pytest.approx(given.force[-1], rel=1e-8)


def test_longer_stiff_middle_is_easier_on_the_limbs(wagtail):
    # Klopsteg, in print (trade facts, status S): same limbs and draw, longer stiff middle:
    # less fibre stress, less weight
    longer = wagtail.with_values(
        {
            "pipe.cut_length": "54 in",
            "handle.length": "11 in",
            "limb.marks.1.at": "7-1/2 in",
            "limb.marks.2.at": "26 in",
        }
    )
    short, long = walk(wagtail), walk(longer)
    assert long.force[-1] < short.force[-1]
    assert long.yield_share[-1] < short.yield_share[-1]


def test_of_equal_weight_bows_the_shorter_is_stressed_more(wagtail):
    # Hickman, in print (trade facts, status S): and its string tension at brace is lower. His limbs
    # get their weight by width; with a linear law a changed modulus does the same.
    def bow(inches: float, modulus: float):
        return walk(
            wagtail.with_values(
                {
                    "pipe.cut_length": f"{inches} in",
                    "limb.marks.2.at": f"{inches / 2 - 1} in",
                    "material.law": "linear",
                    "material.modulus": modulus,
                }
            )
        )

    strain, tension = [], []
    for inches in (48.0, 54.0, 60.0):
        modulus = brentq(
            lambda e, n=inches: bow(n, e).force[-1] - 40.0 * POUND, 1e9, 12e9, rtol=1e-6
        )
        found = bow(inches, modulus)
        strain.append(np.abs(found.limbs[0].strain_back[-1]).max())
        tension.append(found.brace_tension)
    assert strain[0] > strain[1] > strain[2]
    assert tension[0] < tension[1] < tension[2]


def test_walk_that_cannot_go_on_keeps_its_states(wagtail):
    found = walk(wagtail, 44 * INCH)
    assert found.ending is Ending.OVERBENT  # the thick-walled round handle, far past yield
    assert "from the bow's centre" in found.message and len(found.draw) > 20
    assert np.all(np.isfinite(found.force))
    assert found.gives_way is not None and found.gives_way.ending is Ending.OVERBENT
    assert found.gives_way.draw == pytest.approx(found.draw[-1], abs=1e-9)
    assert 0.95 < found.limbs[0].fold_share[-1].max() < 1.05  # the last state is at the end


def test_draw_short_of_brace_is_refused(wagtail):
    with pytest.raises(InputError, match="above the brace height"):
        walk(wagtail, 5 * INCH)


def test_string_too_long_is_refused_with_the_reason(wagtail):
    with pytest.raises(ConvergenceError, match="too long"):
        walk(wagtail.with_value("string.length", "46.4 in"))


def test_weight_between_states_and_outside_the_walk(wagtail):
    found = walk(wagtail)
    middle = 0.5 * (found.draw[10] + found.draw[11])
    exact = walk(wagtail, middle).force[-1]
    assert found.weight_at(middle) == pytest.approx(exact, rel=1e-5)
    with pytest.raises(InputError, match="as walked"):
        found.weight_at(1.0)


def test_hot_spots_name_station_side_and_share(wagtail):
    spots = hot_spots(walk(wagtail), 2)
    assert 1 <= len(spots) <= 2
    first = spots[0]
    assert first.face == "back" and 0.5 < first.yield_share < 1.2 and first.stress > 0.0


def notched(thickness: str = "0.4 in") -> Design:
    """Press the limb too far over an inch and a half."""
    last = '  { at = "23 in"'
    notch = "".join(
        f'  {{ at = "{at} in", thickness = "{t}" }},\n'
        for at, t in [("11", "0.6 in"), ("11-3/4", thickness), ("12-1/2", "0.6 in")]
    )
    text = (DESIGNS / "wagtail.toml").read_text(encoding="utf-8")
    return Design.from_toml(text.replace(last, notch + last))


def test_a_notched_limb_folds_there_where_its_moment_peaks(wagtail):
    found = walk(notched(), 32 * INCH)
    assert (
        found.ending is Ending.FOLD
        and found.gives_way is not None
        and found.gives_way.ending is Ending.FOLD
    )
    assert found.gives_way.s == pytest.approx(11.75 * INCH, abs=0.2 * INCH)
    at = int(np.argmin(np.abs(found.limbs[0].s - found.gives_way.s)))
    # the peak of the section's own moment, straight from the ring at the notch
    section = SectionFamily.from_pipe(wagtail.pipe, wagtail.material).at(
        notched().limbs[0].thickness_at(found.gives_way.s)
    )
    assert found.limbs[0].moment[-1, at] == pytest.approx(float(section.moment.max()), rel=2e-3)
    assert found.limbs[0].curvature_change[-1, at] == pytest.approx(float(section.limit), rel=5e-2)


def test_share_of_the_fold_is_that_of_the_sections_own_limit(wagtail):
    """Curvature over that at the peak of the moment of the same section, solved by itself."""
    found = walk(notched(), 18 * INCH)
    limb = found.limbs[0]
    j = int(np.argmax(limb.fold_share[-1]))
    section = pressed(wagtail.pipe, float(limb.thickness[j]))
    limit = float(ovalising_response(section, wagtail.material).limit)
    share = abs(limb.curvature_change[-1, j]) / limit
    # the family is interpolated between thicknesses
    assert limb.fold_share[-1, j] == pytest.approx(share, rel=5e-3)
    assert 0.2 < share < 1.0


def test_fold_is_foretold_by_the_walk_that_stops_short_of_it():
    near, past = walk(notched(), 18 * INCH), walk(notched(), 32 * INCH)
    assert (
        near.ending is Ending.COMPLETE and near.gives_way is not None and past.gives_way is not None
    )
    assert near.gives_way.draw == pytest.approx(past.gives_way.draw, abs=3e-4)  # found to 0.1 mm
    assert near.gives_way.s == past.gives_way.s


def test_a_thinner_notch_folds_sooner_and_is_a_sharper_hinge(wagtail):
    thick, thin = (walk(notched(t), 26 * INCH) for t in ("0.4 in", "0.36 in"))
    assert thin.gives_way.draw < thick.gives_way.draw
    assert hinge(thin).index > hinge(thick).index > 1.3 > hinge(walk(wagtail)).index
    assert abs(hinge(thin).s - 11.75 * INCH) < 0.2 * INCH


def test_string_follow_of_an_elastic_limb_is_less(wagtail):
    linear = walk(wagtail.with_values({"material.law": "linear", "material.modulus": "2.9 GPa"}))
    follow = StringFollow.after(linear)
    # only the flattening of the section is left, which the estimate takes for a set
    assert 0.0 <= follow.tips[0] < StringFollow.after(walk(wagtail)).tips[0]


def test_string_follow_keeps_what_elastic_unloading_leaves(wagtail):
    found = walk(wagtail)
    follow = StringFollow.after(found)
    limb = found.limbs[0]
    moment, k, s = (
        limb.moment[-1, limb.inside],
        limb.curvature_change[-1, limb.inside],
        limb.s[limb.inside],
    )
    EI = LimbModel.from_design(wagtail).sections.bending_stiffness
    # the moment is read again from the section's table, between knots by a local cubic
    np.testing.assert_allclose(follow.residuals[0], k - moment / EI, atol=1e-4 * k.max())
    # small turns add up: tip shift = int residual (L - s) ds (virtual work; Wagtail is straight)
    first_order = np.trapezoid(follow.residuals[0] * (limb.s[-1] - s), s)
    assert follow.tips[0] == pytest.approx(first_order, rel=0.05)
    assert follow.tension < found.brace_tension and follow.weight < found.force[-1]
