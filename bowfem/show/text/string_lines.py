"""Lines of the report on the string: where it runs, and how to make it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from bowfem.findings import TAIL, draw_text, place_text, spot_text
from bowfem.units import System, show

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.findings import Bridge, ContactPiece, Loop, Summary


def string_lines(walk: Walk, summary: Summary, system: System) -> list[tuple[str, str]]:
    """Return labels and texts on the string's run and its making.

    Parameters
    ----------
    walk : Walk
        The walk, complete or not.
    summary : Summary
        Its figures.
    system : {"us", "metric"}
        Units.
    """
    lines = [
        ("string run", _contacts_text(walk, summary.run.contacts, system)),
        ("clearance", _clearance_text(walk, summary, system)),
        ("string angles", _angles_text(walk, summary, system)),
    ]
    return lines + making_lines(summary, system)


def making_lines(summary: Summary, system: System) -> list[tuple[str, str]]:
    """Return labels and texts on how to make the string: its loops, a bridge, the cut."""
    lines = [
        *((_of("loops", loop.limb), _loop_text(loop, system)) for loop in summary.loops),
        *((_of("bridge", bridge.limb), _bridge_text(bridge, system)) for bridge in summary.bridges),
    ]
    if summary.cut is None:
        return [*lines, ("cut", "the least loops are longer than the string")]
    return [*lines, ("cut", _cut_text(summary, system))]


def _of(what: str, limb: str) -> str:
    return f"{what}, {limb}" if limb else what


def _contacts_text(walk: Walk, pieces: tuple[ContactPiece, ...], system: System) -> str:
    if not pieces:
        return "touches the limb at the groove only, at any draw"
    found = []
    for piece in pieces:
        begin = f"from {draw_text(walk, piece.first, system)} on"
        since = "at brace" if piece.first <= walk.draw[0] else begin
        end = (
            "still on it at the last draw"
            if piece.lift_off is None
            else f"off it at {draw_text(walk, piece.lift_off, system)}"
        )
        found.append(
            f"{since} lies on the limb {place_text(piece.inner, system)} to "
            f"{spot_text(piece.outer, piece.limb, system)}, {end}; presses at most "
            f"{show(piece.pressure, 'spring_rate', system, 3)}, at "
            f"{place_text(piece.pressure_s, system)}"
        )
    return "; ".join(found)


def _clearance_text(walk: Walk, summary: Summary, system: System) -> str:
    """Say how far the string runs from the belly."""
    middle = show(summary.clearance_middle, "length", system, 3)
    text = f"{middle} from string to belly in the middle of the limb at brace; "
    narrow = summary.run.narrow
    if narrow is None:
        return text + "nowhere much nearer before the groove or the contact, at any draw"
    return text + (
        f"nearest, apart from the groove, {show(narrow.clearance, 'length', system, 3)} "
        f"at {spot_text(narrow.s, narrow.limb, system)}, at {draw_text(walk, narrow.draw, system)}"
    )


def _angles_text(walk: Walk, summary: Summary, system: System) -> str:
    run = summary.run

    def degrees(angle: float) -> str:
        return f"{math.degrees(angle):.0f} deg"

    at_brace, drawn = (max(angle[i] for angle in run.groove_angle) for i in (0, -1))
    text = (
        f"{degrees(float(run.nock_angle[-1]))} between its parts at the nock point at the last "
        f"draw; against the limb at the groove {degrees(at_brace)} at brace, {degrees(drawn)} at "
        "the last draw"
    )
    if run.outward is not None:
        text += (
            f"; above a right angle from {draw_text(walk, run.outward, system)} on: the nocks must "
            "hold the loops from slipping toward the ends"
        )
    return text


def _loop_text(loop: Loop, system: System) -> str:
    return (
        f"at least {show(loop.reach, 'length', system, 3)} from groove to where the legs join, "
        f"{show(loop.around, 'length', system, 3)} once around, for "
        f"{show(loop.width, 'length', system, 3)} of width beside the legs over "
        f"{show(loop.beside, 'length', system, 2)}; legs then "
        f"{math.degrees(2.0 * loop.half_angle):.0f} deg apart"
    )


def _bridge_text(bridge: Bridge, system: System) -> str:
    why = "side of the tip turned edge-on" if bridge.edge_on else "limb inward of the curl"
    return (
        f"at least {show(bridge.height, 'length', system, 2)} high, {place_text(bridge.s, system)} "
        f"from the centre, keeps the string off the {why}"
    )


def _cut_text(summary: Summary, system: System) -> str:
    cut = summary.cut
    assert cut is not None
    text = (
        f"{cut.strands} strands of {show(cut.cut, 'length', system)} with the least loops and "
        f"tails of {show(TAIL, 'length', system, 2)} laid back at both; "
        f"{show(cut.braced_length, 'length', system)} between grooves at brace; "
        f"{cut.turns:.0f} full turns of twist"
    )
    if np.isnan(summary.brace_per_turn):
        return text
    more = show(summary.brace_per_turn, "length", system, 2)
    return f"{text}, each one more raises the brace height by {more}"
