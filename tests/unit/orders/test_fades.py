"""Ways to make the fade: what each does to the crease, by whole walks."""

from bowfem.bow import walk
from bowfem.design import Design
from bowfem.findings import Crease
from bowfem.orders import Levers, fade_moves
from bowfem.show import levers_report


def test_longer_and_rounded_fades_crease_less(root):
    """Common practice, no source: makers lengthen the fade and round its ends against creases."""
    now, moves = fade_moves(Design.from_file(root / "examples/designs/wagtail.toml"))
    by_name = {move.name: move for move in moves}
    assert by_name["longer fade"].crease_share < now
    assert by_name["rounded ends of the fade"].crease_share < now
    # nothing is flat where its fade ends, so that no side can be flush
    assert not any(name.startswith("bump") for name in by_name)


def test_a_move_is_the_walk_of_its_design(root):
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    rounded = walk(design.with_value("handle.fade_shape", "rounded"))
    _, moves = fade_moves(design)
    (move,) = (each for each in moves if each.name.startswith("rounded"))
    assert move.crease_share == Crease.from_walk(rounded).yield_share
    assert move.weight == rounded.force[-1] - walk(design).force[-1]


def test_a_bump_is_offered_where_the_limb_is_flat(root):
    """A bump on one side puts the whole step there: worse than in the middle, on either side."""
    flat = Design.from_file(root / "examples/designs/wagtail.toml").with_values(
        {"limb.marks.1.thickness": "14 mm", "draw.length": "18 in"}
    )
    now, moves = fade_moves(flat)
    shares = {move.name: move.crease_share for move in moves}
    assert {"bump on the back", "bump on the belly"} <= set(shares)
    # all of the step on one face, not half
    assert min(shares["bump on the back"], shares["bump on the belly"]) > now


def test_the_report_shows_them(root):
    found = Levers.from_design(Design.from_file(root / "examples/designs/wagtail.toml"))
    text = levers_report(found, "us")
    (line,) = (line for line in text.splitlines() if line.startswith("longer fade"))
    assert line.split()[2:4] == ["0.39", "in"]
    assert float(line.split()[-1]) == round(100.0 * found.fades[0].crease_share)
