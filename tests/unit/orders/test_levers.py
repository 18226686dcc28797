"""The maker's moves against whole walks of bows on which they were made."""

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.design import Design
from bowfem.orders.levers import Levers, moves


def figures(design):
    found = walk(design, step=0.2)
    peak = np.max(found.yield_share[[0, -1]])
    fade = max(shape.fade_end for shape in found.design.limbs)
    gaps = [float(np.interp(fade, limb.s, limb.clearance[0])) for limb in found.limbs]
    tiller = gaps[0] - gaps[1]
    return np.array([found.force[-1], peak, found.string_length, found.brace_height, tiller])


def peaks(design):
    limbs = walk(design, step=0.2, both_limbs=True).limbs
    return np.array([np.max(limb.yield_share[[0, -1]]) for limb in limbs])


@pytest.mark.parametrize("name", ["wagtail", "curlew", "lapwing"])
def test_every_move_equals_differences_of_whole_walks(root, name):
    design = Design.from_file(root / f"examples/designs/{name}.toml")
    found = Levers.from_design(design)
    now = figures(design)
    for effect in found.effects:
        move = effect.move
        if name == "lapwing" and "limb" not in move.name:
            continue  # that lever is the same code on both limbs as on one
        # central, to fourth order, far wider than the steps inside; where the section changes its
        # regime, thickness has kinks of third order, so not too wide
        h = 0.02 * move.amount

        def at(x, move=move):
            up, down = (figures(move.lever.change(design, s * x)) for s in (1, -1))
            return (up - down) / (2.0 * x)

        slope = (4.0 * at(h) - at(2.0 * h)) / 3.0
        got = np.array(
            [
                effect.weight,
                effect.yield_share,
                effect.string_length,
                effect.brace_height,
                effect.tiller,
            ]
        )
        # to 1e-5 of the effect, or of what the move does to the weight where an effect is all but
        # nought
        floor = abs(effect.weight) / found.weight * np.append(now[:4], now[3])
        error = np.abs(got - slope * move.amount) / np.maximum(np.abs(got), floor)
        if "alone" in move.name:  # two limbs that were alike part: the peak has a kink there
            # its own mark cuts the mesh, so the bow without it would not do to compare with
            there, here = (peaks(move.lever.change(design, x)) for x in (h, 0.0))
            ahead = np.max((there - here) * move.amount / h)
            assert got[1] == pytest.approx(ahead, rel=0.02)
            error[1] = 0.0
        assert np.max(error) < 1e-5, (move.name, error)


def test_moves_of_each_limb(root):
    design = Design.from_file(root / "examples/designs/lapwing.toml")
    names = [move.name for move in moves(design)]
    assert any(name.startswith("upper limb puffed") for name in names)
    assert any(name.startswith("lower limb puffed") for name in names)


def test_signs_a_maker_knows(root):
    """Longer is weaker, thicker stronger, warm weaker (10 C: a tenth, M), a longer string slacker.

    From memory: the modulus falls by about 1 % a degree.
    """
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    found = {each.move.name: each for each in Levers.from_design(design).effects}
    assert found["longer cut"].weight < 0.0 < found["thicker wall"].weight
    assert found["warmer"].weight / 170.89 == pytest.approx(-0.1, abs=0.01)
    assert found["more brace height"].string_length < 0.0
    assert found["more brace height"].brace_height == pytest.approx(0.005)
    stringed = design.with_value("string.length", walk(design).string_length)
    given = {each.move.name: each for each in Levers.from_design(stringed).effects}
    assert given["longer string"].brace_height < 0.0
    assert given["longer string"].string_length == pytest.approx(0.005)
    # one and the same slope, by brace and by string
    rate = found["more brace height"].weight / found["more brace height"].string_length
    assert given["longer string"].weight / 0.005 == pytest.approx(rate, rel=1e-6)


def test_signs_of_practice(root):
    """Deflex lowers the weight, reflex and puffing up raise it, stiff tips raise it (C)."""
    design = Design.from_file(root / "examples/designs/dunlin.toml")
    found = {each.move.name: each for each in Levers.from_design(design).effects}
    assert found["handle set forward"].weight > 0.0  # so backward, deflex, lowers it
    assert found["puffed up, 1 to 2"].weight > 0.0
    assert found["longer cut"].weight < 0.0 < found["nock further in"].weight
    assert found["stiff tip begins further out"].weight < 0.0


def test_one_limb_alone_moves_the_tiller(root):
    """A stiffer upper limb bends less: the string comes nearer to it, tiller falls (C)."""
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    found = {each.move.name: each for each in Levers.from_design(design).effects}
    both, alone = found["puffed up, 1 to 2"], found["puffed up, 1 to 2, upper alone"]
    assert alone.tiller < 0.0 and abs(both.tiller) < 1e-9
    assert alone.weight == pytest.approx(0.5 * both.weight, rel=0.02)
