"""Bracing: square and at rest, or refused with the physical reason."""

import pickle
from pathlib import Path

import numpy as np
import pytest

from benchmarks.survey.wild import bow
from bowfem.bow import Ending, LimbModel, walk
from bowfem.bow.bracing import BraceError, Bracing, meets
from bowfem.bow.folding import end_of_belly, lost, slipped
from bowfem.design import Design
from bowfem.rod import Force, Rod, Settings, TautString, clamp, follow, pull, rest_length

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"
INCH = 0.0254


def design(name: str, **changes: str) -> Design:
    dotted = {key.replace("__", "."): value for key, value in changes.items()}
    return Design.from_file(DESIGNS / f"{name}.toml").with_values(dotted)


def bracing(made: Design) -> Bracing:
    return Bracing(made, LimbModel.from_design(made), Settings())


def curled(degrees: float, radius: str = "3.65 in", start: str = "16 in") -> Design:
    return design(
        "curlew",
        limb__bends__1__angle=f"{degrees} deg",
        limb__bends__1__radius=radius,
        limb__bends__1__from=start,
    )


@pytest.mark.parametrize("name", ["wagtail", "dunlin", "curlew"])
@pytest.mark.parametrize("inches", [5.0, 7.5])
def test_braced_string_stands_square_and_length_gives_height_back(name, inches):
    made = design(name)
    path = bracing(made).to_height(inches * INCH)
    assert path.nock[-1, 1] - made.pivot_distance == pytest.approx(inches * INCH, rel=1e-12)
    assert abs(path.pull[-1, 1]) < 1e-9 * path.tension[-1]
    # statics: the clamp balances a pull straight across
    np.testing.assert_allclose(
        path.reaction[-1, 0, :2], -path.pull[-1], atol=1e-6 * path.tension[-1]
    )
    again = bracing(made).to_length(float(path.string_length[-1]))
    assert again.nock[-1, 1] == pytest.approx(path.nock[-1, 1], abs=1e-8)
    assert again.tension[-1] == pytest.approx(path.tension[-1], rel=1e-6)


@pytest.mark.parametrize("degrees", [100.0, 120.0])
def test_curl_beyond_a_right_angle_braces(degrees):
    made = curled(degrees)
    path = bracing(made).to_height(6.0 * INCH)
    # the string lies on the curl, inward of the groove
    assert np.nanmax(path.contact[-1, :, 0] - path.contact[-1, :, 1]) > 0.02
    assert np.any(path.pressure[-1] > 0.0) and abs(path.pull[-1, 1]) < 1e-9 * path.tension[-1]


def test_tips_that_point_past_the_handle_are_braced():
    # reflexed so far that the unstrung tips stand in front of the back of the handle, pointing away
    # and of a material that does not yield, or it would fold on the way
    elastic = {"material__law": "linear", "material__modulus": "2.9 GPa"}
    made = design("wagtail", pipe__cut_length="60 in", handle__set="25 deg", **elastic)
    model = LimbModel.from_design(made)
    assert model.rod.position0[-1, 1] < -5.0 * INCH
    path = Bracing(made, model, Settings()).to_height(5.0 * INCH)
    assert abs(path.pull[-1, 1]) < 1e-9 * path.tension[-1]
    assert path.nodes[-1, -1, 1] > 0.0


def refused(made: Design) -> BraceError:
    with pytest.raises(BraceError) as caught:
        walk(made)
    assert str(caught.value).startswith(
        f"{made.name}: cannot be braced: {caught.value.ending.text}"
    )
    return caught.value


def test_too_much_reflex_folds_and_keeps_the_furthest_state():
    error = refused(design("wagtail", handle__set="50 deg"))
    assert error.ending in (Ending.FOLD, Ending.OVERBENT)
    assert "from the bow's centre" in str(error)
    path = error.status
    assert path is not None and 0.85 < path.table_share[-1] <= 1.0
    assert path.string_length[-1] < rest_length(path.rod, path.nock[-1])


def test_limbs_nearer_to_the_archer_than_the_string_leave_it_slack():
    made = design("wagtail", handle__set="-30 deg")
    # closed form: a straight limb set by 30 degrees reaches sin 30 of its length toward the archer
    reach = 0.5 * (made.limbs[0].nock_station - 0.5 * made.handle.length)
    assert reach > 6.0 * INCH + made.pivot_distance
    assert refused(made).ending is Ending.SLACK


def test_string_too_long():
    # 0.1 mm a half shorter than the limb: braced, it would stand below the grip's pivot
    assert refused(design("wagtail", string__length="1180.9 mm")).ending is Ending.TOO_LONG
    # a little shorter it stands low, but stands
    assert 0.0 < walk(design("wagtail", string__length="45 in")).brace_height < 4 * INCH


def test_shorter_strings_stand_higher_until_the_limb_folds():
    heights = [
        walk(design("wagtail", string__length=f"{n} in"), 0.4).brace_height for n in (45, 42, 38)
    ]
    assert heights == sorted(heights) and heights[0] < heights[2] - 4 * INCH
    short = design(
        "wagtail",
        pipe__size="1-1/2 in Sch 40",
        string__length="30 in",
        limb__marks__1__thickness="1.5 in",
        limb__marks__2__thickness="1 in",
    )
    assert refused(short).ending in (Ending.FOLD, Ending.OVERBENT)


def test_error_crosses_processes():
    error = refused(design("wagtail", handle__set="-30 deg"))
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is BraceError
    assert (str(again), again.ending) == (str(error), error.ending)


def test_limb_that_meets_itself_is_seen():
    def arc(turn: float, x: float) -> Rod:
        return Rod.from_curvature(
            np.linspace(0.0, 0.1 * turn, 13), EI=1.0, curvature0=-10.0, belly=0.01, origin=(x, 0.0)
        )

    def met(rod: Rod) -> bool:
        return meets(follow(rod, [clamp(0)], [Force(y=1e-9)]))

    # circles of radius 0.1: more than a full turn comes back to its root; one of 5.6 leaves a gap
    # of 0.2 sin(0.34), wider than the limb is thick; half of one reaches 0.1 back past its root
    assert met(arc(7.0, 0.3)) and not met(arc(5.6, 0.3))
    assert met(arc(4.7, 0.05)) and not met(arc(4.7, 0.15))


@pytest.mark.parametrize(("angle", "past"), [(1.6, False), (2.0, False), (2.2, True), (2.8, True)])
def test_string_bound_past_the_end_slips(angle, past):
    # rigid arc round (0, 1), nock at (0, 3): the tangent from there touches the circle acos(1 / 2)
    # from the ray to it, 120 degrees along the arc; beyond that the string would run on its back
    rod = Rod.arc(1.0, angle, 12, EI=1e6)
    tip = np.array([np.sin(angle), 1.0 - np.cos(angle)])
    reach = float(np.hypot(*(tip - (0.0, 3.0))))
    path = pull(
        rod, [clamp(0)], TautString(EA=1e3), [(0.0, 3.0)], 0.999 * reach, begin=(0.0, 3.0, reach)
    )
    assert bool(slipped(path)[-1]) is past


def test_a_limb_whose_unstrung_end_points_past_the_string_slips():
    # two thirds of a turn toward the archer: the end points back at the limb, under the string
    made = design(
        "curlew",
        limb__bends__1__direction="back",
        limb__bends__1__angle="240 deg",
        limb__bends__1__radius="3 in",
        limb__bends__1__from="12 in",
    )
    assert refused(made).ending is Ending.SLIP


def test_energy_lost_between_states_is_a_snap_stepped_over():
    """First law: what the draw puts in and the bow does not hold has gone in a jump."""
    draw, force = np.array([0.2, 0.3, 0.4]), np.array([100.0, 120.0, 130.0])
    held = np.array([0.0, 11.0, 23.5])  # the work by the trapezoidal rule
    assert lost(draw, force, held).tolist() == [False, False]
    assert lost(draw, force, np.array([0.0, 11.0, 18.0])).tolist() == [False, True]


def test_a_string_that_slips_off_in_the_draw_says_so():
    # found by looking through random bows, of a material that does not yield
    elastic = {"material.law": "linear", "material.modulus": "2.9 GPa"}
    found = walk(bow(1, 17).with_values(elastic))
    assert found.ending is Ending.SLIP
    assert found.gives_way is not None and found.gives_way.ending is Ending.SLIP
    assert "slips off" in found.message and "from the bow's centre" in found.message
    # up to there the draw balances: first law
    assert found.energy_at(found.draw[-1]) == pytest.approx(found.energy[-1], rel=1e-3)
    # it stops before the limb's end points past the string
    assert found.draw[-1] <= found.gives_way.draw + 1e-9


@pytest.mark.parametrize("turn", [-1.0, 0.0, 1.5])
def test_belly_of_a_curl_ends_where_its_surface_does(turn):
    """Against the surface's own points: the slope along the axis is not that along a curl."""
    nodes = np.linspace(0.0, 0.1, 201)
    plain = Rod.from_curvature(nodes, EI=1.0, curvature0=turn / 0.1)
    rod = Rod.from_curvature(
        nodes, EI=1.0, curvature0=turn / 0.1, belly=0.02 + 0.2 * (plain.stations - 0.1)
    )
    behind, end = rod.surface0[-2:]
    along = float(np.arctan2(*(end - behind)[::-1]))
    found = float(end_of_belly(rod, rod.angle0[None])[0])
    assert found == pytest.approx(along, abs=1e-3)
    assert turn == 0.0 or abs(found - float(plain.angle0[-1, -1]) - np.arctan(0.2)) > 0.01
