"""Pictures along a limb hold the walk's own data, label their units, and overlap nothing."""

import dataclasses
import itertools

import numpy as np
import pytest

from bowfem.design import Side
from bowfem.errors import InputError
from bowfem.findings import hot_spots
from bowfem.findings.section_state import SectionState
from bowfem.section import RIGID_PVC, Linear, Pipe
from bowfem.show.plot import limb as plots_limb
from bowfem.units import convert

NAMES = ["wagtail", "dunlin", "curlew", "giving_way"]
DRAWN = [
    plots_limb.stress_along,
    plots_limb.strain_along,
    plots_limb.stress_round_curl,
    plots_limb.contact_over_draw,
]


def section(thickness=12e-3, strain=0.02, material=RIGID_PVC):
    return SectionState.from_pipe(Pipe.from_size("3/4 in Sch 40"), thickness, material, strain)


def boxes(figure):
    """Every text drawn, with its box; ticks beyond the axes exist but are not drawn."""
    from matplotlib.axis import Axis
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.text import Text

    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    beyond = set()
    for axis in figure.findobj(Axis):
        low, high = sorted(axis.get_view_interval())
        slack = 1e-9 * (high - low)
        for tick in axis.get_major_ticks():
            if not low - slack <= tick.get_loc() <= high + slack:
                beyond |= {tick.label1, tick.label2}
    for text in figure.findobj(Text):
        if text.get_visible() and text.get_text() and text not in beyond:
            box = text.get_window_extent(canvas.get_renderer())
            if box.width > 0:
                yield text.get_text(), box


def check_texts(figure):
    found = list(boxes(figure))
    assert len(found) > 10
    for text, box in found:
        assert box.x0 >= 0 and box.y0 >= 0, text
        assert box.x1 <= figure.bbox.x1 and box.y1 <= figure.bbox.y1, text
    for (text, box), (other, beside) in itertools.combinations(found, 2):
        assert not box.overlaps(beside), (text, other)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("draw", DRAWN)
@pytest.mark.parametrize("system", ["us", "metric"])
def test_no_text_overlaps_or_leaves_the_picture(name, draw, system, request):
    walk = request.getfixturevalue(name)
    if draw is plots_limb.stress_round_curl and not plots_limb.has_curl(walk):
        with pytest.raises(InputError, match="bend"):
            draw(walk)
        return
    long = dataclasses.replace(walk, design=dataclasses.replace(walk.design, name="W$" * 50))
    check_texts(draw(long, system=system).figure)


@pytest.mark.parametrize("thickness", [7e-3, 12e-3, 24e-3])
@pytest.mark.parametrize("system", ["us", "metric"])
def test_moment_curvature_overlaps_nothing(thickness, system):
    check_texts(plots_limb.moment_curvature(section(thickness), system=system).figure)


def lines(ax):
    return {line.get_label(): np.stack(line.get_data()) for line in ax.lines}


@pytest.mark.parametrize(
    ("name", "kind", "system", "shown"),
    [("stress", "stress", "metric", "MPa"), ("strain", "share", "us", "%")],
)
def test_along_holds_walk_marks_and_hot_spots(name, kind, system, shown, dunlin, lapwing):
    plot = getattr(plots_limb, f"{name}_along")
    ax = plot(dunlin, system=system)
    found = lines(ax)
    for side in ("back", "belly"):
        values = getattr(dunlin.limbs[0], f"{name}_{side}")[-1]
        assert np.array_equal(found[side][1], convert(values, kind, system))
    upright = [
        line.get_xdata()[0]
        for line in ax.lines
        if line.get_linestyle() == ":" and np.ptp(line.get_xdata()) == 0.0
    ]
    marks = [convert(mark.at, "length", system) for mark in dunlin.design.limb.marks]
    assert upright == pytest.approx(marks)
    worst = hot_spots(dunlin, 1)[0]
    (first,) = [data for label, data in found.items() if str(label).startswith("1: ")]
    place = [convert(worst.s, "length", system), convert(getattr(worst, name), kind, system)]
    assert first[:, 0] == pytest.approx(place)
    assert shown in ax.get_ylabel() and ("in" if system == "us" else "mm") in ax.get_xlabel()
    lower = lines(plot(lapwing, system=system, side=Side.LOWER))
    assert lower["back"][0] == pytest.approx(convert(lapwing.limbs[1].s, "length", system))
    # the material's own: where strain meets the level, yield share is one
    assert ("yield" in found) == (name == "strain")
    if name == "strain":
        tension, _ = dunlin.design.material.yield_strains()
        assert found["yield"][1] == pytest.approx([100.0 * tension] * 2)


def test_stress_round_curl_runs_over_arc_and_angle(curlew):
    ax = plots_limb.stress_round_curl(curlew, system="us")
    # 3.65 in round, 75 degrees of it (the design)
    assert ax.get_xlim()[1] == pytest.approx(3.65 * np.radians(75.0))
    (angle,) = ax.child_axes
    list(boxes(ax.figure))  # drawn, the upper axis takes its range
    assert angle.get_xlim()[1] == pytest.approx(75.0)
    found = lines(ax)
    bar = found["string on it at brace"][0]
    outer, inner = curlew.limbs[0].contact[0, 1]
    start = curlew.design.limb.bends[0].start
    end = min(outer, curlew.design.limb.bends[0].stop)
    assert bar == pytest.approx([(inner - start) / 0.0254, (end - start) / 0.0254])
    limb = curlew.limbs[0]
    back = found["back at the last draw"]
    expected = np.interp(start + 0.0254 * back[0], limb.s, limb.stress_back[-1])
    assert back[1] == pytest.approx(convert(expected, "stress", "us"))


def test_contact_over_draw_ends_where_the_string_lifts(curlew, wagtail):
    from matplotlib.collections import PolyCollection

    ax = plots_limb.contact_over_draw(curlew, system="metric")
    (found,) = [one for one in ax.collections if isinstance(one, PolyCollection)]
    corners = np.concatenate([path.vertices for path in found.get_paths()])
    states = np.flatnonzero(
        np.nansum(curlew.limbs[0].contact[..., 0] - curlew.limbs[0].contact[..., 1], axis=1) > 1e-4
    )
    middle = 0.5 * (curlew.draw[states[-1]] + curlew.draw[states[-1] + 1])
    assert np.max(corners[:, 0]) == pytest.approx(1e3 * middle + 44.45)
    assert np.min(corners[:, 1]) == pytest.approx(1e3 * np.nanmin(curlew.limbs[0].contact[0]))
    assert np.max(found.get_array()) <= np.max(curlew.limbs[0].pressure) / 1e3 + 1e-12
    assert not [
        one
        for one in plots_limb.contact_over_draw(wagtail).collections
        if isinstance(one, PolyCollection)
    ]


def test_moment_curvature_starts_with_EI_and_marks_the_fold():
    state = section(material=Linear(3e9))
    ax = plots_limb.moment_curvature(state, system="metric")
    kept = lines(ax)["outline kept as formed"]
    # Euler and Bernoulli: M = E I kappa, for a linear law to the end
    assert kept[1] == pytest.approx(3e9 * state.outline.second_moment_weak * kept[0], rel=1e-9)
    (strain,) = ax.child_axes
    list(boxes(ax.figure))  # drawn, the upper axis takes its range
    assert strain.get_xlim()[1] == pytest.approx(8.0)  # the table's end
    found = lines(plots_limb.moment_curvature(section(10e-3), system="metric"))
    kept, gives = found["outline kept as formed"], found["outline gives way"]
    assert np.all(gives[1] <= kept[1] * (1 + 1e-9))
    (fold,) = [data for label, data in found.items() if str(label).startswith("folds")]
    assert fold[1, 0] == pytest.approx(np.max(gives[1]), rel=1e-3)  # between knots


def test_draws_on_the_axes_given(curlew):
    from matplotlib.figure import Figure

    for draw in DRAWN:
        ax = Figure().add_subplot()
        assert draw(curlew, ax) is ax
    ax = Figure().add_subplot()
    assert plots_limb.moment_curvature(section(), ax) is ax
