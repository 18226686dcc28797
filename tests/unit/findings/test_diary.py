"""A diary in words, the life of a bow, and what is never promised."""

import dataclasses
import json

import numpy as np
import pytest

from bowfem.cli.main import main
from bowfem.findings import NOT_PROMISED, Diary, Life, ranked
from bowfem.findings.life import PSI, bowman, utah, vinson
from bowfem.show import draw_report, report_page


def test_formulas_of_life_as_printed():
    # Moser and Folkman, Buried Pipe Design, eqs 4.17, 4.18 (seen), computed by hand
    assert vinson(5000 * PSI) == pytest.approx(3598.690826772068, rel=1e-9)
    assert vinson(7000 * PSI) == pytest.approx(690.6219761080816, rel=1e-9)
    assert bowman(20e6) == pytest.approx(12485.16753875218, rel=1e-12)
    assert bowman(40e6) == pytest.approx(1224.457988810209, rel=1e-12)
    # eq. 4.19: the amplitude of its own answer comes back
    for mean, amplitude in ((3000.0, 1500.0), (5000.0, 1000.0)):
        decades = np.log10(utah(mean * PSI, amplitude * PSI))
        back = mean * (0.01637 * decades - 0.1697) + 15362.0 / decades - 1782.0
        assert back == pytest.approx(amplitude, rel=1e-9)
    assert np.isnan(utah(1000 * PSI, 20000 * PSI))


def test_life_is_a_range_and_ranks_designs(wagtail, curlew):
    life = Life.from_walk(wagtail)
    assert life.most > 5.0 * life.least
    assert [walk.design.name for walk, _ in ranked([wagtail, curlew])] == ["Curlew", "Wagtail"]


@pytest.fixture(scope="module")
def diary(wagtail):
    return Diary.from_walk(wagtail)


def test_band_holds_the_middle(diary):
    for low, middle, high in zip(diary.low, diary.states, diary.high, strict=True):
        if middle.what == "drawn":
            assert low.weight < middle.weight < high.weight
        if middle.what == "rest":
            assert high.tips[0] < middle.tips[0] < low.tips[0]
    assert all(value > 0.0 for _, value in diary.costs)


def test_memory_and_plastic_set_are_kept_apart(diary):
    (line,) = (each for each in diary.lines if each.label == "set")
    text = line.text("us")
    assert "comes back" in text and "not to be added in full" in text


def test_command_says_what_may_not_be_promised(root, tmp_path, capsys):
    file = tmp_path / "diary.json"
    words = ["diary", str(root / "examples/designs/wagtail.toml"), "--json", str(file)]
    assert main([*words, "--out", str(tmp_path)]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert " ".join(NOT_PROMISED.split()) in printed
    assert "no promise and no number of shots to count on" in printed
    assert "Relaxation beyond an hour is from memory" in printed
    written = json.loads(file.read_text())
    assert written["not_promised"] == NOT_PROMISED
    assert written["life"]["life_least"] < written["life"]["life_most"]
    assert (tmp_path / "diary.png").read_bytes().startswith(b"\x89PNG")


def test_all_that_shows_a_set_says_so(wagtail, findings):
    promise = " ".join(NOT_PROMISED.split())
    assert promise in " ".join(draw_report(findings(wagtail), "us").split())
    assert promise in " ".join(report_page(findings(wagtail)).split())


def test_life_looks_at_the_edge_too(wagtail):
    life = Life.from_walk(wagtail)
    limb = wagtail.limbs[0]
    harder = dataclasses.replace(limb, crosswise_tension=limb.crosswise_tension + 2.0 * life.peak)
    split = dataclasses.replace(wagtail, limbs=(harder, harder))
    assert Life.from_walk(split).peak > 2.0 * life.peak


def test_readme_says_it_too(root):
    readme = " ".join((root / "README.md").read_text().split())
    assert " ".join(NOT_PROMISED.split()) in readme


def test_a_diary_in_the_design_is_read(root, tmp_path, capsys):
    text = (root / "examples/designs/wagtail.toml").read_text()
    file = tmp_path / "kept.toml"
    file.write_text(text + '\n[[diary]]\nwhat = "strung"\nfor = "2 weeks"\n')
    assert main(["diary", str(file)]) == 0
    assert "336.00" in capsys.readouterr().out
    file.write_text(text + '\n[[diary]]\nwhat = "worn"\nfor = "2 weeks"\n')
    assert main(["diary", str(file)]) == 2
    assert "diary.1.what" in capsys.readouterr().err


def test_the_loading_time_of_the_weight_is_told(wagtail, root, capsys):
    assert main(["draw", str(root / "examples/designs/wagtail.toml"), "--full"]) == 0
    printed = capsys.readouterr().out
    assert "loading time" in printed and "held 3 s a scale shows" in printed
