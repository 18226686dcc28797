"""The first screen: what a maker must know first, within 80 columns and 24 rows."""

import dataclasses

import pytest

from bowfem.bow import walk
from bowfem.cli.main import main
from bowfem.design import Design
from bowfem.findings import Findings
from bowfem.orders import WeightBand, needs_easing, what_eases
from bowfem.show import first_screen


@pytest.mark.parametrize("name", ["wagtail", "curlew", "dunlin", "lapwing", "giving_way"])
@pytest.mark.parametrize("system", ["us", "metric"])
def test_fits_a_terminal_and_keeps_the_weight(name, system, findings, request):
    found = findings(request.getfixturevalue(name))
    rows = first_screen(found, system).split("\n")
    assert len(rows) < 24
    assert max(map(len, rows)) <= 80
    assert any(row.startswith("weight ") for row in rows[:2])
    # lines break between words, and none ends in the middle of a quantity
    units = ("lbf", "in", "N", "mm", "%", "deg")
    assert not any(row.split()[0] in units for row in rows if row.startswith(" "))
    assert "Never a dry fire" in "\n".join(rows[-3:])


def test_a_bow_past_yield_says_in_eight_lines_what_to_do(root):
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    worn = walk(design.with_value("draw.length", "31 in"))
    found = Findings.from_walk(worn)
    assert needs_easing(found)
    band = WeightBand.from_design(worn.design)
    first = first_screen(found, "us", band, what_eases(worn)).split("\n")[:8]
    text = " ".join(" ".join(first).split())
    assert f"{worn.force[-1] / 4.4482216:.3g} lbf at 31 in AMO" in text  # weight
    assert "95 of 100 such bows draw" in text  # band
    spot = found.hot_spots[0]
    assert f"{spot.s / 0.0254:.1f} in from the centre" in text  # place
    assert f"{spot.yield_share:.0%} of yield (it takes a set there)" in text  # number
    assert "change" in text and "at most" in text  # advice, and what it brings


def test_warnings_come_before_the_rest(wagtail, findings):
    rows = first_screen(findings(wagtail), "us").split("\n")
    labels = [row.split()[0] for row in rows if not row.startswith(" ")]
    assert labels.index("warning") < labels.index("draws")
    calm = dataclasses.replace(findings(wagtail))
    calm.__dict__["warnings"] = ()
    assert "warning" not in first_screen(calm, "us")


def test_all_of_it_only_when_asked(root, capsys):
    name = str(root / "examples/designs/wagtail.toml")
    assert main(["draw", name]) == 0
    short = capsys.readouterr().out
    assert main(["draw", name, "--full"]) == 0
    full = capsys.readouterr().out
    assert short.count("\n") <= 24 < full.count("\n")
    assert "Worked hardest" in full and "Pipe that has been heated" in full
    assert "\x1b" not in short  # no terminal, no colour


class Terminal:
    """What looks like one."""

    def isatty(self):
        return True


def test_a_terminal_gets_colour_unless_told_not_to(monkeypatch):
    from bowfem.cli import common

    monkeypatch.setattr(common.sys, "stdout", Terminal())
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    text = "Wren: reached\nweight   1 N\nwarning  far\n         too far\ndraws    1"
    rows = common.in_colour(text).split("\n")
    assert [row.startswith("\x1b[") for row in rows] == [True, True, True, True, False]
    monkeypatch.setenv("NO_COLOR", "1")
    assert common.in_colour(text) == text
