"""What may change in a design, within what: ranges, and what keeps it a design."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bowfem.design import Design, number_of, spelled_out
from bowfem.errors import InputError
from bowfem.orders.slopes import FROM_ZERO, SHARE, Lever

Array = NDArray[np.float64]

#: Least distance between two marks, m.
BETWEEN = 2e-3
CUT = "pipe.cut_length"


class Freedom:
    """Numbers of a design that may change, each in its range.

    Where the cut length changes, what lies along the limb and is not free itself goes with it:
    marks between the handle and the first bend or tip by the same share of the way, what lies
    beyond by the same length as the end.

    Parameters
    ----------
    design : Design
        The design to begin with.
    free : mapping of str to (float, float)
        Keys of the design file, lower and upper bound in SI units.

    Raises
    ------
    InputError
        A key is none of a number, or bounds the wrong way round.
    """

    def __init__(self, design: Design, free: Mapping[str, tuple[float, float]]) -> None:
        if not free:
            raise InputError("free", "nothing", "at least one key of the design with its bounds")
        for key, (low, high) in free.items():
            number_of(design, key)
            if not -1e3 < low < high < 1e13:
                allowed = "bounds of which the lower comes first"
                raise InputError(key, f"{low:g} .. {high:g}", allowed)
        self.keys = list(free)
        self.low, self.high = (np.array([free[key][i] for key in self.keys]) for i in (0, 1))
        self.span = self.high - self.low
        self.before = np.array([number_of(design, key) for key in self.keys])
        self.design = spelled_out(design, self.keys)

    def values(self, x: Array) -> dict[str, float]:
        """Return all numbers that change with the free ones, by key."""
        found = dict(zip(self.keys, map(float, x), strict=True))
        if CUT not in found:
            return found
        design, moved = self.design, {}
        more = 0.5 * (found[CUT] - design.pipe_choice.cut_length)
        start = 0.5 * design.handle.length
        for side in design.written_sides:
            shape, table = design.shape(side), side.table
            limb, end = shape.limb, shape.length
            ends = [bend.start for bend in limb.bends]
            ends += [] if limb.tip is None else [limb.tip.edge_on_from]
            knee = min(ends, default=end)
            stretch = (knee + more - start) / (knee - start)

            def goes(at: float, knee: float = knee, stretch: float = stretch) -> float:
                return at + more if at > knee else start + max(at - start, 0.0) * stretch

            for row, mark in enumerate(limb.marks, 1):
                if mark.at > start:
                    moved[f"{table}.marks.{row}.at"] = goes(mark.at)
            for row, bend in enumerate(limb.bends, 1):
                moved[f"{table}.bends.{row}.from"] = bend.start + more
                if bend.end is not None:
                    moved[f"{table}.bends.{row}.to"] = bend.end + more
            if limb.tip is not None:
                moved[f"{table}.tip.edge_on_from"] = limb.tip.edge_on_from + more
            for name, parts in (("sleeves", limb.sleeves), ("overlays", limb.overlays)):
                for row, part in enumerate(parts, 1):
                    for key, at in (("from", part.start), ("to", part.end)):
                        if at > start:
                            moved[f"{table}.{name}.{row}.{key}"] = goes(at)
        return {**moved, **found}

    def made(self, x: Array) -> Design:
        """Return the design.

        Raises
        ------
        DesignError
            There is none.
        """
        return self.design.with_values(self.values(x))

    def levers(self, x: Array) -> list[Lever]:
        """Return a lever for each free number."""

        def change(i: int, design: Design, amount: float) -> Design:
            return self.made(x + amount * np.eye(x.size)[i])

        return [
            Lever(key, SHARE * abs(float(at)) or FROM_ZERO, partial(change, i))
            for i, (key, at) in enumerate(zip(self.keys, x, strict=True))
        ]

    def slack(self, x: Array) -> Array:
        """Return what must not be below 0 in a design: places in order, room for each taper, m.

        No mark may be thicker than the one before it, unless the design begins so.
        """
        values, design, found = self.values(x), self.design, []

        def at(key: str) -> float:
            number = values.get(key)
            return float(design.value(key) or 0.0) if number is None else number

        given = {"pipe.outer_diameter", "pipe.wall"} & {*values}
        outer = at("pipe.outer_diameter") if given else design.pipe.outer_diameter
        wall = at("pipe.wall") if given else design.pipe.wall
        start, cut, fade = 0.5 * at("handle.length"), at(CUT), design.handle.fade
        for side in design.written_sides:
            shape = design.shape(side)
            end = shape.length + 0.5 * (cut - design.pipe_choice.cut_length)
            knots, pressed = [(start, outer)], []
            for row, mark in enumerate(shape.limb.marks, 1):
                key = f"{side.table}.marks.{row}"
                is_round = mark.thickness == "round"
                thick = outer if is_round else at(f"{key}.thickness")
                place = at(f"{key}.at")
                if not is_round:
                    found += [thick - 2.0 * wall, outer - thick]
                if row == 1 and mark.at <= start + 1e-9:
                    continue
                if len(knots) == 1 and fade is not None:
                    found.append(place - start - at("handle.fade"))
                    found += [at("handle.fade") - abs(outer - thick)]
                    knots = []
                knots.append((place, thick))
                pressed.append(thick)
            for (a, t), (b, u) in pairwise(knots):
                found += [b - a - abs(t - u), b - a - BETWEEN]
            found += [t - u for t, u in pairwise(pressed)]
            found.append(end - knots[-1][0])
        return np.array(found)

    def rows(self, x: Array) -> tuple[Array, Array]:
        """Return the slack's rows on a step in shares of the ranges, ``rows @ step <= room``."""
        here = self.slack(x)
        h = 1e-6 * self.span
        slope = [(self.slack(x + d) - here) / 1e-6 for d in np.diag(h)]
        return -np.stack(slope, axis=1), np.maximum(here, 0.0)

    def nearest(self, x: Array) -> Array:
        """Return the values nearest to given ones that leave a design, by linear programmes."""
        from scipy.optimize import linprog

        x = np.clip(x, self.low, self.high)
        n = x.size
        for _ in range(3):
            here = self.slack(x)
            if np.min(here) >= -1e-12:
                break
            rows, _ = self.rows(x)
            # least sum of moves, both ways
            found = linprog(
                np.ones(2 * n),
                np.hstack([rows, -rows]),
                here - 1e-9,
                bounds=[
                    *((0.0, max(0.0, 1.0 - u)) for u in (x - self.low) / self.span),
                    *((0.0, max(0.0, u)) for u in (x - self.low) / self.span),
                ],
            )
            if found.x is None:
                break
            x = np.clip(x + (found.x[:n] - found.x[n:]) * self.span, self.low, self.high)
        return x


def usual_free(design: Design) -> dict[str, tuple[float, float]]:
    """Return the default free quantities: the thickness at each mark.

    From pressed shut to 5 % less than round, m. Round marks stay round.
    """
    pipe, found = design.pipe, {}
    for side in design.written_sides:
        for number, mark in enumerate(design.shape(side).limb.marks, 1):
            if mark.thickness != "round":
                key = f"{side.table}.marks.{number}.thickness"
                found[key] = 2.02 * pipe.wall, 0.95 * pipe.outer_diameter
    return found


def more_freedom(
    design: Design, free: Mapping[str, tuple[float, float]]
) -> dict[str, tuple[float, float]]:
    """Return what else could be freed, with ranges a maker would allow (C)."""
    found = {key: bounds for key, bounds in usual_free(design).items() if key not in free}
    cut, string = design.pipe_choice.cut_length, design.string
    wanted = {CUT: (0.85 * cut, 1.15 * cut)}
    for side in design.written_sides:
        shape = design.shape(side)
        mark = shape.limb.marks[-1]
        key = f"{side.table}.marks.{len(shape.limb.marks)}.at"
        wanted[key] = (max(0.5 * mark.at, design.handle.length), shape.length)
    turn = np.deg2rad(6.0)
    wanted["handle.set"] = (design.handle.set - turn, design.handle.set + turn)
    if string.brace_height is not None:
        wanted["string.brace_height"] = (0.8 * string.brace_height, 1.2 * string.brace_height)
    return found | {key: bounds for key, bounds in wanted.items() if key not in free}
