"""The survey: ten bows, its verdicts, its options; bows that failed once."""

import re
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from benchmarks import kills
from benchmarks.survey import makers, outcome as outcomes
from benchmarks.survey.__main__ import main
from benchmarks.survey.outcome import FAILED, REFUSED, SOLVED, Outcome, Tally, doubt, walked
from benchmarks.survey.refusals import FOUND, NONE, Laws, braced, main as refusals, verdict
from benchmarks.survey.wild import bow
from bowfem.bow import Ending, walk
from bowfem.bow.bracing import BraceError
from bowfem.bow.folding import FINE
from bowfem.bow.walking import STATE
from bowfem.design import Design
from bowfem.findings import Findings
from bowfem.section.pipe import PIPES
from bowfem.show import draw_report


def test_bows_are_made_from_seed_and_number_alone():
    assert bow(3, 5) == bow(3, 5)
    assert bow(3, 5) != bow(3, 6) and bow(3, 5) != bow(4, 5)


def test_bows_are_designs_and_cover_what_is_asked():
    made = [bow(0, number) for number in range(400)]
    for design in made[:40]:
        assert Design.from_toml(design.to_toml()) == design
    lengths = np.array([design.pipe_choice.cut_length for design in made]) / 0.0254
    assert lengths.min() > 36 and lengths.max() < 72
    turns = [bend.turn for design in made for bend in design.limb.bends]
    assert min(turns) < -np.pi / 2 and max(turns) > np.pi / 2
    assert {len(design.limb.bends) for design in made} == {0, 1, 2, 3}
    assert {design.pipe_choice.size for design in made} == {size.name for size in PIPES}
    tips = sum(design.limb.tip is not None for design in made)
    strings = sum(design.string.length is not None for design in made)
    assert 40 < tips < 140 and 40 < strings < 140


def test_makers_bows_are_as_makers_make_them():
    """Common practice, no source: each range is named in the generator."""
    made = [makers.bow(0, number) for number in range(200)]
    assert makers.bow(0, 7) == made[7]
    for design in made:
        assert Design.from_toml(design.to_toml()) == design
        marks, closed = design.limb.marks, 2.0 * design.pipe.wall
        assert all(a.thickness >= b.thickness > closed for a, b in pairwise(marks))
        over = design.pipe_choice.cut_length / design.draw.length
        assert 1.7 < over < 2.35
    assert {design.pipe_choice.size for design in made} == set(makers.PIPES)
    ways = Counter((len(d.limb.bends), d.limb.tip is not None) for d in made)
    assert set(ways) == {(0, False), (1, False), (1, True)} and min(ways.values()) >= 10


@pytest.mark.parametrize("which", [[], ["--wild"]])
def test_ten_bows(which, capsys):
    assert main(["--number", "10", *which]) == 0
    out = capsys.readouterr().out
    rows = [line.split("|")[1:-1] for line in out.splitlines() if line.startswith("|")]
    assert sum(int(row[0]) for row in rows[2:]) == 10
    assert [row[3].strip() for row in rows if row[3].strip() == FAILED] == [FAILED]
    assert re.search(r"0 failed to converge\. Median \d+ ms, slowest \d+\.\d\d s", out)


@pytest.mark.parametrize(
    ("seed", "number"),
    [
        (0, 11),
        (0, 55),
        (0, 64),
        (0, 232),
        (0, 260),
        (1, 323),
        (1, 1012),
        (1, 1018),
        (1, 1408),
        (1, 1625),
        (1, 2142),
        (2, 786),
        (2, 877),
        (2, 912),
        (3, 691),
        (3, 2107),
    ],
)
def test_bows_that_failed_once(seed, number):
    found = walked(bow, seed, number)
    assert not found.is_failure, found


def test_one_bow_is_shown(capsys):
    assert main(["--only", "8", "--wild"]) == 0
    out = capsys.readouterr().out
    assert out.startswith('name = "Bow 8 of seed 0"') and "solved: reached full draw" in out


@pytest.mark.parametrize(
    "words", [["--number", "0"], ["--seed", "-1"], ["--only", "-2"], ["--workers", "3"]]
)
def test_bad_options(words, capsys):
    with pytest.raises(SystemExit):
        main(words)
    assert "error:" in capsys.readouterr().err


def test_what_no_walk_may_show_is_doubted():
    found = walk(bow(0, 8))
    assert doubt(found) == ""
    limb = replace(found.limbs[0], x=found.limbs[0].x * np.nan)
    assert "finite" in doubt(replace(found, limbs=(limb, limb)))
    assert "taut" in doubt(replace(found, tension=-found.tension))
    assert "taut" in doubt(replace(found, tension=0.4 * found.force))
    assert "work and energy" in doubt(replace(found, energy=1.02 * found.energy))


def test_a_crash_is_a_failure(monkeypatch):
    def crash(design):
        raise ZeroDivisionError("by nought")

    monkeypatch.setattr(outcomes, "walk", crash)
    found = walked(bow, 0, 1)
    assert found.is_failure and found.reason == "unexpected ZeroDivisionError"


def test_an_end_without_a_reason_is_a_failure(monkeypatch):
    def lost(design):
        raise BraceError("lost", Ending.NO_CONVERGENCE)

    monkeypatch.setattr(outcomes, "walk", lost)
    assert walked(bow, 0, 1).is_failure
    found = walk(bow(0, 8))
    ended = replace(found, ending=Ending.NO_CONVERGENCE, message="lost")
    monkeypatch.setattr(outcomes, "walk", lambda design: ended)
    assert walked(bow, 0, 8).is_failure and walked(bow, 0, 8).message == "lost"


def test_tally():
    made = [
        Outcome(0, SOLVED, "a", "", 1.0),
        Outcome(1, SOLVED, "a", "", 2.0),
        Outcome(2, REFUSED, "b", "", 9.0),
        Outcome(3, FAILED, "c", "d", 3.0),
    ]
    tally = Tally(tuple(made))
    assert (tally.total, tally.median, tally.slowest.number) == (4, 2.5, 2)
    assert tally.share(SOLVED) == 50.0 and tally.failed == (made[3],)
    assert tally.rows()[0] == ("2", "50.0", "a", SOLVED)
    assert [row[0] for row in tally.rows()] == ["2", "1", "1", "0"]


def test_no_length_is_told_below_what_a_maker_can_see():
    """Nothing printed lies between nought and a tenth of a millimetre."""
    told = 0
    for number in range(16):
        try:
            found = walk(bow(6, number))
        except BraceError:
            continue
        text = draw_report(Findings.from_walk(found), "metric")
        lengths = [float(x) for x in re.findall(r"(?<![\w.])([\d.]+(?:e-?\d+)?) mm\b", text)]
        told += len(lengths)
        assert all(x == 0.0 or x >= 0.1 for x in lengths), (number, min(lengths))
    assert told > 50


def test_a_snap_between_two_states_is_seen():
    # the limb goes on beyond, with a seventh of the step's work lost
    coarse, fine = (walk(makers.bow(555, 159), step=step) for step in (STATE, STATE / 3.0))
    assert coarse.ending is fine.ending is Ending.SNAP
    # each within a fine step of the snap
    assert coarse.draw[-1] == pytest.approx(fine.draw[-1], abs=2.0 * FINE)


def test_a_string_that_comes_off_the_end_of_a_curl_does_not_slip():
    # the last of the belly it lies on is turned by the curl, not by the axis alone
    found = walk(makers.bow(555, 77), refine=3, step=STATE / 3.0)
    assert found.ending is Ending.COMPLETE
    same = walk(makers.bow(555, 77), refine=3)
    assert found.force[-1] == pytest.approx(same.force[-1], rel=1e-8)


def test_the_mesh_is_judged_at_full_draw():
    # known well enough at four fifths of what it bears, and not at full draw
    found, fine = walk(makers.bow(555, 196)), walk(makers.bow(555, 196), refine=8)
    assert found.mesh_error is not None and found.mesh_error.weight <= 1e-5
    assert found.force[-1] == pytest.approx(fine.force[-1], rel=1e-5)


def test_a_thin_tip_that_buckles_just_beyond_brace_is_found():
    """Against a limb shot through by itself; that one limb gives way to the other is told then."""
    design = makers.bow(0, 48)
    with pytest.raises(BraceError) as caught:
        walk(design, accuracy=None)
    assert caught.value.ending is Ending.TURNS_OVER
    path = caught.value.status
    assert path is not None and design.string.brace_height is not None
    above = design.pivot_distance + design.string.brace_height
    (half,) = braced(Laws.from_design(design), above)[0].half
    stretched = 1.0 + path.tension[-1] / design.string.stiffness
    assert path.string_length[-1] * stretched == pytest.approx(half, rel=2e-4)


def test_states_at_the_end_stand_apart():
    # a bow whose last draw lay 1e-16 m beyond the one before it
    found = walk(bow(6, 300))
    assert found.ending is not Ending.COMPLETE
    assert np.min(np.diff(found.draw)) > 1e-9


def test_shooting_finds_braced_bows_and_none_where_one_folds(capsys):
    # a straight bow, one whose string lies on its curls; bows that fold as they are braced
    assert verdict(makers.bow(0, 0)) == verdict(makers.bow(0, 1)) == FOUND
    assert verdict(makers.bow(0, 4)) == verdict(makers.bow(0, 69)) == NONE
    assert refusals(["--refused", "1"]) == 0
    assert "1 bows of" in capsys.readouterr().out


@pytest.mark.parametrize(("way", "number"), [("writing", 2), ("own", 1)])
def test_kills_leave_nothing_behind(way, number, capsys):
    assert kills.main(["--number", str(number), "--only", way]) == 0
    assert f"{number} kills, 0 found wrong" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("name", "content", "whole"),
    [
        ("a.png", b"\x89PNG", False),
        ("a.html", b"<html></html>\n", True),
        ("a.html", b"<html>", False),
        ("a.json", b'{"a": 1', False),
        ("a.svg", b"<svg><g></svg>", False),
        ("a.csv", b"a,b\n1,2\n3,", False),
        ("a.csv", b"a,b\n1,2\n3,4\n", True),
        ("a.draft", b"", False),
    ],
)
def test_half_written_files_are_seen(name, content, whole, tmp_path):
    (tmp_path / name).write_bytes(content)
    assert kills._is_whole(tmp_path / name) == whole
