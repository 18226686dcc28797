"""The command line, in process: statuses, one message for bad input, files whole or not at all."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import bowfem
from bowfem.cli.main import main

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"
WAGTAIL = str(DESIGNS / "wagtail.toml")


@pytest.fixture
def notched(tmp_path) -> str:
    """A limb pressed too far over an inch, which folds before full draw."""
    text = Path(WAGTAIL).read_text(encoding="utf-8")
    last = '  { at = "23 in"'
    notch = "\n".join(
        f'  {{ at = "{at} in", thickness = "{thickness} in" }},'
        for at, thickness in [("11", 0.6), ("11-3/4", 0.4), ("12-1/2", 0.6)]
    )
    path = tmp_path / "notched.toml"
    path.write_text(
        text.replace(last, f"{notch}\n{last}").replace('"28 in"', '"32 in"'), encoding="utf-8"
    )
    return str(path)


@pytest.mark.parametrize("name", ["wagtail", "dunlin", "curlew"])
@pytest.mark.parametrize("system", ["us", "metric"])
def test_draws_every_example_with_files(name, system, tmp_path, capsys):
    out, record = tmp_path / "deep" / "pictures", tmp_path / "walk.json"
    design = str(DESIGNS / f"{name}.toml")
    status = main(["draw", design, "--units", system, "--out", str(out), "--json", str(record)])
    said = capsys.readouterr()
    assert (status, said.err) == (0, "")
    assert f"{name.capitalize()}: reached full draw" in said.out
    assert ("lbf" in said.out) == (system == "us")
    assert "\x1b" not in said.out  # no terminal, no colours
    assert sorted(path.name for path in out.iterdir()) == ["draw.png", "shape.png"]
    for path in out.iterdir():
        assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
    data = json.loads(record.read_text(encoding="utf-8"))
    assert data["stop"] == "complete"
    force, unit = ("weight_lbf", 4.4482216152605) if system == "us" else ("weight_N", 1.0)
    # what is printed is what is recorded: half of the last digit
    row = next(line for line in said.out.splitlines() if line.startswith("weight  "))
    printed = float(row.split()[1])
    assert printed == pytest.approx(data["summary"][force], rel=5.1e-3)
    assert 50.0 < data["summary"][force] * unit < 300.0  # pipe bows draw 10 to 70 lbf (C)


def test_draws_to_a_length_in_the_designs_convention(capsys):
    assert main(["draw", WAGTAIL, "--to", "20 in"]) == 0
    assert " at 20 in AMO" in capsys.readouterr().out
    assert main(["draw", WAGTAIL, "--to", "500 mm", "--units", "metric"]) == 0
    assert " at 500 mm AMO" in capsys.readouterr().out


def test_early_stop_prints_what_was_reached(notched, tmp_path, capsys):
    record = tmp_path / "walk.json"
    words = ["draw", notched, "--full", "--json", str(record), "--out", str(tmp_path / "o")]
    assert main(words) == 3
    said = capsys.readouterr()
    assert said.err.startswith("bowfem: stopped early: Wagtail: the limb folds")
    assert "from the bow's centre" in said.err
    assert said.err.count("\n") == 1
    assert "\n 8.00  " in said.out and "\n32.00  " not in said.out
    data = json.loads(record.read_text(encoding="utf-8"))
    assert data["stop"] == "fold" and data["message"] in said.err
    assert (tmp_path / "o" / "shape.png").exists()


def test_bow_that_cannot_be_braced(tmp_path, capsys):
    text = Path(WAGTAIL).read_text(encoding="utf-8")
    text = text.replace('"48 in"', '"30 in"').replace('at = "23 in"', 'at = "14 in"')
    path = tmp_path / "stub.toml"
    path.write_text(text.replace('"6 in"', '"11 in"'), encoding="utf-8")
    assert main(["draw", str(path), "--out", str(tmp_path / "o")]) == 3
    said = capsys.readouterr()
    assert said.out == ""
    assert "brac" in said.err and "Traceback" not in said.err
    assert not (tmp_path / "o").exists()


BAD = {
    "no command": ([], "COMMAND"),
    "unknown command": (["shoot"], "shoot"),
    "no design": (["draw"], "DESIGN.toml"),
    "missing file": (["draw", "no_such.toml"], "no_such.toml"),
    "folder for a file": (["draw", "."], "'.'"),
    "unknown option": (["draw", WAGTAIL, "--fast"], "--fast"),
    "unknown units": (["draw", WAGTAIL, "--units", "cubit"], "cubit"),
    "shortened option": (["draw", WAGTAIL, "--unit", "us"], "--unit"),
    "bare number": (["draw", WAGTAIL, "--to", "20"], "--to = 20: must be a length"),
    "wrong unit": (["draw", WAGTAIL, "--to", "20 lbf"], "--to = 20 lbf: must be a length"),
    "below brace": (["draw", WAGTAIL, "--to", "7 in"], "--to = 7 in: must be above 7.75 in"),
    "beyond reason": (["draw", WAGTAIL, "--to", "9 ft"], "between 0.25 ft and 5 ft"),
    "nan": (["draw", WAGTAIL, "--to", "nan in"], "--to"),
    "out is a file": (["draw", WAGTAIL, "--out", WAGTAIL], "--out"),
    "out below a file": (["draw", WAGTAIL, "--out", WAGTAIL + "/x"], "--out"),
    "json is a folder": (["draw", WAGTAIL, "--json", "."], "--json"),
    "json in no folder": (["draw", WAGTAIL, "--json", "no/such/walk.json"], "--json"),
    "zero byte": (["draw", "a\0b"], "design file"),
    "zero byte out": (["draw", WAGTAIL, "--out", "a\0b"], "--out"),
    "new over old": (["new", WAGTAIL], "there is one already"),
    "new in no folder": (["new", "no/such/bow.toml"], "its folder is missing"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_message_and_status_2(case, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    argv, named = BAD[case]
    before = Path(WAGTAIL).read_bytes()
    assert main(argv) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("bowfem: ") and said.err.count("\n") == 1
    assert named in said.err
    assert list(tmp_path.iterdir()) == []
    assert Path(WAGTAIL).read_bytes() == before


def test_all_faults_of_a_design_in_one_message(tmp_path, capsys):
    path = tmp_path / "bad.toml"
    text = Path(WAGTAIL).read_text(encoding="utf-8")
    path.write_text(text.replace('"48 in"', "48").replace('"0.8 in"', '"8 in"'), encoding="utf-8")
    assert main(["draw", str(path)]) == 2
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("bowfem: ") == 1
    assert "pipe.cut_length" in said.err and "limb.marks.1.thickness" in said.err


def test_string_length_tells_the_brace_height_only_when_braced(tmp_path, capsys):
    path = tmp_path / "string.toml"
    text = Path(WAGTAIL).read_text(encoding="utf-8")
    path.write_text(text.replace('brace_height = "6 in"', 'length = "43.4 in"'), encoding="utf-8")
    assert main(["draw", str(path), "--to", "6 in"]) == 2
    assert capsys.readouterr().err.startswith("bowfem: --to = ")


def test_a_failing_write_leaves_the_old_file(tmp_path, capsys, monkeypatch):
    record = tmp_path / "walk.json"
    record.write_text("old", encoding="utf-8")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert main(["draw", WAGTAIL, "--json", str(record)]) == 2
    assert "No space left" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["walk.json"]
    assert record.read_text(encoding="utf-8") == "old"


def test_pipes(capsys):
    assert main(["pipes"]) == 0
    text = capsys.readouterr().out
    # every standard with its status, and the published diameter of 3/4 in pipe (ASTM D1785, seen)
    for standard in ("ASTM D1785", "ASTM D2241", "EN ISO 1452"):
        assert standard in text
    (row,) = [line for line in text.splitlines() if line.startswith("3/4 in Sch 40")]
    assert row.split()[4] == "1.050" and row.endswith("S")
    assert main(["pipes", "--units", "metric"]) == 0
    assert "26.67" in capsys.readouterr().out


def test_new_design_can_be_drawn(tmp_path, capsys):
    path = tmp_path / "bow.toml"
    assert main(["new", str(path)]) == 0
    assert main(["draw", str(path), "--to", "15 in"]) == 0
    assert "My first bow: reached full draw" in capsys.readouterr().out


@pytest.mark.parametrize("argv", [["--help"], ["draw", "--help"]])
def test_help_teaches(argv, capsys):
    assert main(argv) == 0
    text = capsys.readouterr().out
    for words in ("what the numbers mean", "exit status", "next step", "No warranty", "dry fire"):
        assert words in text
    # the examples it names are there
    if argv[0] == "draw":
        for path in DESIGNS.glob("*.toml"):
            assert path.name in text


def test_version(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"bowfem {bowfem.__version__}\n"


def run(*arguments: str, **options) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "bowfem", *arguments], capture_output=True, text=True, **options
    )


def test_module_passes_the_status_on():
    done = run("draw", "no_such.toml")
    assert (done.returncode, done.stdout) == (2, "")


def test_help_and_version_load_nothing_heavy():
    code = (
        "import sys; from bowfem.cli.main import main; main(['--help']); main(['--version'])\n"
        "heavy = {'numpy', 'numba', 'scipy', 'matplotlib'} & set(sys.modules); assert not heavy"
    )
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)


def test_pictures_are_loaded_only_when_asked_for():
    code = (
        f"import sys; from bowfem.cli.main import main; assert main(['draw', {WAGTAIL!r}]) == 0\n"
        "assert 'matplotlib' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)


def test_a_reader_that_stops_early_is_no_error():
    pipe = subprocess.Popen(
        [sys.executable, "-m", "bowfem", "pipes"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert pipe.stdout is not None and pipe.stderr is not None
    pipe.stdout.close()
    assert pipe.wait() == 0
    assert pipe.stderr.read() == b""
    pipe.stderr.close()


def test_a_name_the_terminal_cannot_show(tmp_path):
    path = tmp_path / "bow.toml"
    text = Path(WAGTAIL).read_text(encoding="utf-8")
    path.write_text(text.replace('"Wagtail"', '"Bachstelze \u9d8e"'), encoding="utf-8")
    done = run("draw", str(path), "--to", "12 in", env=os.environ | {"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert done.stdout.startswith("Bachstelze ?: reached")


def test_section_of_a_curl(capsys):
    words = ["section", "--pipe", "3/4 in Sch 40", "--thickness", "0.3 in", "--radius", "3.65 in"]
    assert main([*words, "--strain=-2 %"]) == 0
    opened = capsys.readouterr().out
    assert "formed" in opened and "3.65 in radius" in opened and "curl opened to 2 %" in opened
    # rows of both senses, and softer than the straight limb
    assert "-2.0" in opened
    for bad in ("0.1 in", "-3 in", "three"):
        assert main([*words[:-1], bad]) == 2
        assert "--radius" in capsys.readouterr().err


def test_section_of_a_design_and_of_a_pipe(tmp_path, capsys):
    assert main(["section", WAGTAIL, "--at", "4.7 in", "--out", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "at the last draw" in said and (tmp_path / "section.png").stat().st_size > 1000
    words = ["section", "--pipe", "3/4 in Sch 40", "--thickness", "12 mm", "--units", "metric"]
    assert main([*words, "--strain", "3 %", "--edge-on"]) == 0
    assert "bent to 3 % at the surface" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ([], "--pipe with --thickness"),
        ([WAGTAIL], "with --at"),
        ([WAGTAIL, "--at", "3 in", "--pipe", "3/4 in Sch 40"], "DESIGN.toml with --at, or"),
        ([WAGTAIL, "--at", "3"], "--at"),
        ([WAGTAIL, "--at", "40 in"], "--at"),
        (["--pipe", "9 in Sch 9", "--thickness", "12 mm"], "9 in Sch 9"),
        (["--pipe", "3/4 in Sch 40", "--thickness", "2 mm"], "thickness"),
        (["--pipe", "3/4 in Sch 40", "--thickness", "12 mm", "--strain", "900 %"], "strain"),
        (["--pipe", "3/4 in Sch 40", "--thickness", "12 mm", "--strain", "x"], "--strain"),
    ],
)
def test_section_refuses(words, expected, capsys):
    assert main(["section", *words]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and expected in said and "Traceback" not in said
