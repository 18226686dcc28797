"""The printed report says what the walk holds, in the units and conventions it names."""

import dataclasses
import re

import pytest

from bowfem.findings import Findings
from bowfem.show.text.cautions import CAUTIONS, ESTIMATE
from bowfem.show.text.tables import WIDTH, draw_report, pipe_table, ruled, wrapped

POUND = 4.4482216152605  # exact by definition (international pound, standard gravity)
FOOT_POUND = 0.3048 * POUND


def rows_of(text: str) -> list[list[float]]:
    """Numbers of the first ruled table."""
    lines = text.splitlines()
    (start,) = [i for i, line in enumerate(lines) if line.startswith("-----  ---")][:1]
    rows = []
    for line in lines[start + 1 :]:
        if not line:
            return rows
        rows.append([float(cell) for cell in line.split()])
    return rows


@pytest.mark.parametrize("name", ["wagtail", "dunlin", "curlew", "lapwing", "giving_way"])
@pytest.mark.parametrize("system", ["us", "metric"])
def test_last_row_is_the_last_state(name, system, request, findings):
    walk = request.getfixturevalue(name)
    draw, weight, tension, energy, share = rows_of(draw_report(findings(walk), system))[-1]
    length, force, work = (0.0254, POUND, FOOT_POUND) if system == "us" else (1e-3, 1.0, 1.0)
    # half of the last printed digit
    add = 1.75 * 0.0254
    assert draw * length == pytest.approx(walk.draw[-1] + add, abs=0.0501 * length)
    assert weight * force == pytest.approx(walk.force[-1], abs=0.0501 * force)
    assert tension * force == pytest.approx(walk.tension[-1], abs=0.0501 * force)
    # and the difference between area under the curve and energy held
    assert energy * work == pytest.approx(walk.energy[-1], abs=0.0501 * work, rel=1e-4)
    assert share / 100 == pytest.approx(walk.yield_share[-1], abs=0.00501)


@pytest.mark.parametrize("name", ["wagtail", "dunlin", "curlew", "lapwing", "giving_way"])
def test_report_is_plain_and_fits(name, request, findings):
    text = draw_report(findings(request.getfixturevalue(name)), "us")
    assert text.isascii()
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= WIDTH
    assert not re.search(r"\bnan\b|\binf\b|-0\.0\b", text)
    said = " ".join(text.split())
    for caution in (ESTIMATE, *CAUTIONS):
        assert caution in said
    assert "Draw length is AMO: nock point to grip pivot, plus 1.75 in" in said


def test_report_says_the_other_convention(wagtail):
    design = wagtail.design.with_values({"draw.measure": "pivot", "draw.length": "26.25 in"})
    text = draw_report(Findings.from_walk(dataclasses.replace(wagtail, design=design)), "us")
    assert "Draw length is from nock point to grip pivot, nothing added." in text
    assert "AMO" not in text
    assert rows_of(text)[-1][0] == 26.25


def test_report_of_an_early_stop_says_where(giving_way, findings):
    said = " ".join(draw_report(findings(giving_way), "us").split())
    assert f"Warning: The walk stopped early. {giving_way.message}" in said


def test_a_name_cannot_steer_the_terminal(wagtail):
    named = dataclasses.replace(
        wagtail, design=dataclasses.replace(wagtail.design, name="Wren\x1b[31m\r")
    )
    assert draw_report(Findings.from_walk(named), "us").startswith("Wren?[31m?: reached")


def test_numbers_stay_with_their_units():
    text = wrapped("word " * 17 + "ab 12.5 in of it")
    assert "\n12.5 in" in text
    assert "\N{NO-BREAK SPACE}" not in text


def test_ragged_rows_are_refused():
    with pytest.raises(ValueError, match="zip"):
        ruled([["a", "b"]], [["1"]])


def test_pipe_table_has_the_printed_figures():
    # ASTM D1785 (seen): 1 in is 1.315 in outside, Sch 40 wall 0.133 in, 0.315 lb/ft
    lines = {line[:13].strip(): line.split() for line in pipe_table("us").splitlines()}
    assert lines["1 in Sch 40"][4:6] == ["1.315", "0.133"]
    assert lines["1 in Sch 40"][-4:] == ["0.315", "ASTM", "D1785", "S"]
    # EN ISO 1452 (from memory): 25 mm PN16 has 1.9 mm; no weight is published here
    metric = {line[:13].strip(): line.split() for line in pipe_table("metric").splitlines()}
    assert metric["25 mm PN16"][3:5] == ["25.00", "1.90"]
    assert metric["25 mm PN16"][6] == "-"


def test_report_of_unequal_limbs_names_them(lapwing, wagtail, findings):
    said = " ".join(draw_report(findings(lapwing), "us").split())
    for words in ("tiller ", "in the hand from brace", "nock travel", "limb is late", "upper back"):
        assert words in said
    alike = " ".join(draw_report(findings(wagtail), "us").split())
    assert not any(word in alike for word in ("tiller", "upper", "lower limb", "nock travel"))
    assert "48 in from tip to tip unstrung" in alike and "common practice)" in alike
