"""What eases a bow is walked, and helps."""

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.bow.limb_model import LimbModel
from bowfem.design import Design
from bowfem.findings import SideStability
from bowfem.orders.advice import inner_rod, what_eases, what_steadies


@pytest.fixture(scope="module")
def hard(root):
    """A thin round handle strained past yield: pressed limbs stronger than it."""
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    return walk(design.with_values({"limb.marks.1.thickness": "round", "handle.length": "9 in"}))


def test_each_move_lowers_the_strain_it_names(hard):
    eased = what_eases(hard)
    now = float(np.max(hard.yield_share))
    assert eased and all(each.yield_share < now - 0.01 for each in eased)
    assert [each.yield_share for each in eased] == sorted(each.yield_share for each in eased)


def test_a_rod_stiffens_the_handle_by_its_own_second_moment(root):
    """Round in round: pi d^4 / 64 of the bore is added (parallel bending, one axis)."""
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    pipe = design.pipe
    bore = pipe.outer_diameter - 2.0 * pipe.wall
    bows = design, inner_rod(design)
    plain, filled = (float(LimbModel.from_design(each).rod.EI[0, 0]) for each in bows)
    wanted = 1.0 + bore**4 / (pipe.outer_diameter**4 - bore**4)
    assert filled / plain == pytest.approx(wanted, rel=0.03)


def test_each_move_steadies_a_bow_that_may_flip(root):
    tipped = walk(Design.from_file(root / "examples/designs/dunlin.toml"))
    stable = SideStability.from_walk(tipped)
    steadied = what_steadies(tipped, stable)
    factors = [each.factor for each in steadied]
    assert len(factors) == 3 and min(factors) > stable.brace
    assert factors == sorted(factors, reverse=True)


def test_nothing_is_tried_where_nothing_flips(hard):
    assert what_steadies(hard, SideStability.from_walk(hard)) == ()
