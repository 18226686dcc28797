"""What a mesh leaves unknown: told, lessened, and no verdict hung on it in silence."""

from dataclasses import replace

import numpy as np
import pytest

from benchmarks.survey.meshes import main
from benchmarks.survey.wild import bow
from bowfem.bow import Ending, LimbModel, MeshError, element_counts, walk
from bowfem.errors import InputError
from bowfem.findings import Findings
from bowfem.rod import Rod, TautString, clamp, pull, transferred
from bowfem.section import SectionFamily


@pytest.mark.parametrize("number", [14, 133, 158])
def test_a_limb_pressed_nearly_shut_is_known_as_well_as_it_says(number):
    # in each, a stretch whose walls touch as it bends: its stiffness jumps within an element
    design = bow(555, number)
    plain, fitted, fine = walk(design, accuracy=None), walk(design), walk(design, refine=16)
    before, after = (abs(each.force[-1] / fine.force[-1] - 1.0) for each in (plain, fitted))
    assert before > 1e-4 and plain.mesh_error is None and fine.mesh_error is None
    assert after < 1e-5 and fitted.mesh_error.force <= 1e-5
    many, few = (each.solved[0].models[0].rod.n_elements for each in (fitted, plain))
    assert few < many < 10 * few


def test_the_fold_does_not_hang_on_knots_or_mesh(monkeypatch):
    # sections whose faces touch just past their peak: told to fold at 20 to 36 N once, as the
    # peak fell on a knot of the table or between two
    design, found = bow(555, 37), []
    for knots in (65, 129):
        monkeypatch.setitem(SectionFamily.from_pipe.__func__.__kwdefaults__, "n_curvature", knots)
        found += [walk(design, refine=refine) for refine in (2, 6)]
    assert len({each.ending for each in found}) == 1
    # what is left is the place of the stations: sections a little thinner do not fold at all
    assert np.ptp([each.draw[-1] for each in found]) < 0.005
    assert np.ptp([each.force[-1] for each in found]) < 0.02 * found[0].force[-1]


def test_a_smooth_limb_keeps_its_mesh(wagtail):
    fine = walk(wagtail.design, refine=6)
    off = abs(wagtail.force[-1] / fine.force[-1] - 1.0)
    assert off < wagtail.mesh_error.weight < 1e-5
    nodes = walk(wagtail.design, accuracy=None).solved[0].models[0].rod.nodes
    np.testing.assert_array_equal(wagtail.solved[0].models[0].rod.nodes, nodes)


def test_the_accuracy_asked_for_is_reached():
    design = bow(555, 14)
    fine, errors = walk(design, refine=16).force[-1], []
    for accuracy in (1e-3, 1e-4, 1e-5):
        found = walk(design, accuracy=accuracy)
        assert found.mesh_error.force <= accuracy
        errors.append(abs(found.force[-1] / fine - 1.0))
    assert errors[-1] < 1e-5 < errors[0] < 1e-3


def test_elements_crowd_where_the_stiffness_changes(wagtail):
    shape, wall = wagtail.design.limbs[0], wagtail.design.pipe.wall
    counts = element_counts(shape, wall)
    assert element_counts(shape, wall, 3) == [3 * count for count in counts]
    model = LimbModel.from_design(wagtail.design, counts=counts)
    EI = model.sections.bending_stiffness.reshape(-1, 4)
    assert np.max(np.abs(np.diff(np.log(EI[:, [0, -1]]), axis=1))) < 1.0
    with pytest.raises(InputError, match="counts"):
        LimbModel.from_design(wagtail.design, counts=[*counts, 1])


def test_strain_is_told_at_the_corner_where_it_peaks(wagtail, lapwing):
    for found in (wagtail, lapwing):
        fine = walk(found.design, refine=8)
        for limb, other in zip(found.limbs, fine.limbs, strict=True):
            j = int(np.argmax(limb.yield_share[-1]))
            assert limb.yield_share[-1, j] == pytest.approx(np.max(other.yield_share[-1]), rel=3e-4)
            # either side of a corner, not at a station between
            assert np.min(np.abs(np.diff(limb.s)[j - 1 : j + 1])) < 3e-6
            assert np.all(np.diff(limb.s) > 0.0)


def test_a_verdict_that_hangs_on_the_mesh_is_told(giving_way):
    def told(verdict):
        found = replace(giving_way, mesh_error=MeshError.unknown(verdict))
        return Findings.from_walk(found)

    torn, sure = told(Ending.COMPLETE), told(None)
    words = [" ".join(each.text("us") for each in found.warnings) for found in (torn, sure)]
    assert "reached full draw. Take the worse" in words[0] and "Take the worse" not in words[1]
    assert any("is not known" in line.words for line in sure.lines if line.label == "computing")
    assert giving_way.mesh_error.verdict is None


def test_a_limb_lost_in_long_steps_is_braced_in_short_ones():
    assert walk(bow(555, 1)).ending is Ending.COMPLETE


def test_a_state_goes_over_to_another_mesh():
    held, string, nock = [clamp(0)], TautString(), [(0.0, 0.3)]
    coarse = Rod.straight(0.6, n_elements=8, EI=40.0)
    nodes = 0.6 * np.linspace(0.0, 1.0, 14) ** 1.3
    fine = Rod.from_curvature(nodes, EI=40.0, curvature0=0.0)
    drawn = pull(coarse, held, string, nock, 0.58, begin=(0.0, 0.15, 0.62))
    guess = transferred(drawn, fine)
    again = pull(fine, held, string, nock, 0.58, begin=(0.0, 0.3, 0.58), start=guess)
    assert again.iterations.sum() <= 4
    assert again.pull[-1, 1] == pytest.approx(drawn.pull[-1, 1], rel=1e-7)
    back = transferred(again, coarse)
    np.testing.assert_allclose(back.raw[-1, :40], drawn.raw[-1, :40], atol=1e-7)  # rotations
    np.testing.assert_allclose(back.raw[-1, 40:58], drawn.raw[-1, 40:58], atol=1e-3)  # places
    with pytest.raises(InputError, match="state"):
        empty = replace(drawn, raw=drawn.raw[:0], nodes=drawn.nodes[:0], factor=drawn.factor[:0])
        transferred(empty, fine)


def test_the_survey_of_meshes_runs(capsys):
    assert main(["--bows", "3", "--seed", "1"]) == 0
    out = capsys.readouterr().out
    assert "fitted mesh" in out and "times as long in the median" in out
