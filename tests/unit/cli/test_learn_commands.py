"""The command learn: what it prints, writes and refuses."""

import pytest

from bowfem.bow import walk
from bowfem.cli.main import main
from bowfem.design import Design


@pytest.fixture
def wagtail(root):
    return str(root / "examples/designs/wagtail.toml")


def test_learn(wagtail, tmp_path, capsys):
    measured, out = tmp_path / "measured.toml", tmp_path / "learned.toml"
    measured.write_text('[[weight]]\ndraw = "28 in"\nforce = "36 lbf"\nerror = "0.1 lbf"\n')
    words = ["learn", wagtail, str(measured), "--weight", "35 lbf", "--out", str(out)]
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert "measure next" in printed and "to draw 35 lbf, one of" in printed
    assert max(map(len, printed.splitlines())) <= 92
    # what was measured is what the bow written draws, but for the pull of what was known before
    assert walk(Design.from_file(out)).force[-1] == pytest.approx(36 * 4.4482216, rel=1e-3)


def test_refused(wagtail, tmp_path, capsys):
    assert main(["learn", wagtail, str(tmp_path / "none.toml")]) == 2
    measured = tmp_path / "measured.toml"
    measured.write_text('[[weight]]\ndraw = "28 in"\n')
    assert main(["learn", wagtail, str(measured)]) == 2
    assert "weight.1.force" in capsys.readouterr().err
