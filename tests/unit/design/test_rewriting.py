"""A changed design is written as its author wrote it."""

import tomllib

import pytest
from hypothesis import given, strategies as st

from bowfem.design import Design, rewritten

EXAMPLES = ("wagtail", "dunlin", "curlew", "lapwing")


@pytest.mark.parametrize("name", EXAMPLES)
def test_nothing_changed_is_nothing_rewritten(root, name):
    text = (root / f"examples/designs/{name}.toml").read_text()
    assert rewritten(text, Design.from_toml(text)) == text


def test_comments_units_and_order_stay(root):
    text = (root / "examples/designs/dunlin.toml").read_text()
    design = Design.from_toml(text)
    changed = design.with_values({"limb.marks.2.thickness": 0.0123, "handle.set": 0.01})
    new = rewritten(text, changed)
    old_lines, lines = text.splitlines(), new.splitlines()
    differ = [(a, b) for a, b in zip(old_lines, lines, strict=True) if a != b]
    assert [b.strip() for _, b in differ] == [
        'set = "0.57296 deg"',
        '{ at = "20 in", thickness = "0.4843 in" },',
    ]
    assert new.startswith("# Stiff tips")


def test_what_must_be_spelled_out_replaces_what_it_stands_for(root):
    text = (root / "examples/designs/wagtail.toml").read_text()
    design = Design.from_toml(text)
    pipe = {"pipe.outer_diameter": design.pipe.outer_diameter, "pipe.wall": 0.00311}
    new = tomllib.loads(rewritten(text, design.with_values(pipe)))["pipe"]
    assert new == {"cut_length": "48 in", "outer_diameter": "1.05 in", "wall": "0.1224 in"}


@given(
    st.floats(0.0080, 0.0200), st.floats(0.0065, 0.0080), st.floats(1.17, 1.3), st.floats(-0.1, 0.1)
)
def test_what_is_read_back_is_the_design_to_a_thousandth_of_a_millimetre(one, two, cut, turn):
    text = "# of its author\n" + TEXT
    design = Design.from_toml(text).with_values(
        {
            "limb.marks.1.thickness": one,
            "limb.marks.2.thickness": two,
            "pipe.cut_length": cut,
            "handle.set": turn,
        }
    )
    new = rewritten(text, design)
    assert new.startswith("# of its author")
    again = Design.from_toml(new)
    for key, value in {
        "limb.marks.1.thickness": one,
        "limb.marks.2.thickness": two,
        "pipe.cut_length": cut,
        "handle.set": turn,
    }.items():
        assert again.value(key) == pytest.approx(value, abs=2e-6)


TEXT = """
name = "Plover"
pipe = { size = "3/4 in Sch 40", cut_length = "48 in" }
handle = { length = "5 in" }
string = { material = "polyester", strands = 14, brace_height = "6 in" }
draw = { length = "28 in", measure = "amo" }
[limb]
marks = [
  { at = "4-1/2 in", thickness = "0.7 in" },
  { at = "23 in", thickness = "0.3 in" },
]
"""
