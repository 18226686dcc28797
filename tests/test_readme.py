"""README is true: its commands are the checked ones, its code runs, its output is real."""

import re
import shlex
import subprocess
from pathlib import Path

import numpy as np
import pytest

from benchmarks.survey.outcome import FAILED, FLIPPED, REFUSED, SOLVED, STOPPED
from bowfem.bow import Ending
from bowfem.cli.main import main
from bowfem.findings import FLIPS
from bowfem.section import RIGID_PVC, Pipe, ovalising_response, pressed, section_response

CAUTIONS = [
    "estimate",
    "no warranty",
    "local law",
    "qualified person",
    "hydrogen chloride",
    "carbon monoxide",
    "outdoors",
    "never burn offcuts",
    "burn skin",
    "gloves",
    "never hold pressure again",
    "eye protection",
    "fragments",
    "no dry fire",
    "no overdraw",
    "in the cold",
    "hot car",
    "strung",
    "whitening",
]


@pytest.fixture(scope="module")
def readme(root) -> str:
    return (root / "README.md").read_text(encoding="utf-8")


def block(readme: str, mark: str, language: str) -> str:
    """Return the only fenced block that follows a mark."""
    (found,) = re.findall(rf"^<!-- {mark} -->\n```{language}\n(.*?)^```$", readme, re.M | re.S)
    return found


@pytest.mark.parametrize("name", ["test", "main"])
def test_ci_runs_the_command_of_the_readme(root, readme, name):
    command = block(readme, f"command: {name}", "bash")
    assert command.count("\n") == 1, "a command is one line, to be pasted at once"
    shown = subprocess.run(
        ["bash", root / ".ci" / "run", "--show", name], capture_output=True, text=True, check=True
    )
    assert shown.stdout == command


def test_ci_refuses_a_missing_command(root):
    done = subprocess.run(
        ["bash", root / ".ci" / "run", "--show", "no_such"], capture_output=True, text=True
    )
    assert done.returncode != 0
    assert "no command no_such" in done.stderr


def test_commands_start_from_a_fresh_clone(root, readme):
    for name, ending in [("test", "-m pytest -n 2 --dist loadfile"), ("main", "--out out")]:
        steps = [step.strip() for step in block(readme, f"command: {name}", "bash").split("&&")]
        assert steps[0] == "python3 -m venv .venv"
        assert steps[1].startswith(".venv/bin/pip install")
        assert steps[-1].endswith(ending)
    words = shlex.split(block(readme, "command: main", "bash"))
    (design,) = [word for word in words if word.endswith(".toml")]
    assert (root / design).is_file()


def test_the_library_in_ten_lines(root, readme, monkeypatch, capsys):
    code = block(readme, "code: ten lines", "python")
    assert len(code.splitlines()) <= 10
    monkeypatch.chdir(root)
    exec(compile(code, "README.md", "exec"), {"__name__": "readme"})
    assert capsys.readouterr().out == block(readme, "output: ten lines", "text")


def test_the_main_job_prints_what_the_readme_shows(root, readme, monkeypatch, capsys, tmp_path):
    words = shlex.split(block(readme, "command: main", "bash").split("&&")[-1])
    monkeypatch.chdir(root)
    assert main([*words[1:-1], str(tmp_path)]) == 0
    printed = capsys.readouterr().out.splitlines()
    shown = block(readme, "output: main", "text").splitlines()
    assert [line for line in shown if line not in printed] == []
    assert {"draw.png", "shape.png"} == {path.name for path in tmp_path.iterdir()}


def test_the_table_of_flattening_is_computed(readme):
    (table,) = re.findall(r"<!-- table: flattening -->\n(.*?)\n\n", readme, re.S)
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in table.splitlines()[2:]]
    pipe, strains = Pipe.from_size("3/4 in Sch 40"), np.array([1, 2, 3, 4])
    assert [row[0] for row in rows] == [f"{strain} %" for strain in strains]
    for column, thickness in enumerate((0.5 * pipe.outer_diameter, 10e-3, 8e-3), start=1):
        outline = pressed(pipe, thickness)
        loose, rigid = (law(outline, RIGID_PVC) for law in (ovalising_response, section_response))
        at = 32 + 4 * strains  # 65 knots up to 8 %
        lost, across = 1.0 - loose.moment[at] / rigid.moment[at], loose.crosswise_strain[at]
        cells = [f"{100 * a:.1f} %, {100 * b:.2f} %" for a, b in zip(lost, across, strict=True)]
        assert [row[column] for row in rows] == cells


def test_cautions_are_there(readme):
    text = " ".join(readme.partition("## Cautions")[2].partition("\n## ")[0].lower().split())
    assert [words for words in CAUTIONS if words not in text] == []


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_links_lead_somewhere(root, name):
    links = re.findall(r"\]\(([^)#]+)[^)]*\)", (root / name).read_text(encoding="utf-8"))
    outside = [link for link in links if "://" in link]
    missing = [link for link in links if link not in outside and not Path(root, link).exists()]
    assert missing == []
    assert name != "README.md" or len(links) > len(outside)


@pytest.mark.parametrize(("which", "total"), [("survey", 20000), ("survey, wild", 5000)])
def test_survey_s_tables_add_up_and_speak_the_program_s_words(which, total, readme):
    (table,) = re.findall(rf"<!-- table: {which} -->\n(.*?)\n\n", readme, re.S)
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in table.splitlines()[2:]]
    counts = [int(row[0]) for row in rows]
    assert sum(counts) == total
    assert [row[1] for row in rows] == [f"{100.0 * n / total:.1f}" for n in counts]
    words = {FLIPS, *(ending.text for ending in Ending)}
    assert {row[2] for row in rows} <= words
    assert {row[3] for row in rows} <= {SOLVED, STOPPED, FLIPPED, REFUSED, FAILED}
