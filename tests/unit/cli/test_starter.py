"""The starter design is a design, and explains every key there is."""

import re

import numpy as np
import pytest

from bowfem.bow import Ending, walk
from bowfem.cli.main import main
from bowfem.cli.starter import STARTER, starter
from bowfem.design import Design
from bowfem.design.fields import Group, Rows, fields_of


def keys(part: type) -> set[str]:
    found = set()
    for field in fields_of(part):
        found.add(field.key)
        if isinstance(field.spec, Group | Rows):
            found |= keys(field.spec.part)
    return found


def test_starter_reads():
    assert Design.from_toml(STARTER).pipe.name == "3/4 in Sch 40"


def test_starter_names_every_key():
    words = set(re.findall(r"[a-z_]+", STARTER))
    assert {key for key in keys(Design) if key not in words} == set()
    assert len(keys(Design)) > 30


@pytest.mark.parametrize("kind", ["straight", "tips", "curls"])
def test_each_kind_is_turned_on_in_the_file(kind):
    text = starter(kind)
    limb = Design.from_toml(text).limb
    assert (limb.tip is not None) == (kind == "tips")
    assert len(limb.bends) == (kind != "straight")
    # nothing else changes: comments and keys stand as they did
    plain, own = STARTER.splitlines(), text.splitlines()
    assert [row.lstrip("# ") for row in own] == [row.lstrip("# ") for row in plain]


def test_new_sizes_an_order(tmp_path, capsys):
    """The order is met by the file as written, walked again; comments stay."""
    path = tmp_path / "ordered.toml"
    order = ["--weight", "20 lbf", "--draw", "26 in", "--kind", "curls"]
    assert main(["new", str(path), *order]) == 0
    said = capsys.readouterr().out
    assert (
        "Sch 40, cut " in said
        and "95 of 100 such bows" in said
        and max(map(len, said.replace(str(path), "").splitlines())) <= 92
    )
    found = walk(Design.from_file(str(path)))
    assert found.ending is Ending.COMPLETE
    assert found.force[-1] / 4.4482216152605 == pytest.approx(20.0, rel=2e-3)
    assert found.draw[-1] + 1.75 * 0.0254 == pytest.approx(26 * 0.0254)
    assert np.max(found.yield_share) <= 0.95 + 1e-6
    assert "# from round to flat" in path.read_text()


def test_new_says_when_an_order_is_not_met(tmp_path, capsys):
    path = tmp_path / "ordered.toml"
    order = ["--weight", "80 lbf", "--pipe", "1/2 in Sch 40", "--cut", "50 in"]
    assert main(["new", str(path), *order]) == 4
    assert "not as ordered" in capsys.readouterr().out
    Design.from_file(str(path))


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--weight", "0 lbf"], "--weight"),
        (["--weight", "35"], "--weight"),
        (["--weight", "35 lbf", "--draw", "28 lbf"], "--draw"),
        (["--pipe", "1 in Sch 40"], "--pipe"),
        (["--weight", "35 lbf", "--pipe", "9 in Sch 40"], "--pipe"),
        (["--weight", "35 lbf", "--cut", "40 ft"], "--cut"),
        (["--kind", "holm"], "--kind"),
    ],
)
def test_new_refuses(words, told, tmp_path, capsys):
    path = tmp_path / "ordered.toml"
    assert main(["new", str(path), *words]) == 2
    said = capsys.readouterr().err
    assert told in said and said.count("\n") == 1 and not path.exists()
