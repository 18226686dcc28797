"""Report and picture of a section."""

import re

import numpy as np
import pytest

from bowfem.findings.section_state import SectionState
from bowfem.section import RIGID_PVC, Pipe
from bowfem.show.plot.bow import png
from bowfem.show.plot.section import section_picture
from bowfem.show.text.section import section_report

PIPE = Pipe.from_size("3/4 in Sch 40")


@pytest.fixture(scope="module")
def flat() -> SectionState:
    return SectionState.from_pipe(PIPE, 0.0075, RIGID_PVC, 0.04)


@pytest.mark.parametrize("system", ["us", "metric"])
@pytest.mark.parametrize("thickness", [0.02667, 0.014, 0.0075])
def test_report_is_readable_and_whole(thickness, system):
    state = SectionState.from_pipe(PIPE, thickness, RIGID_PVC, 0.02)
    said = section_report(state, system)
    assert max(map(len, said.splitlines())) <= 92 and "nan" not in said
    for word in ("crosswise", "lost by", "torsion", "equivalent", "estimates"):
        assert word in said
    rows = re.findall(r"^ +\d\.\d .*$", said, re.M)
    assert len(rows) >= 6
    lost = [float(row.split()[4]) for row in rows]
    assert np.all(np.diff(lost) >= 0.0)


def test_table_is_the_sections_law(flat):
    row = re.search(r"^ +2\.0 .*$", section_report(flat, "metric"), re.M).group().split()
    found = flat.response
    k = 0.02 / (0.5 * 0.0075)
    moment = np.interp(k, found.curvature, found.moment)
    assert float(row[1]) == pytest.approx(k, abs=0.006)
    assert float(row[2]) == pytest.approx(moment, abs=0.06)


def test_picture_closes_and_is_as_wide_as_the_section(flat):
    ax = section_picture(flat, system="metric")
    meshes = [part for part in ax.collections if hasattr(part, "get_coordinates")]
    assert len(meshes) == 2
    places = np.concatenate([mesh.get_coordinates().reshape(-1, 2) for mesh in meshes])
    # the right half and its mirror image; flattening adds a little to the formed width
    assert np.max(places[:, 0]) == pytest.approx(-np.min(places[:, 0]))
    assert np.max(places[:, 0]) == pytest.approx(0.5 * flat.outline.width * 1e3, rel=0.03)
    assert np.max(places[:, 1]) <= 0.5 * 7.5 + 0.05
    assert png(ax).startswith(b"\x89PNG")
