"""Exported files are read back by other programs' readers, with the walk's own figures."""

import csv
import struct
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest

from bowfem.errors import BowfemError, InputError
from bowfem.show.body import exporting as export
from bowfem.show.body.quantities import (
    QUANTITIES,
)
from bowfem.show.body.swept import (
    UNSTRUNG,
    SweptBow,
)
from bowfem.units import convert


@pytest.fixture(scope="module")
def folder(dunlin, tmp_path_factory):
    folder = tmp_path_factory.mktemp("export") / "deep" / "dunlin"
    written = export.export(dunlin, folder, "metric")
    assert sorted(written) == sorted(folder.iterdir())
    return folder


def rows(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_meshes_hold_the_walk(dunlin, folder):
    import meshio
    import pyvista as pv

    bow = SweptBow.from_walk(dunlin)
    for state in (UNSTRUNG, 0, bow.n_states - 1):
        path = folder / f"state-{bow.states.index(state):02d}.vtu"
        body = bow.at(state)
        for points, data in (
            ((mesh := meshio.read(path)).points, mesh.point_data),
            ((other := pv.read(path)).points, other.point_data),
        ):
            assert np.array_equal(points, body.points)
            for name in QUANTITIES:
                seen = data[export.field_name(name)]
                assert np.array_equal(seen, body.field(name), equal_nan=True)
        assert other.n_cells == len(bow.hexahedra)
        # as much plastic as was cut; corners cut off by 48 points round the wall
        pipe = dunlin.design.pipe
        bore = pipe.outer_diameter - 2 * pipe.wall
        plastic = np.pi / 4 * (pipe.outer_diameter**2 - bore**2)
        plastic *= dunlin.design.pipe_choice.cut_length
        assert np.sum(other.compute_cell_sizes()["Volume"]) == pytest.approx(plastic, rel=1e-2)
        if state != UNSTRUNG:  # against the walk itself, at a station in the middle
            limb, at = dunlin.limbs[0], dunlin.limbs[0].s.size // 2
            there = mesh.point_data["station_m"] == limb.s[at]
            stress = mesh.point_data["stress_Pa"][there]
            assert np.min(stress) == pytest.approx(limb.stress_belly[state, at], rel=1e-9)
            assert np.max(stress) == pytest.approx(limb.stress_back[state, at], rel=1e-9)


def test_parts_are_told_apart(laden, tmp_path):
    import pyvista as pv

    bow = SweptBow.from_walk(laden)
    path = tmp_path / "laden.vtu"
    path.write_bytes(export.vtu(bow, bow.at(0)))
    mesh = pv.read(path)
    assert len(bow.parts) == 9
    for number, part in enumerate(bow.parts):
        own = mesh.extract_cells(mesh["part"] == number)
        assert own.n_cells == len(part.hexahedra)
        ends = np.min(own["station_m"]), np.max(own["station_m"])
        assert ends == pytest.approx((bow.s[part.first], bow.s[part.last]), abs=1e-12)


def test_series_is_in_order_of_draw(dunlin, folder):
    import pyvista as pv

    sets = ElementTree.parse(folder / "walk.pvd").getroot().findall("Collection/DataSet")
    times = [float(one.get("timestep")) for one in sets]
    assert times == [0.0, *dunlin.draw]
    assert all((folder / one.get("file")).is_file() for one in sets)
    reader = pv.PVDReader(folder / "walk.pvd")
    assert reader.time_values == times
    reader.set_active_time_value(times[-1])
    assert reader.read()[0].n_points == SweptBow.from_walk(dunlin).at(0).points.shape[0]


def test_solid_is_closed_and_weighs_what_the_pipe_does(dunlin, folder):
    import pyvista as pv

    solid = pv.read(folder / "unstrung.stl").clean()
    assert solid.n_open_edges == 0
    pipe = dunlin.design.pipe
    bore = pipe.outer_diameter - 2 * pipe.wall
    plastic = np.pi / 4 * (pipe.outer_diameter**2 - bore**2)
    plastic *= dunlin.design.pipe_choice.cut_length
    assert solid.volume == pytest.approx(1e9 * plastic, rel=1e-2)  # corners cut off


def test_solid_of_a_straight_bow_is_as_long_as_its_pipe(wagtail):
    bow = SweptBow.from_walk(wagtail)
    data = export.stl(bow, bow.at(UNSTRUNG))
    (count,) = struct.unpack("<I", data[80:84])
    assert len(data) == 84 + 50 * count
    rows = np.frombuffer(data[84:], np.dtype([("v", "<f4", (4, 3)), ("spare", "<u2")]))
    assert np.ptp(rows["v"][:, 1:, 1]) == pytest.approx(48 * 25.4, rel=1e-6)  # single precision
    assert np.linalg.norm(rows["v"][:, 0], axis=1) == pytest.approx(np.ones(count), rel=1e-5)


@pytest.mark.parametrize("system", ["us", "metric"])
def test_tables_hold_the_walk(dunlin, folder, tmp_path, system):
    if system == "us":
        for name in ("walk", "stations"):
            text = getattr(export, f"{name}_csv")(dunlin, system)
            (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8", newline="")
        folder = tmp_path
    found = rows(folder / "walk.csv")
    assert len(found) == dunlin.draw.size
    length, force = ("in", "lbf") if system == "us" else ("mm", "N")
    draw = np.array([float(row[f"draw_to_pivot_{length}"]) for row in found])
    amo = np.array([float(row[f"draw_amo_{length}"]) for row in found])
    assert np.array_equal(draw, convert(dunlin.draw, "length", system))
    # 1.75 in (AMO, from memory)
    assert amo - draw == pytest.approx(np.full(draw.size, 1.75 if system == "us" else 44.45))
    weight = [float(row[f"force_{force}"]) for row in found]
    assert np.array_equal(weight, convert(dunlin.force, "force", system))
    stations = rows(folder / "stations.csv")
    limb = dunlin.limbs[0]
    assert len(stations) == dunlin.draw.size * limb.s.size
    assert {row["limb"] for row in stations} == {"both"}
    unit = "psi" if system == "us" else "MPa"
    stress = np.array([float(row[f"stress_back_{unit}"]) for row in stations])
    expected = convert(limb.stress_back, "stress", system)
    assert np.array_equal(stress.reshape(expected.shape), expected)


def test_refuses_before_anything_is_written(wagtail, tmp_path, monkeypatch):
    taken = tmp_path / "taken"
    taken.write_text("")
    with pytest.raises(InputError, match="--out"):
        export.export(wagtail, taken)
    monkeypatch.setattr(export, "find_spec", lambda name: None)
    with pytest.raises(BowfemError, match="needs meshio"):
        export.export(wagtail, tmp_path / "new")
    assert list(tmp_path.iterdir()) == [taken]
