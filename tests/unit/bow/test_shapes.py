"""Limbs of many shapes: several bends, S-shapes, curls past half a turn, set handles."""

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest

from bowfem.bow import Ending, LimbModel, brace, walk
from bowfem.bow.balance import Balance
from bowfem.bow.limb_states import LimbStates
from bowfem.design import Bend, Design, Limb, LimbShape, Mark, Side
from bowfem.rod import Settings

CURLEW = Design.from_file(Path(__file__).parents[3] / "examples" / "designs" / "curlew.toml")
INCH = 0.0254
TIGHT = Settings(tolerance=1e-13)


def bent(*rows: tuple[float, float, float, str], **changes) -> Design:
    """Curlew with other bends: from, radius, in; angle, deg; direction."""
    bends = tuple(
        Bend(start=start * INCH, radius=radius * INCH, angle=math.radians(angle), direction=way)
        for start, radius, angle, way in rows
    )
    design = dataclasses.replace(CURLEW, limb=dataclasses.replace(CURLEW.limb, bends=bends))
    return design.with_values(changes)


SHAPES = {
    "curl of 150": bent((18, 3, 150, "forward")),
    "curl of 200": bent((17, 2.5, 200, "forward")),
    "curl of 230": bent((15, 2.5, 230, "forward")),
    "curl of 210 in two bends": bent((16, 3.2, 100, "forward"), (22.6, 2, 110, "forward")),
    "S": bent((8, 20, 25, "back"), (19, 4, 70, "forward")),
    "S the other way": bent((8, 20, 25, "forward"), (18, 10, 40, "back"), (25.1, 3, 15, "forward")),
    "four bends": bent(
        (7, 20, 15, "back"), (13, 30, 10, "forward"), (19, 4, 70, "forward"), (24.2, 5, 25, "back")
    ),
    "reflexed handle": bent(**{"handle.set": "12 deg"}),
    "deflexed handle": bent(**{"handle.set": "-12 deg"}),
    "deflexed handle and curls": bent((21.25, 3.65, 60, "forward"), **{"handle.set": "-12 deg"}),
}


@pytest.mark.parametrize("name", SHAPES)
def test_walks_and_keeps_the_energy(name):
    # first law; what is left is the quadrature of the draw curve through lift-off
    found = walk(SHAPES[name], step=0.004, refine=2)
    assert found.ending is Ending.COMPLETE
    assert found.energy_at(found.draw[-1]) == pytest.approx(found.energy[-1], rel=1e-5)
    fine = walk(SHAPES[name], step=0.04, refine=4)
    force = [found.weight_at(draw) for draw in fine.draw[1:]]
    # the mesh; where the string lifts off a curl as the draw begins, somewhat more
    np.testing.assert_allclose(force, fine.force[1:], rtol=1e-3)


@pytest.mark.parametrize("name", SHAPES)
def test_unbraced_shape_is_a_chain_of_arcs(name):
    # closed form: straight pieces and arcs, end to end
    design = SHAPES[name]
    place, angle, s = np.zeros(2), 0.0, 0.0  # along the bow, toward the archer
    pieces = [(0.0, 0.5 * design.handle.length, -design.handle.set)]
    pieces += [(bend.start, bend.stop, bend.turn) for bend in design.limb.bends]
    end = design.limbs[0].nock_station
    for start, stop, turn in [*pieces, (end, end, 0.0)]:
        place = place + (start - s) * np.array([math.cos(angle), math.sin(angle)])
        share = (min(stop, end) - start) / (stop - start) if stop > start else 0.0
        if turn:
            radius, turn = (stop - start) / turn, turn * share
            place = place + radius * np.array(
                [
                    math.sin(angle + turn) - math.sin(angle),
                    math.cos(angle) - math.cos(angle + turn),
                ]
            )
            angle += turn
        else:
            step = min(stop, end) - start
            place = place + step * np.array([math.cos(angle), math.sin(angle)])
        s = min(stop, end)
    tip = LimbModel.from_design(design).rod.position0[-1]
    np.testing.assert_allclose(tip, place, atol=1e-9)  # quadrature of the tangent


def braced(design: Design, offset: float | None) -> tuple[LimbStates, float, float]:
    """Brace a bow, its string as far off the axis as made or as given; limb, tension, offset."""
    model = LimbModel.from_design(design)
    if offset is not None:
        rod = dataclasses.replace(model.rod, belly=np.full(model.rod.belly.shape, offset))
        model = dataclasses.replace(model, rod=rod)
    path = brace(Balance(design, (model,), TIGHT)).limbs[0]
    limb = LimbStates.from_path(model, path, design.material, Side.UPPER)
    return limb, float(path.tension[0]), float(model.rod.end_belly)


@pytest.mark.parametrize(
    ("name", "offset"),
    [
        ("curl of 150", None),
        ("curl of 200", None),
        ("curl of 230", None),
        ("curl of 150", 1e-3),
        ("curl of 150", 1e-4),
    ],
)
def test_wrapped_curl_carries_the_strings_offset_alone(name, offset):
    # statics: cut limb and string where the string lies on it; beyond the cut nothing pulls, so the
    # limb's moment is that of the string about its axis: T b, none as b goes to zero
    limb, tension, b = braced(SHAPES[name], offset)
    pieces = limb.contact[0]
    outer, inner = pieces[int(np.nanargmax(pieces[:, 0] - pieces[:, 1]))]
    turned = np.interp([inner, outer], limb.s, limb.angle[0])
    assert math.degrees(abs(turned[1] - turned[0])) > 90.0
    # where the limb is flat, and in elements the end of contact does not cut
    s, m = limb.s[limb.inside], limb.moment[0, limb.inside]
    elements = s.reshape(-1, 4)
    flat = max(inner + 0.02, 21 * INCH)
    on = np.repeat((elements[:, 0] > flat) & (elements[:, 3] < outer - 0.005), 4)
    assert np.count_nonzero(on) >= 12
    scale = np.abs(m).max()
    np.testing.assert_allclose(m[on], tension * b, rtol=1e-7, atol=1e-7 * scale)
    if offset is not None:  # and the wrapped curl turns back by the little that M ds / EI says
        EI = LimbModel.from_design(SHAPES[name]).rod.EI.ravel()[on]
        turned = limb.angle[0, limb.inside][on] - limb.unbraced_angle[limb.inside][on]
        # beyond the bend the limb is straight, and stiffer
        bend = tension * offset * np.trapezoid(1.0 / EI, s[on])
        assert np.ptp(turned) == pytest.approx(bend, rel=0.01)


@pytest.mark.parametrize("taper", ["straight", "smooth"])
def test_a_round_mark_at_the_handles_end_adds_nothing(taper):
    """A limb whose first mark says "round" where the handle ends is the one without that mark."""
    marks = (Mark(0.0635, "round"), Mark(0.3, 0.02), Mark(0.5, 0.008))
    handle, pipe = CURLEW.handle, CURLEW.pipe
    assert handle.length == pytest.approx(2 * 0.0635)
    with_mark, without = (
        LimbShape(Limb(each, taper=taper), handle, pipe, 0.6, 0.01) for each in (marks, marks[1:])
    )
    s = np.linspace(0.0, 0.6, 61)
    np.testing.assert_allclose(with_mark.thickness_at(s), without.thickness_at(s), rtol=1e-12)
    assert with_mark.breaks == without.breaks
    assert with_mark.thickness_at(0.03) == pipe.outer_diameter
