"""Pictures hold the walk's own data, label their units, and overlap nothing."""

import dataclasses
import itertools
import struct
import zlib

import numpy as np
import pytest

from bowfem.show.plot import bow as plots

NAMES = ["wagtail", "dunlin", "curlew", "lapwing", "giving_way"]
DRAWN = [plots.draw_curve, plots.shapes]


def chunks(data: bytes) -> list[bytes]:
    """Kinds of the chunks of a PNG, each with its checksum proved (ISO/IEC 15948, from memory)."""
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    kinds, at = [], 8
    while at < len(data):
        (size,) = struct.unpack(">I", data[at : at + 4])
        body = data[at + 4 : at + 8 + size]
        (check,) = struct.unpack(">I", data[at + 8 + size : at + 12 + size])
        assert zlib.crc32(body) == check
        kinds.append(body[:4])
        at += 12 + size
    return kinds


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("draw", DRAWN)
def test_png_is_whole(name, draw, request):
    kinds = chunks(plots.png(draw(request.getfixturevalue(name))))
    assert kinds[0] == b"IHDR"
    assert kinds[-1] == b"IEND"
    assert b"IDAT" in kinds


def texts(figure, renderer):
    """Every text drawn, with its box; ticks beyond the axes exist but are not drawn."""
    from matplotlib.axis import Axis
    from matplotlib.text import Text

    beyond = set()
    for axis in figure.findobj(Axis):
        low, high = sorted(axis.get_view_interval())
        slack = 1e-9 * (high - low)
        for tick in axis.get_major_ticks():
            if not low - slack <= tick.get_loc() <= high + slack:
                beyond |= {tick.label1, tick.label2}
    for text in figure.findobj(Text):
        if text.get_visible() and text.get_text() and text not in beyond:
            box = text.get_window_extent(renderer)
            if box.width > 0:
                yield text.get_text(), box


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("draw", DRAWN)
@pytest.mark.parametrize("system", ["us", "metric"])
def test_no_text_overlaps_or_leaves_the_picture(name, draw, system, request):
    walk = request.getfixturevalue(name)
    long = dataclasses.replace(walk, design=dataclasses.replace(walk.design, name="W" * 100))
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    figure = draw(long, system=system).figure
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    found = list(texts(figure, canvas.get_renderer()))
    assert len(found) > 10
    for text, box in found:
        assert box.x0 >= 0 and box.y0 >= 0, text
        assert box.x1 <= figure.bbox.x1 and box.y1 <= figure.bbox.y1, text
    for (text, box), (other, beside) in itertools.combinations(found, 2):
        assert not box.overlaps(beside), (text, other)


def test_draw_curve_holds_the_states(wagtail):
    ax = plots.draw_curve(wagtail)
    (line,) = ax.get_lines()
    np.testing.assert_allclose(line.get_xdata() * 0.0254, wagtail.draw + 1.75 * 0.0254)
    np.testing.assert_allclose(line.get_ydata() * 4.4482216152605, wagtail.force, atol=1e-9)
    assert ax.get_xlabel() == "draw length, AMO (in)"
    assert ax.get_ylabel() == "weight (lbf)"


def test_early_stop_is_marked(giving_way, wagtail):
    names = [line.get_label() for line in plots.draw_curve(giving_way).get_lines()]
    assert "stopped: fold" in names
    assert len(plots.draw_curve(wagtail).get_lines()) == 1


def test_shapes_keep_length_and_mirror(curlew):
    ax = plots.shapes(curlew, system="metric")
    ends = [collection.get_segments() for collection in ax.collections]
    assert len(ends) == 2
    for segments in ends:
        points = np.array([segment[0] for segment in segments] + [segments[-1][1]])
        # equal scales and nothing lost: chords add up to the pipe between the grooves, but for
        # the sagitta of stations some 20 mm apart and the limb's own stretch
        length = np.sum(np.hypot(*np.diff(points, axis=0).T)) * 1e-3
        assert length == pytest.approx(2 * curlew.limbs[0].s[-1], rel=3e-3)
        np.testing.assert_allclose(points[::-1] * [1, -1], points, atol=1e-9)
    assert ax.get_aspect() == 1.0
    assert ax.xaxis_inverted()


def test_colours_are_the_share_of_yield(dunlin):
    braced, drawn = plots.shapes(dunlin).collections
    assert np.max(braced.get_array()) < np.max(drawn.get_array())
    # means of neighbouring stations stay within the extremes
    assert 0 <= np.min(drawn.get_array())
    assert np.max(drawn.get_array()) <= 100 * np.max(dunlin.yield_share)
    assert drawn.get_clim() == (0.0, 100.0)


def test_given_axes_are_used(wagtail):
    from matplotlib.figure import Figure

    for draw in DRAWN:
        ax = Figure().add_subplot()
        assert draw(wagtail, ax) is ax
        assert ax.get_title()


def test_dollars_are_no_mathematics(wagtail):
    priced = dataclasses.replace(
        wagtail, design=dataclasses.replace(wagtail.design, name="$5 $\\bad{")
    )
    chunks(plots.png(plots.draw_curve(priced)))


def test_two_limbs_are_drawn_as_they_are(lapwing):
    upper, lower = lapwing.limbs
    for collection, state in zip(
        plots.shapes(lapwing, system="metric").collections, (0, -1), strict=True
    ):
        segments = collection.get_segments()
        points = np.array([segment[0] for segment in segments] + [segments[-1][1]]) * 1e-3
        tips = [[limb.x[state, -1], limb.y[state, -1]] for limb in (lower, upper)]
        np.testing.assert_allclose(points[[0, -1]], tips, atol=1e-12)
        assert points[0, 1] < 0.0 < points[-1, 1]
