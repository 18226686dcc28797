"""Tips that flip: found, said, and not found where there is nothing to find."""

import numpy as np
import pytest

from bowfem.bow import Balance, brace, limb_sideways, walk
from bowfem.bow.sideways import wall_left
from bowfem.design import Design, Side
from bowfem.findings import Findings
from bowfem.findings.sideways import (
    SideStability,
    moved_sideways,
    sideways_lines,
    sideways_warning,
    taken_at_brace,
)
from bowfem.rod import Settings
from bowfem.section import pressed
from bowfem.show import draw_report


@pytest.fixture(scope="module")
def dunlin(root):
    return Design.from_file(root / "examples/designs/dunlin.toml")


@pytest.fixture(scope="module")
def found(dunlin):
    return SideStability.from_walk(walk(dunlin))


@pytest.fixture(scope="module")
def flipping(dunlin):
    """The same bow with a longer part turned edge-on."""
    tip = dunlin.limb.tip
    assert tip is not None
    return dunlin.with_values({"limb.tip.edge_on_from": tip.edge_on_from - 0.1})


def test_brace_is_the_dangerous_state(found):
    assert 1.0 < found.brace < 1.5 < found.full_draw
    assert found.per_pound > 2.0 * found.per_pound_unstrung
    (warned,) = sideways_warning(found)
    assert "may flip" in warned.text("us")


def test_a_longer_edge_flips_and_is_never_plainly_complete(flipping):
    findings = Findings.from_walk(walk(flipping))
    assert findings.sideways is not None and findings.sideways.flips
    text = draw_report(findings, "us", None)
    assert "flips sideways" in text.splitlines()[0]
    assert "Do not string it" in text


def test_flat_limbs_do_not_flip(root):
    for name in ("wagtail", "curlew", "lapwing"):
        design = Design.from_file(root / f"examples/designs/{name}.toml")
        stable = SideStability.from_walk(walk(design))
        assert stable is not None and not stable.flips
        assert not sideways_warning(stable)
        assert [line.label for line in sideways_lines(stable)] == ["sideways", "crooked"]


def test_both_limbs_solved_tell_what_one_tells(dunlin):
    one, two = (Balance.from_design(dunlin, Settings(), both=both) for both in (False, True))
    (upper,), (first, second) = brace(one).limbs, brace(two).limbs
    factors = [
        limb_sideways(dunlin, model, path, nock=0.0).factor
        for model, path in (
            (one.models[0], upper),
            (two.models[0], first),
            (two.models[1], second),
        )
    ]
    assert np.ptp(factors) < 1e-9 * factors[0]


def test_the_wall_softens_as_it_is_bent(root):
    # the same integrals round the outline as pressed: its edges are no half circles
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    model = Balance.from_design(design, Settings()).models[0]
    law, thickness = design.material, model.sections.thickness
    for bending in (0.0, 2.0, -2.0):
        bent, twisted = wall_left(design, model, np.full(thickness.size, bending))
        for i in (0, 30, -1):
            wall = pressed(design.pipe, float(thickness[i]))
            strain = bending * wall.y
            area = wall.weights * wall.x**2
            share = area @ law.tangent(strain) / (area @ np.full(area.size, law.initial_modulus))
            assert bent[i] == pytest.approx(share, rel=0.01)
            assert twisted[i] <= 1.0 + 1e-12
    still = wall_left(design, model, np.zeros(thickness.size))
    np.testing.assert_allclose(still, 1.0, rtol=1e-12)


def test_every_state_of_a_walk_is_told_and_smoothly(dunlin, found):
    walked = walk(dunlin)
    assert found.held.shape == walked.draw.shape
    assert found.held[-1] == pytest.approx(found.full_draw, rel=1e-9)
    assert np.max(np.abs(np.diff(found.held, 2))) < 0.02
    assert found.strung[-1] == pytest.approx((walked.brace_height, found.brace), rel=1e-9)
    assert np.all(np.diff(found.strung[:, 0]) > 0.0)


def test_unlike_limbs_hold_each_other(root):
    stable = SideStability.from_walk(walk(Design.from_file(root / "examples/designs/lapwing.toml")))
    assert stable.alone < stable.brace and stable.side is not None


def test_alike_limbs_written_twice_tell_the_same(dunlin):
    from dataclasses import replace

    two = SideStability.from_walk(walk(replace(dunlin, lower=dunlin.limb)))
    one = SideStability.from_walk(walk(dunlin))
    assert two.brace == pytest.approx(one.brace, rel=1e-8)
    assert two.hand == pytest.approx(one.hand, rel=1e-8)
    assert two.per_pound == pytest.approx(one.per_pound, rel=1e-7)


def test_a_pound_at_one_groove_and_what_the_string_takes(dunlin, found):
    walked = walk(dunlin)
    moved = moved_sideways(walked, Side.LOWER, 4.4482216152605, strung=True)
    assert moved == pytest.approx(found.per_pound, rel=1e-9)
    assert taken_at_brace(walked) == pytest.approx(1.0 / found.brace, rel=1e-9)
