"""Lengths of bows against the geometry of straight lines and arcs."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.design import Bend, Design
from bowfem.design.parts import Limits
from bowfem.findings.lengths import Box, Lengths, parcel_lines, parcel_warning
from bowfem.section import pressed

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"
INCH = 0.0254
WAGTAIL = Design.from_file(DESIGNS / "wagtail.toml")
CURLEW = Design.from_file(DESIGNS / "curlew.toml")


def lengths(design: Design, **options) -> Lengths:
    return Lengths.from_walk(walk(design, **options))


@pytest.mark.parametrize("both", [False, True])
def test_straight_bow(both):
    found = lengths(WAGTAIL, both_limbs=both)
    assert found.tip_to_tip == pytest.approx(48 * INCH, rel=1e-12)
    assert found.along_back == pytest.approx(46.5 * INCH, rel=1e-12)
    assert found.unstrung.length == pytest.approx(48 * INCH, rel=1e-12)
    assert found.unstrung.depth == pytest.approx(1.05 * INCH, rel=1e-12)  # the round handle
    # pressed to 0.3 in the mid-wall's perimeter is kept: flats of nearly half of it
    assert 1.05 * INCH < found.unstrung.width < 0.5 * math.pi * 1.05 * INCH
    assert found.unstrung.longest == found.unstrung.length


def test_trade_length_is_the_string_and_three_inches():
    # common practice, no source
    bow = walk(WAGTAIL)
    found = Lengths.from_walk(bow)
    assert found.trade == pytest.approx(bow.string_length + 3 * INCH, rel=1e-12)


def test_strung_box_holds_string_and_handle():
    bow = walk(WAGTAIL)
    found = Lengths.from_walk(bow)
    limb = bow.limbs[0]
    # length: from end to end, the pipe beyond the groove straight on; its belly corner is furthest
    y = limb.y[0, -1] + 0.75 * INCH * math.cos(limb.angle[0, -1])
    corner = 0.15 * INCH * abs(math.sin(limb.angle[0, -1]))
    assert found.strung.length == pytest.approx(2 * (y + corner), rel=1e-9)
    # depth: from the back of the handle to the furthest of tips and string
    x = limb.x[0, -1] + 0.75 * INCH * math.sin(limb.angle[0, -1])
    tip = x + 0.15 * INCH * math.cos(limb.angle[0, -1])
    far = max(tip, float(limb.string_x[0].max()))
    assert found.strung.depth == pytest.approx(far + 0.525 * INCH, rel=1e-6)
    assert found.strung.length < found.unstrung.length
    assert found.strung.depth > bow.brace_height


def test_string_stands_out_of_the_strung_box_of_a_curled_bow():
    # the string runs half its thickness above the belly of the curl, and nothing is nearer the
    # archer; the handle's back is furthest from him
    bow = walk(CURLEW)
    limb = bow.limbs[0]
    assert float(limb.string_x[0].max()) > float((limb.x[0] + 0.15 * INCH).max())
    expected = float(limb.string_x[0].max()) + 0.525 * INCH
    assert Lengths.from_walk(bow).strung.depth == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("degrees", [-6.0, 6.0])
def test_set_back_limbs(degrees):
    # the handle is an arc that turns by the set, then straight limbs: elementary geometry
    found = lengths(WAGTAIL.with_value("handle.set", f"{degrees} deg"))
    turn, handle = math.radians(degrees), 2.5 * INCH
    along = handle * math.sin(turn) / turn + 21.5 * INCH * math.cos(turn)
    assert found.tip_to_tip == pytest.approx(2 * along, rel=1e-9)
    # the back is 1/2 thickness outside or inside the axis: turn times half the diameter each limb
    back = 46.5 * INCH - 2 * turn * 0.525 * INCH
    assert found.along_back == pytest.approx(back, rel=1e-9)


def test_curls_shorten_the_unstrung_bow():
    (bend,) = CURLEW.limb.bends
    found = lengths(CURLEW)
    angle, radius = 75 * math.pi / 180, 3.65 * INCH
    rest = 27 * INCH - bend.stop
    y = 21.25 * INCH + radius * math.sin(angle) + rest * math.cos(angle)
    assert found.tip_to_tip == pytest.approx(2 * y, rel=1e-9)
    # flat all the way round, 0.3 in thick, forward: the back is inside the curl
    back = 52.5 * INCH - 2 * angle * 0.15 * INCH
    assert found.along_back == pytest.approx(back, rel=1e-9)
    assert found.unstrung.length > found.tip_to_tip  # the belly of the curl stands out further


def test_bent_pipe_beyond_the_groove_counts():
    # a bend that ends with the pipe: the last 3/4 in are an arc beyond the rod
    bend = Bend(start=25 * INCH, end=27 * INCH, angle=math.radians(60), direction="forward")
    limb = dataclasses.replace(CURLEW.limb, bends=(bend,))
    found = lengths(dataclasses.replace(CURLEW, limb=limb))
    radius = 2 * INCH / math.radians(60)
    expected = 2 * (25 * INCH + radius * math.sin(math.radians(60)))
    assert found.tip_to_tip == pytest.approx(expected, rel=1e-6)  # 32 chords of the last arc


def test_unequal_limbs_and_their_mirror_image():
    design = WAGTAIL.with_values({"handle.offset": "1 in", "handle.set": "4 deg"})
    design = design.with_value("string.nock_height", "0.2 in")
    one, two = lengths(design), lengths(design.upside_down())
    for a, b in zip(dataclasses.astuple(one), dataclasses.astuple(two), strict=True):
        np.testing.assert_allclose(a, b, rtol=1e-9)
    # the longer limb turns the line from tip to tip, not the distance along it by much
    assert one.tip_to_tip < 48 * INCH
    assert one.tip_to_tip == pytest.approx(
        lengths(WAGTAIL.with_value("handle.set", "4 deg")).tip_to_tip, rel=1e-3
    )


def test_parcel_limit_is_warned_of():
    bow = walk(WAGTAIL)
    for longest, count in (("48-1/8 in", 0), ("47-7/8 in", 1)):
        design = WAGTAIL.with_value("limits.longest", longest)
        limited = dataclasses.replace(bow, design=design)
        warned = parcel_warning(limited, Lengths.from_walk(limited))
        told = [each.text("us") for each in warned]
        assert len(told) == count
    assert "48 in" in told[0] and "limits.longest" in told[0]


def test_wrapped_box_by_hand():
    """Sides of 48, 3 and 1.5 in in half an inch of padding: 49 x 4 x 2.5, girth 13 in."""
    inch = 0.0254
    box = Box(48 * inch, 3 * inch, 1.5 * inch).wrapped(0.5 * inch)
    assert (box.length / inch, box.depth / inch, box.width / inch) == pytest.approx((49, 4, 2.5))
    assert box.length_and_girth / inch == pytest.approx(49 + 2 * (4 + 2.5))
    turned = Box(1.5 * inch, 48 * inch, 3 * inch)
    assert turned.length_and_girth / inch == pytest.approx(48 + 9)
    assert turned.share(Limits()) == 0.0
    assert turned.share(Limits(longest=96 * inch)) == pytest.approx(0.5)
    assert turned.share(Limits(longest=96 * inch, length_and_girth=60 * inch)) == pytest.approx(
        57 / 60
    )


def test_parcel_is_told_and_warned_of_wrapped():
    bow = walk(WAGTAIL)
    limits = {"limits.longest": "48-1/2 in", "limits.wrapping": "1/2 in"}
    design = WAGTAIL.with_values({**limits, "limits.length_and_girth": "50 in"})
    limited = dataclasses.replace(bow, design=design)
    told = [each.text("us") for each in parcel_warning(limited, Lengths.from_walk(limited))]
    assert (
        len(told) == 2 and told[0].startswith("Unstrung and wrapped") and "0.5 in more" in told[0]
    )
    assert "limits.length_and_girth" in told[1]
    (line,) = parcel_lines(Lengths.from_walk(limited), design.limits)
    assert line.text("us").startswith("49.0 x ") and "0.5 in of wrapping" in line.text("us")
    assert parcel_lines(Lengths.from_walk(bow), WAGTAIL.limits) == []


def test_tips_on_edge_are_as_deep_as_they_are_wide():
    text = (DESIGNS / "wagtail.toml").read_text(encoding="utf-8")
    tip = '[limb.tip]\nedge_on_from = "19 in"\ntransition = "1-1/2 in"\n\n[nock]'
    found = lengths(Design.from_toml(text.replace("[nock]", tip)))
    # the pressed outline's own width; the box takes half circles for its sides, a few per cent less
    width = pressed(WAGTAIL.pipe, 0.3 * INCH).width
    assert width > 1.05 * INCH  # more than the round handle
    assert found.unstrung.depth == pytest.approx(width, rel=0.03)
