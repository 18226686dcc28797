"""The fade from the round handle to the pressed limb: its run, its ends, its bump."""

from pathlib import Path

import numpy as np
import pytest

from bowfem.bow import LimbModel, walk
from bowfem.design import Design

WAGTAIL = Design.from_file(
    Path(__file__).parents[3] / "examples" / "designs" / "wagtail.toml"
).with_value("limb.marks.1.thickness", "0.5 in")


def faded(**keys: str) -> Design:
    return WAGTAIL.with_values({f"handle.{key}": value for key, value in keys.items()})


def test_the_fade_ends_where_it_says() -> None:
    shape = faded(fade="1 in").limbs[0]
    begin, end = 0.5 * WAGTAIL.handle.length, 0.5 * WAGTAIL.handle.length + 0.0254
    assert (shape.fade.start, shape.fade.stop) == pytest.approx((begin, end))
    assert shape.fade_end in shape.breaks
    # then the first mark's thickness, held up to the mark
    first = WAGTAIL.limbs[0].limb.marks[0].at
    np.testing.assert_allclose(shape.thickness_at([end, first]), 0.0127, rtol=1e-12)
    whole = WAGTAIL.limbs[0]
    assert whole.fade.length == pytest.approx(first - begin)
    s = np.linspace(first, whole.length, 30)
    np.testing.assert_allclose(shape.thickness_at(s), whole.thickness_at(s), rtol=1e-12)


def test_rounded_ends_run_along_their_neighbours() -> None:
    shape = faded(fade="1.5 in", fade_shape="rounded").limbs[0]
    a, b = shape.fade.start, shape.fade.stop
    tiny = 1e-6 * (b - a)
    for s in (a, b):
        slope = float(np.diff(shape.thickness_at([s - tiny, s + tiny]))[0]) / (2.0 * tiny)
        assert abs(slope) < 1e-5
    middle = float(shape.thickness_at(0.5 * (a + b)))
    assert middle == pytest.approx(0.5 * (WAGTAIL.pipe.outer_diameter + 0.0127), rel=1e-12)


@pytest.mark.parametrize(("bump", "sign"), [("middle", 0.0), ("back", 1.0), ("belly", -1.0)])
def test_a_flush_limb_stands_off_the_handles_axis(bump: str, sign: float) -> None:
    """Flush on one side: the middles are half the difference of the thicknesses apart."""
    design = faded(fade="2 in", bump=bump, set="0 deg")
    rod = LimbModel.from_design(design).rod
    half = 0.5 * (design.pipe.outer_diameter - 0.0127)
    # two arcs stand off by R (1 - cos) twice; of an offset h over a length L that is h but for
    # a share of (2 h / L)^2 / 3
    share = (2.0 * half / 0.0508) ** 2
    assert rod.position0[-1, 1] == pytest.approx(sign * half, rel=share, abs=1e-12)
    # and the limb runs on straight, its wall not bent
    assert rod.angle0[-1, -1] == pytest.approx(0.0, abs=1e-12)
    shape = design.limbs[0]
    assert np.all(shape.formed_curvature(np.linspace(0.0, shape.length, 200)) == 0.0)
    assert (np.max(np.abs(rod.curvature0)) > 0.0) == (sign != 0.0)


def test_a_limb_nearer_to_the_archer_draws_less() -> None:
    """At the same brace height and draw from the pivot, a limb set back needs to bend more.

    A bump on the back brings the limbs toward the archer, as deflex does, which lowers the weight;
    a bump on the belly is like reflex and raises it (common practice, no source).
    """
    weights = [
        float(walk(faded(fade="2 in", bump=bump)).force[-1]) for bump in ("back", "middle", "belly")
    ]
    assert weights[0] < weights[1] < weights[2]
