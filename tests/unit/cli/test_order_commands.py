"""The commands size and levers: what they print, write, and refuse."""

import pytest

from bowfem.bow import walk
from bowfem.cli.main import main
from bowfem.design import Design

POUND = 4.4482216152605


@pytest.fixture
def wagtail(root):
    return str(root / "examples/designs/wagtail.toml")


def test_size_writes_a_bow_that_meets_the_order(wagtail, tmp_path, capsys):
    out = tmp_path / "sized.toml"
    order = ["size", wagtail, "--weight", "33 lbf", "--at", "27 in", "--out", str(out)]
    assert main(order) == 0
    printed = capsys.readouterr().out
    assert "order met" in printed and "33 lbf at 27 in AMO" in printed
    found = walk(Design.from_file(out))
    assert found.design.draw.length == pytest.approx(27 * 0.0254)
    assert found.force[-1] == pytest.approx(33 * POUND, rel=1e-3)


def test_size_out_of_reach(wagtail, capsys):
    assert main(["size", wagtail, "--weight", "300 N", "--units", "metric"]) == 4
    printed = capsys.readouterr().out
    assert "nearest bow" in printed and "margin to yield" in printed and "mm" in printed
    assert max(map(len, printed.splitlines())) <= 92


def test_size_with_ranges(wagtail, capsys):
    free = "pipe.cut_length = 46 in .. 56 in"
    assert main(["size", wagtail, "--weight", "35 lbf", "--free", free]) == 0
    assert "pipe.cut_length" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--weight", "35"], "--weight = 35"),
        (["--weight", "-3 lbf"], "weight"),
        (["--weight", "35 lbf", "--at", "90 in"], "--at = 90 in"),
        (["--weight", "35 lbf", "--free", "x"], "KEY=LOW..HIGH"),
        (["--weight", "35 lbf", "--free", "limb.marks.5.at=1 in..2 in"], "limb.marks.5.at"),
        (["--weight", "35 lbf", "--free", "limb.marks.1.at=1..2"], "--free limb.marks.1.at = 1"),
        (["--weight", "35 lbf", "--free", "limb.marks.1.at=5 in..4 in"], "bounds"),
        (["--weight", "35 lbf", "--yield-share", "0 %"], "yield_share"),
        (["--weight", "35 lbf", "--out", "/no/such/folder/x.toml"], "--out"),
    ],
)
def test_size_refuses(wagtail, capsys, words, told):
    assert main(["size", wagtail, *words]) == 2
    error = capsys.readouterr().err
    assert told in error
    assert error.count("\n") == 1


def test_levers_prints_and_draws(wagtail, tmp_path, capsys):
    assert main(["levers", wagtail, "--out", str(tmp_path)]) == 0
    printed = capsys.readouterr().out
    assert "puffed up, 1 to 2" in printed
    assert max(map(len, printed.splitlines())) <= 100
    assert (tmp_path / "levers.png").read_bytes().startswith(b"\x89PNG")
    assert main(["levers", wagtail, "--units", "metric"]) == 0
    metric = capsys.readouterr().out
    assert "10 C" in metric and "10 mm" in metric and "0.25 mm" in metric


@pytest.mark.parametrize("command", ["size", "levers"])
def test_help(command, capsys):
    assert main([command, "--help"]) == 0
    assert "DESIGN.toml" in capsys.readouterr().out
