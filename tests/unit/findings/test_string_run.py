"""The string's run, loops, bridge and cut against closed forms, statics, and finer walks."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bowfem.bow import LimbModel, Walk, walk
from bowfem.design import Design, Nock, Side
from bowfem.errors import InputError
from bowfem.findings.string_cut import (
    TAIL,
    StringCut,
    brace_per_length,
    brace_per_turn,
    shortening,
    strand_length,
)
from bowfem.findings.string_fit import bridge_over, bridges, least_loops
from bowfem.findings.string_run import StringRun, pieces_at

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"
INCH = 0.0254


def design(name: str) -> Design:
    return Design.from_file(DESIGNS / f"{name}.toml")


@pytest.fixture(scope="module")
def curlew() -> Walk:
    return walk(design("curlew"))


@pytest.fixture(scope="module")
def wagtail() -> Walk:
    return walk(design("wagtail"))


@pytest.fixture(scope="module")
def lapwing() -> Walk:
    return walk(design("lapwing"))


def with_limb(base: Walk, **values) -> Walk:
    limb = replace(base.limbs[0], **values)
    return replace(base, limbs=(limb, limb))


def rigid(base: Walk, draws) -> Walk:
    """Make a walk of a straight limb that does not bend, its string free from groove to nock."""
    draws, s = np.asarray(draws), base.limbs[0].s
    n, k = len(draws), base.limbs[0].string_x.shape[1]
    flat = np.broadcast_to(np.zeros_like(s), (n, s.size))
    end = s[-1]
    x = np.column_stack([np.zeros((n, k - 1)), draws])
    y = np.column_stack([np.full((n, k - 1), end), np.zeros(n)])
    contact = np.full((n, 6, 2), np.nan)
    contact[:, 0] = end
    return with_limb(
        replace(base, draw=draws),
        x=flat,
        y=np.broadcast_to(s, (n, s.size)),
        angle=flat,
        string_x=x,
        string_y=y,
        contact=contact,
        pressure=flat,
        clearance=draws[:, None] * (1.0 - s / end),
    )


def test_angles_of_a_rigid_straight_limb(wagtail):
    # similar triangles: limb a, nock at the distance d: tan(groove) = d / a, and the nock point's
    # half angle is its complement
    draws = np.array([0.15, 0.3, 0.6])
    run = StringRun.from_walk(rigid(wagtail, draws))
    (groove,) = run.groove_angle
    np.testing.assert_allclose(np.tan(groove), draws / wagtail.limbs[0].s[-1], rtol=1e-9)
    np.testing.assert_allclose(run.nock_angle, np.pi - 2.0 * groove, rtol=1e-9)
    assert (run.outward, run.contacts, run.lift_off, run.narrow) == (None, (), None, None)


@pytest.mark.parametrize("name", ["wagtail", "curlew", "lapwing"])
def test_nock_angle_balances_the_weight(name, request):
    # statics: two tensions at that angle and the weight close a triangle
    bow = request.getfixturevalue(name)
    angle = StringRun.from_walk(bow).nock_angle
    a, b = (limb.tension for limb in bow.limbs)
    weight = np.sqrt(np.maximum(a**2 + b**2 + 2.0 * a * b * np.cos(angle), 0.0))
    np.testing.assert_allclose(weight, bow.force, atol=1e-6 * bow.force[-1])
    assert angle[0] == pytest.approx(np.pi, abs=1e-7)


def test_groove_angle_adds_up_with_the_limb_s_own_turn(wagtail):
    # straight unstrung limb: the turn of its end by bending (Gauss quadrature), and half of what
    # the angle at the nock point is short of straight
    run, limb = StringRun.from_walk(wagtail), wagtail.limbs[0]
    rod = LimbModel.from_design(wagtail.design).rod
    weight = 0.5 * np.polynomial.legendre.leggauss(4)[1]
    k = limb.curvature_change[:, limb.inside].reshape(-1, rod.n_elements, 4)
    turned = (k @ weight) @ np.diff(rod.nodes)
    np.testing.assert_allclose(
        run.groove_angle[0], turned + 0.5 * (np.pi - run.nock_angle), atol=1e-9
    )
    at = int(np.argmax(run.groove_angle[0] > 0.5 * np.pi))
    assert run.outward == wagtail.draw[at] and at > 0


def test_unlike_limbs_are_read_one_by_one(lapwing):
    run = StringRun.from_walk(lapwing)
    upper, lower = run.groove_angle
    # square to the string at brace, each end section's own angle against the line across
    for limb, angle in zip(lapwing.limbs, (upper, lower), strict=True):
        x, y = (line[0, [0, -1]] for line in (limb.string_x, limb.string_y))
        lean = np.arctan2(x[0] - x[1], abs(y[0] - y[1]))
        assert angle[0] == pytest.approx(limb.angle[0, -1] - lean, abs=1e-9)
    loops = least_loops(lapwing)
    assert [loop.side for loop in loops] == list(Side)
    cut = StringCut.from_walk(lapwing, turns=0.0, tail=0.0)
    body = lapwing.string_length - loops[0].reach - loops[1].reach
    assert cut.cut == pytest.approx(body + loops[0].around + loops[1].around, rel=1e-12)
    assert brace_per_length(lapwing) < -0.5


def test_contact_lifts_off_between_the_states_of_a_finer_walk(curlew):
    run, limb = StringRun.from_walk(curlew), curlew.limbs[0]
    (piece,) = run.contacts
    fine = walk(design("curlew"), step=0.001)
    on = [i for i in range(fine.draw.size) if pieces_at(fine.limbs[0], i)]
    assert piece.lift_off == pytest.approx(fine.draw[on[-1]], abs=0.0125)  # within its step
    assert piece.first == curlew.draw[0] and run.lift_off == piece.lift_off
    # pressure is tension times the string's curvature; the curl's own is the most it comes near
    assert piece.pressure == pytest.approx(np.max(limb.pressure), rel=1e-12)
    curl = 1.0 / (3.65 * INCH)
    assert 0.9 < piece.pressure / (curlew.brace_tension * curl) < 1.1
    assert piece.inner < piece.pressure_s < piece.outer


def test_pieces_are_followed_by_overlap(wagtail):
    # two pieces: one shrinks evenly to nothing, the other stays; lengths 20, 10, then gone
    made = rigid(wagtail, [0.2, 0.3, 0.4, 0.5])
    contact = np.full((4, 6, 2), np.nan)
    contact[:, 0] = [0.5, 0.48]
    contact[0, 1], contact[1, 1] = [0.40, 0.38], [0.395, 0.385]
    run = StringRun.from_walk(with_limb(made, contact=contact))
    found = run.contacts
    assert [piece.outer for piece in found] == [0.5, 0.40]
    assert found[0].lift_off is None and run.lift_off is None
    assert found[1].lift_off == pytest.approx(0.4, rel=1e-12)


@pytest.mark.parametrize("degrees", [10.0, 20.0, 45.0])
def test_least_loop_is_two_right_triangles(wagtail, degrees):
    # legs from the limb's edges to one point: their angle, lengths and way round measured afresh
    (loop,) = least_loops(wagtail, math.radians(degrees))
    edge = np.array([loop.beside, 0.5 * loop.width])
    join = np.array([loop.reach, 0.0])
    leg = join - edge
    assert math.atan2(-leg[1], leg[0]) == pytest.approx(math.radians(degrees), rel=1e-12)
    limb = wagtail.limbs[0]
    around = 2.0 * (loop.beside + np.hypot(*leg)) + loop.width + limb.thickness[-1]
    assert loop.around == pytest.approx(around, rel=1e-12)
    assert loop.width == pytest.approx(limb.width[-1], rel=1e-9)
    # a string that leaves a straight tip at the angle a is its diameter off after d / sin a
    thick, angle = wagtail.design.string.thickness, StringRun.from_walk(wagtail).groove_angle[0][0]
    assert loop.beside == pytest.approx(thick / math.sin(angle), rel=0.05)


def test_legs_straddle_the_thickness_of_an_edge_on_tip():
    bow = walk(design("dunlin"), 0.3)
    (loop,) = least_loops(bow)
    tip = bow.design.limbs[0].thickness_at([bow.limbs[0].s[-1]])[0]
    assert loop.width == pytest.approx(tip, rel=0.05)  # near the groove, where it is all edge-on


def test_legs_lie_on_the_curl_that_the_string_lies_on():
    bow = walk(design("curlew"), 0.3)
    assert bow.limbs[0].clearance[0][-5:].max() < bow.design.string.thickness
    (loop,) = least_loops(bow)
    assert loop.beside == 0.0
    assert loop.reach == pytest.approx(0.5 * loop.width / math.tan(loop.half_angle), rel=1e-12)


@pytest.mark.parametrize("filed", [0.01, 0.04])
def test_a_filed_tip_needs_a_loop_for_the_width_left(wagtail, filed):
    (plain,) = least_loops(wagtail)
    bow = replace(wagtail, design=replace(wagtail.design, nock=Nock(width=0.015, filed=filed)))
    (loop,) = least_loops(bow)
    # even over the length filed, so that the limb's own width is reached at its end
    wanted = 0.015 + (plain.width - 0.015) * min(plain.beside / filed, 1.0)
    assert loop.width == pytest.approx(wanted, rel=0.02)
    assert loop.around < plain.around


@pytest.mark.parametrize("bad", [0.0, math.radians(80.0), float("nan")])
def test_loop_refuses_an_angle(wagtail, bad):
    with pytest.raises(InputError, match="between 1 and 60 deg"):
        least_loops(wagtail, bad)


@pytest.mark.parametrize("turn", [0.5, 1.0, 1.5])
def test_bridge_over_an_arc(turn):
    # two tangents to an arc meet over its middle, R (sec(turn/2) - 1) above it
    radius, n = 0.1, 4001
    angle = np.linspace(0.0, turn, n)  # from the inner end to the groove
    surface = radius * np.column_stack([np.sin(angle), np.cos(angle)])
    normal = surface / radius
    nock = surface[0] + 0.5 * np.array([-1.0, 0.0])
    s, height = bridge_over(radius * angle, surface, normal, np.arange(1, n - 1), nock)
    assert height == pytest.approx(radius * (1.0 / math.cos(0.5 * turn) - 1.0), abs=5e-6)
    assert s == pytest.approx(0.5 * radius * turn, abs=2e-3 * radius)


def edge_on_curl() -> Design:
    """Turn the curl of an example edge-on, so that the string lies on its narrow side."""
    changes = {
        "limb.tip.edge_on_from": "19 in",
        "limb.tip.transition": "1-1/2 in",
        "limb.bends.1.radius": "4-1/2 in",
        "limb.bends.1.angle": "50 deg",
    }
    return design("curlew").with_values(changes)


def test_bridge_where_the_string_lies_edge_on(curlew, wagtail):
    assert bridges(curlew) == bridges(wagtail) == ()
    made = walk(edge_on_curl())
    limb = made.limbs[0]
    ((outer, inner),) = pieces_at(limb, 0)
    (found,) = bridges(made)
    assert found.edge_on and inner <= found.s <= outer
    # the stiff tip keeps its formed bend: radius of the string's arc by half the depth and the
    # string more than the axis'; tangents at both ends of the piece meet over its middle
    depth = float(np.interp(found.s, limb.s, limb.thickness))
    radius, turn = 4.5 * INCH, (outer - inner) / (4.5 * INCH)
    out = radius + 0.5 * depth + 0.5 * made.design.string.thickness
    # the limb gives by a few per cent of its curvature, twice that in the height
    assert found.height == pytest.approx(out * (1.0 / math.cos(0.5 * turn) - 1.0), rel=0.05)
    assert found.s == pytest.approx(0.5 * (outer + inner), abs=0.02 * radius)


def test_helix_by_quadrature():
    # length of x = r cos, y = r sin, z = L t by arcs, at the bundle's root mean square radius
    length, diameter, turns = 1.3, 3e-3, 30.0
    t = np.linspace(0.0, 1.0, 200001)
    r = diameter / math.sqrt(8.0)
    curve = np.column_stack(
        [r * np.cos(2 * np.pi * turns * t), r * np.sin(2 * np.pi * turns * t), length * t]
    )
    arcs = np.sum(np.linalg.norm(np.diff(curve, axis=0), axis=1))
    assert strand_length(length, diameter, turns) == pytest.approx(arcs, rel=1e-9)
    # root mean square radius of a disc, by rings
    rings = (np.arange(1000) + 0.5) / 1000 * 0.5 * diameter
    assert r**2 == pytest.approx(np.sum(rings**3) / np.sum(rings), rel=1e-5)


def test_one_turn_more_shortens_as_the_helix_says():
    strand = strand_length(1.3, 3e-3, 30.0)
    c = 2.0 * math.pi * 3e-3 / math.sqrt(8.0)
    lengths = [math.sqrt(strand**2 - (c * n) ** 2) for n in (29.999, 30.001)]
    slope = (lengths[0] - lengths[1]) / 0.002
    assert shortening(1.3, 3e-3, 30.0) == pytest.approx(slope, rel=1e-6)
    assert shortening(1.3, 3e-3, 0.0) == 0.0


@pytest.mark.parametrize(
    "bad",
    [
        (0.0, 3e-3, 1.0),
        (1.3, -1.0, 1.0),
        (1.3, 3e-3, -1.0),
        (1.3, float("nan"), 1.0),
        (1.3, 3e-3, float("inf")),
    ],
)
def test_helix_refuses(bad):
    with pytest.raises(InputError):
        strand_length(*bad)


def test_cut_adds_up(wagtail):
    cut = StringCut.from_walk(wagtail, turns=0.0)
    loop = cut.loops[0]
    body = wagtail.string_length - 2.0 * loop.reach
    assert cut.cut == pytest.approx(body + 2.0 * loop.around + 2.0 * TAIL, rel=1e-12)
    assert cut.thread == pytest.approx(14 * cut.cut, rel=1e-12)
    # Hooke: 14 strands of 2.8 kN per unit strain (M)
    stretched = wagtail.string_length * (1.0 + wagtail.brace_tension / (14 * 2.8e3))
    assert cut.braced_length == pytest.approx(stretched, rel=1e-12)
    assert StringCut.from_walk(wagtail, turns=30.0).cut > cut.cut
    with pytest.raises(InputError, match="a string"):
        StringCut.from_walk(wagtail, [replace(loop, reach=0.6)])
    with pytest.raises(InputError, match="tail"):
        StringCut.from_walk(wagtail, tail=-1.0)


def test_brace_height_follows_the_string_as_two_other_strings_do(wagtail):
    # the same slope, from strings of given length instead of given brace heights
    heights = []
    for change in (-1e-3, 1e-3):
        length = wagtail.string_length + change
        made = wagtail.design.with_value("string.length", length)
        heights.append(walk(made, 0.3).brace_height)
    slope = (heights[1] - heights[0]) / 2e-3
    assert brace_per_length(wagtail) == pytest.approx(slope, rel=1e-4)  # second order in 1 mm
    assert slope < -0.5
    cut = StringCut.from_walk(wagtail)
    turn = brace_per_turn(wagtail, cut)
    shorter = shortening(cut.length, wagtail.design.string.thickness, cut.turns)
    assert turn == pytest.approx(-shorter * slope, rel=1e-4) and turn > 0.0
