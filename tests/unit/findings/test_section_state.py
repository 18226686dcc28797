"""A section picked out of a walk carries what the limb carries there."""

from pathlib import Path

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.design import Design
from bowfem.errors import InputError
from bowfem.findings.section_state import SectionState
from bowfem.section import RIGID_PVC, Pipe

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"


@pytest.fixture(scope="module")
def dunlin():
    return walk(Design.from_file(DESIGNS / "dunlin.toml"))


@pytest.mark.parametrize("s", [0.0, 0.12, 0.3, 0.66])
def test_moment_in_the_wall_is_that_of_the_limb(dunlin, s):
    state = SectionState.from_walk(dunlin, s)
    moment = float(np.interp(s, dunlin.limbs[0].s, dunlin.limbs[0].moment[-1]))
    scale = float(np.max(np.abs(dunlin.limbs[0].moment[-1])))
    # read on a straight line between stations; the limb's law leaves the axial force out
    assert state.stress.moment == pytest.approx(moment, rel=1e-2, abs=3e-3 * scale)


def test_tip_stands_on_edge(dunlin):
    lies, stands = (SectionState.from_walk(dunlin, s).outline for s in (0.4, 0.7))
    assert lies.width > lies.thickness and stands.width < stands.thickness


def test_stations_that_cannot_be_shown_are_refused(dunlin):
    with pytest.raises(InputError, match="the groove"):
        SectionState.from_walk(dunlin, 0.8)
    with pytest.raises(InputError, match="twist"):
        SectionState.from_walk(dunlin, 0.56)


def test_strain_asked_for_is_that_of_the_frozen_outline():
    state = SectionState.from_pipe(Pipe.from_size("3/4 in Sch 40"), 0.0127, RIGID_PVC, 0.02)
    assert state.curvature * 0.5 * 0.0127 == pytest.approx(0.02, rel=1e-12)
    round_ = SectionState.from_pipe(Pipe.from_size("3/4 in Sch 40"), 0.02667, RIGID_PVC, 0.01)
    assert round_.outline.width == pytest.approx(0.02667, rel=1e-9)
