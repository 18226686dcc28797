"""Learning a plastic's memory: what was put in comes out."""

import numpy as np
import pytest

from bowfem.cli.main import main
from bowfem.design import Design
from bowfem.errors import DesignError
from bowfem.findings import StringFollow
from bowfem.orders import learn_memory, with_memory
from bowfem.orders.measured import measurements_from_toml
from bowfem.orders.remembered import lost_while_strung


def pair(design, after):
    text = f'[[kept]]\nfor = "8 h"\nbefore = "160 N"\nafter = "{160.0 * after:.6f} N"\n'
    return measurements_from_toml(text, design)


@pytest.mark.parametrize("fading", [0.7, 1.2])
def test_one_pair_of_weights_tells_the_fading(wagtail, fading):
    after = lost_while_strung(wagtail, 8 * 3600.0, fading)
    found = learn_memory(wagtail.design, pair(wagtail.design, after))
    assert found.fading == pytest.approx(fading, abs=2e-3) and not found.at_end
    assert 0.02 < found.error < 0.3
    assert with_memory(wagtail.design, found).material_choice.fading == round(found.fading, 3)


def test_what_cannot_be_is_told_and_not_written(wagtail):
    found = learn_memory(wagtail.design, pair(wagtail.design, 0.6))
    assert found.at_end
    assert with_memory(wagtail.design, found) == wagtail.design


def test_string_follow_tells_the_share_that_stayed(wagtail):
    bound = StringFollow.after(wagtail).tips[0]
    text = f'[[follow]]\ntoward = "{1000.0 * 0.25 * bound:.6f} mm"\n'
    found = learn_memory(wagtail.design, measurements_from_toml(text, wagtail.design))
    assert found.plastic_share == pytest.approx(0.25, rel=1e-6)
    assert np.isnan(found.fading)


def test_command_writes_what_was_learnt(root, tmp_path, capsys):
    measured, new = tmp_path / "measured.toml", tmp_path / "new.toml"
    measured.write_text('[[kept]]\nfor = "8 h"\nbefore = "37 lbf"\nafter = "35.2 lbf"\n')
    words = ["learn", str(root / "examples/designs/wagtail.toml"), str(measured)]
    assert main([*words, "--out", str(new)]) == 0
    assert "fades after the first minute" in capsys.readouterr().out
    fading = Design.from_file(new).material_choice.fading
    assert fading is not None and 0.1 < fading < 1.5


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ('for = "8 h"\nbefore = "37 lbf"\nafter = "45 lbf"', "kept.1.after"),
        ('for = "3 s"\nbefore = "37 lbf"\nafter = "35 lbf"', "kept.1.for"),
        ('before = "37 lbf"\nafter = "35 lbf"', "kept.1.for"),
    ],
)
def test_refuses_pairs_that_are_none(wagtail, text, key):
    with pytest.raises(DesignError) as refused:
        measurements_from_toml(f"[[kept]]\n{text}\n", wagtail.design)
    assert refused.value.faults[0].key == key
