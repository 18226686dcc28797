"""A first design for an order: of what kind, of what weight, of which pipe."""

from __future__ import annotations

from bowfem.bow import Ending, walk
from bowfem.cli.starter import starter
from bowfem.design import AMO_ALLOWANCE, Design
from bowfem.errors import BowfemError, DesignError
from bowfem.orders import Sizing, size
from bowfem.units import INCH, POUND_FORCE

#: Pipe over draw length (AMO), by kind of bow (C, no source); the sizes tried, thin ones first.
LENGTHS = {"straight": 1.85, "tips": 2.1, "curls": 1.95}
SIZES = ("1/2 in Sch 40", "3/4 in Sch 40", "1 in Sch 40", "1-1/4 in Sch 40")
#: How much shorter or longer than that the pipe may come out.
SHORTER, LONGER = 0.9, 1.2
#: Strands of polyester up to so much weight, N (M).
STRANDS = ((30.0 * POUND_FORCE, 10), (40.0 * POUND_FORCE, 12), (50.0 * POUND_FORCE, 14))


def first_design(kind: str, pipe: str, weight: float, draw: float, cut: float | None) -> Design:
    """Return a bow of that kind, about right, to be sized: lengths in m, `weight` in N."""
    design = Design.from_toml(starter(kind))
    cut = LENGTHS[kind] * (draw + AMO_ALLOWANCE) if cut is None else cut
    half = 0.5 * cut
    outer = design.with_value("pipe.size", pipe).pipe
    last = half - INCH
    values = {
        "pipe.size": pipe,
        "pipe.cut_length": f"{cut!r} m",
        "draw.length": f"{draw + AMO_ALLOWANCE!r} m",
        "string.strands": next((n for most, n in STRANDS if weight <= most), 16),
        "limb.marks.1.thickness": f"{outer.outer_diameter - 0.25 * INCH!r} m",
        "limb.marks.2.thickness": f"{max(0.3 * INCH, 2.4 * outer.wall)!r} m",
    }
    if kind == "curls":
        values |= {
            "limb.bends.1.from": f"{half - 6.0 * INCH!r} m",
            "limb.bends.1.angle": "60 deg",
        }
    elif kind == "tips":
        values |= {
            "limb.bends.1.from": f"{half - 11.0 * INCH!r} m",
            "limb.tip.edge_on_from": f"{half - 8.75 * INCH!r} m",
        }
    return design.with_values({**values, "limb.marks.2.at": f"{last!r} m"})


def ordered(
    kind: str, weight: float, draw: float, pipe: str | None, cut: float | None
) -> tuple[Sizing, bool]:
    """Find a bow for an order: of the pipe named, or of the thinnest that bears it.

    Returns
    -------
    sizing : Sizing
        The bow found; if no pipe bears the order, the nearest to it.
    met : bool
        Whether it is as ordered.
    """
    nearest: Sizing | None = None
    failed: BowfemError | None = None
    for name in _likely(kind, weight, draw, cut) if pipe is None else (pipe,):
        try:
            found = _sized(kind, name, weight, draw, cut)
        except DesignError:
            raise
        except BowfemError as error:  # too thin to be braced at all
            failed = error
            continue
        if found.met:
            return found, True
        if nearest is None or _missed(found, weight) < _missed(nearest, weight):
            nearest = found
    if nearest is None:
        assert failed is not None
        raise failed
    return nearest, False


def _likely(kind: str, weight: float, draw: float, cut: float | None) -> tuple[str, ...]:
    """Return the sizes from the first on that draws half the weight before it is sized."""
    for number, name in enumerate(SIZES):
        try:
            found = walk(first_design(kind, name, weight, draw, cut), accuracy=None)
        except BowfemError:
            continue
        if found.ending is Ending.COMPLETE and found.force[-1] > 0.5 * weight:
            return SIZES[number:]
    return SIZES[-1:]


def _sized(kind: str, pipe: str, weight: float, draw: float, cut: float | None) -> Sizing:
    design = first_design(kind, pipe, weight, draw, cut)
    outer = design.pipe.outer_diameter
    free = {
        "limb.marks.1.thickness": (0.6 * outer, outer - 0.1 * INCH),
        "limb.marks.2.thickness": (2.1 * design.pipe.wall, 0.5 * outer),
    }
    if cut is None:
        length = design.pipe_choice.cut_length
        free["pipe.cut_length"] = SHORTER * length, LONGER * length
    return size(design, weight, free)


def _missed(found: Sizing, weight: float) -> float:
    return abs(float(found.walk.force[-1]) / weight - 1.0)
