"""Commands that show a walk, in process: files whole or not at all, one message for bad input."""

from pathlib import Path

import pytest

from bowfem.cli.main import main
from bowfem.show.body import rendering

WAGTAIL = str(Path(__file__).parents[3] / "examples" / "designs" / "wagtail.toml")


def test_views(tmp_path, capsys):
    path = tmp_path / "still.png"
    arguments = ["view", WAGTAIL, "--still", str(path), "--quantity", "stress", "--draw", "20 in"]
    assert main([*arguments, "--units", "metric"]) == 0
    said = capsys.readouterr()
    first, *told, last = said.out.splitlines()
    assert (first, last, said.err) == ("Wagtail: reached full draw", f"wrote {path}", "")
    assert told[0].startswith("weight ") and told[1].startswith("worst ")
    assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")


def test_exports_and_reports(tmp_path, capsys):
    folder, page = tmp_path / "meshes", tmp_path / "page.html"
    assert main(["export", WAGTAIL, "--out", str(folder)]) == 0
    assert {"walk.pvd", "walk.csv", "stations.csv", "unstrung.stl", "state-00.vtu"} <= {
        path.name for path in folder.iterdir()
    }
    assert main(["report", WAGTAIL, "--out", str(page)]) == 0
    assert page.read_text(encoding="utf-8").endswith("</html>\n")
    said = capsys.readouterr()
    assert said.err == ""
    assert str(folder) in said.out and str(page) in said.out


def test_a_walk_that_stops_early_is_still_shown(tmp_path, capsys):
    design = tmp_path / "long.toml"
    text = Path(WAGTAIL).read_text(encoding="utf-8")
    design.write_text(text.replace('"28 in"', '"48 in"'), encoding="utf-8")
    page = tmp_path / "page.html"
    assert main(["report", str(design), "--out", str(page)]) == 3
    assert "stopped early" in capsys.readouterr().err
    assert "The walk stopped early" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["view", WAGTAIL, "--still", "picture.jpg"], "--still = 'picture.jpg'"),
        (["view", WAGTAIL, "--film", "film.avi"], "--film = 'film.avi'"),
        (["view", WAGTAIL, "--web", "missing/page.html"], "--web = 'missing/page.html'"),
        (["view", WAGTAIL, "--still", "a.png", "--quantity", "hue"], "--quantity = hue"),
        (["view", WAGTAIL, "--still", "a.png", "--draw", "70 in"], "--draw = 70 in"),
        (["view", WAGTAIL, "--still", "a.png", "--draw", "twenty"], "--draw = twenty"),
        (["view", WAGTAIL, "--still", "a.png", "--draw", "5 in"], "--draw = 5 in"),
        (["view", "missing.toml", "--still", "a.png"], "missing.toml"),
        (["export", WAGTAIL], "--out"),
        (["export", WAGTAIL, "--out", "taken"], "--out = 'taken'"),
        (["report", WAGTAIL, "--out", "missing/page.html"], "--out = 'missing/page.html'"),
    ],
)
def test_bad_input_is_one_line(arguments, said, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken").write_text("")
    assert main(arguments) == 2
    found = capsys.readouterr()
    assert found.out == ""
    assert found.err.startswith("bowfem: ") and found.err.count("\n") == 1
    assert said in found.err
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


def test_a_window_needs_a_display(monkeypatch, capsys):
    monkeypatch.setattr(rendering.sys, "platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    assert main(["view", WAGTAIL]) == 2
    assert "there is no display" in capsys.readouterr().err


def test_the_page_needs_no_renderer(monkeypatch, tmp_path, capsys):
    monkeypatch.setattr(rendering.sys, "platform", "linux")
    monkeypatch.setattr(rendering, "OFF_SCREEN", {})
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    page = tmp_path / "page.html"
    assert main(["view", WAGTAIL, "--still", str(tmp_path / "a.png"), "--web", str(page)]) == 2
    assert "nothing can be rendered here" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    assert main(["view", WAGTAIL, "--web", str(page)]) == 0
    assert page.read_text(encoding="utf-8").endswith("</html>\n")
