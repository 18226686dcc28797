"""What eases the place where a bow is worked hardest: moves tried one by one, each walked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from bowfem.bow import Ending, Walk, walk
from bowfem.design import Design, Side, Sleeve
from bowfem.errors import BowfemError
from bowfem.findings import Findings, SideStability
from bowfem.orders.freedom import CUT, Freedom
from bowfem.units import INCH

#: How much is tried of each: thicker, m; longer, a share; less draw, m. Gain that is worth telling.
THICKER, LONGER, LESS, WORTH = 1e-3, 0.05, INCH, 0.01
#: Share of the yield strain from which a bow is worked hard.
HARD = 0.95
#: More of brace height, and less of an edge-on part, m.
HIGHER, SHORTER = 0.5 * INCH, INCH


@dataclass(frozen=True)
class Eased:
    """A move that eases a bow, walked: its name, peak strain over yield with it, weight, N."""

    name: str
    yield_share: float
    weight: float


@dataclass(frozen=True)
class Steadied:
    """A move that steadies a bow sideways, walked: its name, factor at brace, weight, N."""

    name: str
    factor: float
    weight: float


def inner_rod(design: Design) -> Design:
    """Return a bow with a solid rod of its own plastic bonded inside the round handle.

    Raises
    ------
    BowfemError
        It does not fit.
    """
    bore = design.pipe.outer_diameter - 2.0 * design.pipe.wall
    rod = Sleeve(start=0.0, end=0.5 * design.handle.length, outer_diameter=bore, fit="bonded")
    limbs = {side.table: design.shape(side).limb for side in design.written_sides}
    return replace(
        design,
        **{key: replace(limb, sleeves=(*limb.sleeves, rod)) for key, limb in limbs.items()},
    )


def needs_easing(findings: Findings) -> bool:
    """Whether a bow is worked so hard that a maker wants to know what eases it."""
    hardest = max((spot.yield_share for spot in findings.hot_spots), default=0.0)
    return max(hardest, findings.crease.yield_share) >= HARD


def what_eases(found: Walk) -> tuple[Eased, ...]:
    """Walk a bow with each of some moves; return those that lower its peak strain, best first."""
    now, eased = float(np.max(found.yield_share)), []
    for name, change in _moves(found):
        try:
            tried = walk(change)
        except BowfemError:
            continue
        if tried.ending is not Ending.COMPLETE:
            continue
        share = float(np.max(tried.yield_share))
        if share < now - WORTH:
            eased.append(Eased(name, share, float(tried.force[-1])))
    return tuple(sorted(eased, key=lambda each: each.yield_share))


def what_steadies(found: Walk, stable: SideStability | None) -> tuple[Steadied, ...]:
    """Walk a bow that is warned of sideways with each of some moves; return those that help."""
    if stable is None or not stable.is_near:
        return ()
    steadied = []
    for name, change in _steady_moves(found.design):
        try:
            tried = walk(change)
        except BowfemError:
            continue
        with_it = SideStability.from_walk(tried)
        if with_it is not None and with_it.brace > stable.brace + WORTH:
            steadied.append(Steadied(name, with_it.brace, float(tried.force[-1])))
    return tuple(sorted(steadied, key=lambda each: -each.factor))


def _steady_moves(design: Design) -> Iterator[tuple[str, Design]]:
    """Yield moves against flipping as words and designs; what cannot be made is left out."""
    limbs = [(side.table, design.shape(side).limb) for side in design.written_sides]
    shorter = {
        f"{table}.tip.edge_on_from": limb.tip.edge_on_from + SHORTER
        for table, limb in limbs
        if limb.tip is not None
    }
    thicker = {
        f"{table}.marks.{len(limb.marks)}.thickness": limb.marks[-1].thickness + THICKER
        for table, limb in limbs
        if limb.marks[-1].thickness != "round"
    }
    ways = [
        ("the edge-on part 1 in (25 mm) shorter", shorter),
        ("the last mark pressed 1 mm (0.04 in) thicker", thicker),
    ]
    if design.string.brace_height is not None:
        higher = {"string.brace_height": design.string.brace_height + HIGHER}
        ways.append(("brace height 1/2 in (13 mm) more", higher))
    for name, values in ways:
        try:
            if values:
                yield name, design.with_values(values)
        except BowfemError:
            continue


def _moves(found: Walk) -> Iterator[tuple[str, Design]]:
    """Yield moves as words and designs; what cannot be made is left out."""
    design = found.design
    side, s = _hardest(found)
    shape = design.shape(side)
    marks = shape.limb.marks
    number = int(np.argmin([abs(mark.at - s) for mark in marks])) + 1
    cut, draw = design.pipe_choice.cut_length, design.draw.length
    freedom = Freedom(design, {CUT: (cut, 1.2 * cut)})
    ways = [
        ("an inner rod in the handle", lambda: inner_rod(design)),
        ("5 % longer, marks going with it", lambda: freedom.made(np.array([(1.0 + LONGER) * cut]))),
        ("drawn 1 in (25 mm) less", lambda: design.with_value("draw.length", draw - LESS)),
    ]
    thick = marks[number - 1].thickness
    if thick != "round":
        for sign, word in ((1.0, "thicker"), (-1.0, "thinner")):
            values = {
                f"{each.table}.marks.{number}.thickness": thick + sign * THICKER
                for each in (design.written_sides if side is None else (side,))
            }
            text = f"mark {number} pressed 1 mm (0.04 in) {word}"
            ways.append((text, lambda values=values: design.with_values(values)))
    for name, make in ways:
        try:
            yield name, make()
        except BowfemError:
            continue


def _hardest(found: Walk) -> tuple[Side | None, float]:
    side, limb = max(found.distinct_limbs, key=lambda pair: float(np.max(pair[1].yield_share)))
    return side, float(limb.s[int(np.argmax(np.max(limb.yield_share, axis=0)))])
