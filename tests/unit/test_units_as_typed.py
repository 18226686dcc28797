"""Quantities as makers type them: read right, or refused with a word that helps."""

import pytest

from bowfem import units
from bowfem.design import Design
from bowfem.errors import DesignError, InputError

IN, FT, POUND = 0.0254, 0.3048, 4.4482216152605

READ = [
    ('1/2"', "length", 0.5 * IN),
    ("4' 6\"", "length", 54 * IN),
    ("4'6\"", "length", 54 * IN),
    ("4' 6 1/2\"", "length", 54.5 * IN),
    ("48 inches", "length", 48 * IN),
    ("48 inch", "length", 48 * IN),
    ("48 in.", "length", 48 * IN),
    ('5 1/2"', "length", 5.5 * IN),
    ("5\u00bd\u2033", "length", 5.5 * IN),
    ("\u00bd in", "length", 0.5 * IN),
    ("1-1/4\u2033", "length", 1.25 * IN),
    ("4 feet 6 inches", "length", 54 * IN),
    ("4 ft. 6 in.", "length", 54 * IN),
    ("3'", "length", 3 * FT),
    ("12,5 mm", "length", 0.0125),
    ("12.5 millimetres", "length", 0.0125),
    ("1.2 metres", "length", 1.2),
    ("35\u00b0", "angle", 0.6108652381980153),
    ("35 degrees", "angle", 0.6108652381980153),
    ("\u22126 deg", "angle", -0.10471975511965978),
    ("23 \u00b0C", "temperature", 296.15),
    ("73.4 deg F", "temperature", 296.15),
    ("35 lbs", "force", 35 * POUND),
    ("35#", "force", 35 * POUND),
    ("40 pounds", "force", 40 * POUND),
    ("150 newtons", "force", 150.0),
    ("400 grains", "mass", 0.025919564),
    ("26 grams", "mass", 0.026),
    ("8 hours", "duration", 28800.0),
    ("30 minutes", "duration", 1800.0),
    ("2 weeks", "duration", 1209600.0),
    ("1 day", "duration", 86400.0),
    ("5 percent", "share", 0.05),
]

REFUSED = [
    ("1,250 mm", "length", "no comma"),
    ("28 in AMO", "length", "measure = 'amo'"),
    ("28", "length", "with its unit"),
    ("A4", "length", "with its unit"),
    ("six inches", "length", "such as '48 in'"),
    ("5.5.5 in", "length", "with its unit"),
    ("40 kg", "force", "a force with its unit"),
    ("35 degrees", "length", "a length with its unit"),
    ("\u201c48 in\u201d", "length", "a length with its unit"),
]


@pytest.mark.parametrize(("text", "kind", "value"), READ)
def test_is_read_as_meant(text, kind, value):
    assert units.parse(text, kind) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(("text", "kind", "said"), REFUSED)
def test_is_refused_with_a_word_that_helps(text, kind, said):
    with pytest.raises(InputError) as refused:
        units.parse(text, kind)
    assert said in str(refused.value)


@pytest.mark.parametrize("value", ["48 in", "1/2 in", "\u201c48 in\u201d", "48\u00b0"])
def test_a_value_without_straight_quotes_is_told_so(value):
    with pytest.raises(DesignError) as refused:
        Design.from_toml(f"name = 'x'\n[draw]\nlength = {value}\n")
    fault = refused.value.faults[0]
    assert fault.key == "line 3" and "straight quotes" in fault.allowed


def test_a_number_that_was_quoted_is_told_so(root):
    text = (root / "examples/designs/wagtail.toml").read_text()
    assert "strands = 14" in text
    with pytest.raises(DesignError) as refused:
        Design.from_toml(text.replace("strands = 14", 'strands = "14"'))
    assert "it was quoted" in refused.value.faults[0].allowed
