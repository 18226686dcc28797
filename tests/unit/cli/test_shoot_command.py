"""The command shoot: what it prints is what its file holds, and what it refuses."""

import json
import re

import numpy as np
import pytest

from bowfem.cli.main import main
from bowfem.design import Design


@pytest.fixture
def wagtail_file(root):
    return str(root / "examples/designs/wagtail.toml")


def test_prints_and_writes_one_shot(wagtail_file, tmp_path, capsys):
    file = tmp_path / "shot.json"
    words = ["shoot", wagtail_file, "--arrow", "26 g", "--units", "metric", "--json", str(file)]
    assert main([*words, "--out", str(tmp_path)]) == 0
    printed = capsys.readouterr().out
    written = json.loads(file.read_text())
    found, instants = written["shot"], written["instants"]
    assert found["dry_fold_most_percent"] > found["before_fold_percent"]
    assert found["tension_after_N"] > found["tension_leaving_N"]
    assert written["lightest_arrow"]["reason"]
    assert len(instants["time_ms"]) == len(instants["tension_N"]) > 500
    assert found["arrow_g"] == pytest.approx(26.0)
    speed, least, most = (found[f"speed{end}_m_per_s"] for end in ("", "_least", "_most"))
    assert re.search(
        rf"speed +{speed:.4g} m/s, between {least:.3g} m/s and {most:.3g} m/s", printed
    )
    assert 0.8 * speed < least < speed < most < 1.2 * speed
    assert found["arrow_energy_J"] == pytest.approx(0.5 * 0.026 * speed**2)
    parts = ("efficiency", "in_limbs", "in_string", "in_plastic", "in_air")
    assert all(found[f"{part}_percent"] > 0.0 for part in parts)
    assert sum(found[f"{part}_percent"] for part in parts) == pytest.approx(100.0)
    assert "never let go without an arrow" in " ".join(printed.split())
    assert "No dry fire" in printed
    for name in ("shot.png", "tension.png", "limbs.png", "arrows.png"):
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")


def test_warns_of_a_light_arrow(wagtail_file, capsys):
    assert main(["shoot", wagtail_file, "--arrow", "200 gr"]) == 0
    assert "The arrow is light" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arrow", "said"),
    [("0 g", "arrow = 0 g: must be between 1 g and 1 kg"), ("25 mm", "--arrow"), ("5 kg", "arrow")],
)
def test_refuses_in_one_line(wagtail_file, capsys, arrow, said):
    assert main(["shoot", wagtail_file, "--arrow", arrow]) == 2
    told = capsys.readouterr()
    assert told.out == "" and said in told.err and told.err.count("\n") == 1


def test_holding_longer_costs_speed(wagtail_file, tmp_path):
    speeds = []
    for number, hold in enumerate(("0 s", "10 min")):
        file = tmp_path / f"{number}.json"
        assert main(["shoot", wagtail_file, "--hold", hold, "--json", str(file)]) == 0
        speeds.append(json.loads(file.read_text())["shot"]["speed_ft_per_s"])
    assert 0.97 < speeds[1] / speeds[0] < 0.999


def test_refuses_a_hold_that_is_none(wagtail_file, capsys):
    for hold in ("-1 s", "2 h", "3"):
        assert main(["shoot", wagtail_file, "--hold", hold]) == 2
        told = capsys.readouterr()
        assert told.out == "" and "--hold" in told.err and told.err.count("\n") == 1


def test_writes_instants_as_columns_and_meshes(wagtail_file, tmp_path):
    meshio = pytest.importorskip("meshio")
    place, folder = tmp_path / "shot.csv", tmp_path / "meshes"
    words = ["shoot", wagtail_file, "--units", "metric", "--csv", str(place)]
    assert main([*words, "--meshes", str(folder)]) == 0
    head, *rows = place.read_text().splitlines()
    names = head.split(",")
    time = [float(row.split(",")[names.index("time_ms")]) for row in rows]
    assert "energy_air_J" in names
    # each step, and where in one something happens
    steps = np.diff(time)
    assert np.all(steps > 0.0) and np.median(steps) == pytest.approx(0.04)
    series = (folder / "walk.pvd").read_text()
    files = re.findall(r'timestep="([^"]+)".*?file="([^"]+)"', series)
    times = [float(time) for time, _ in files]
    assert times[0] == 0.0 and times == sorted(times) and times[-1] < 0.1
    mesh = meshio.read(folder / files[-1][1])
    assert np.isfinite(mesh.points).all()


def test_writes_a_page_of_the_shot(wagtail_file, tmp_path):
    page = tmp_path / "shot.html"
    assert main(["shoot", wagtail_file, "--web", str(page)]) == 0
    assert "ms after the fingers let go" in page.read_text()


def test_refuses_a_bow_that_flips(root, tmp_path, capsys):
    design = Design.from_file(root / "examples/designs/dunlin.toml")
    start = design.limb.tip.edge_on_from - 0.1
    file = tmp_path / "flips.toml"
    file.write_text(design.with_value("limb.tip.edge_on_from", start).to_toml())
    assert main(["shoot", str(file)]) == 3
    told = capsys.readouterr()
    assert told.out == "" and "no shot: flips sideways" in told.err
