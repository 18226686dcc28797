"""The draw curve: weight, tension and energy at even draws, and what it comes to."""

from __future__ import annotations

import numpy as np

from bowfem.bow import SmoothCurve, Walk
from bowfem.findings.line import Column, DrawLength, Figure, Line, Table, Warned
from bowfem.units import INCH, System

#: Steps of the printed table, m: a whole inch, or 25 mm.
STEPS: dict[System, float] = {"us": INCH, "metric": 0.025}


def draw_table(walk: Walk, system: System) -> Table:
    """Read a walk at each whole inch, or each 25 mm, of the design's draw-length convention.

    Parameters
    ----------
    walk : Walk
        The walk.
    system : {"us", "metric"}
        Inches or millimetres.

    Returns
    -------
    Table
        The brace and the last draw reached are its first and last row.

    Notes
    -----
    Between states, force and tension follow a cubic spline, energy its integral; the share of
    yield is interpolated linearly.
    """
    if walk.draw.size < 2:
        draw, force, tension, energy = walk.draw, walk.force, walk.tension, walk.energy
        share = walk.yield_share
    else:
        step, at = STEPS[system], DrawLength.of(walk, walk.draw).number("metric") / 1000.0
        add = float(at[0] - walk.draw[0])
        first, last = float(walk.draw[0]), float(walk.draw[-1])
        whole = step * np.arange(np.ceil((first + add) / step), (last + add) / step) - add
        near = 0.01 * step  # rows closer than this would print alike
        inside = whole[(whole - first > near) & (last - whole > near)]
        draw = np.concatenate([[first], inside, [last]])
        force = np.array([walk.weight_at(d) for d in draw])
        tension = SmoothCurve.through(walk.draw, walk.tension).at(draw)
        energy = np.array([walk.energy_at(d) for d in draw])
        share = np.interp(draw, walk.draw, walk.yield_share)
    return Table(
        "Draw",
        (
            Column("draw", DrawLength.of(walk, draw), (2, 1)),
            Column("weight", Figure("weight", force, "force"), (1, 1)),
            Column("tension", Figure("tension", tension, "force"), (1, 1)),
            Column("energy", Figure("energy", energy, "energy"), (1, 1)),
            Column("of yield", Figure("yield_share", share, "share")),
        ),
    )


def draw_lines(walk: Walk) -> list[Line]:
    """Say what the bow draws, stores, and how it stacks."""
    weight, draw = float(walk.force[-1]), float(walk.draw[-1])
    several = walk.draw.size > 1
    energy = walk.energy_at(draw) if several else 0.0
    work = weight * (draw - float(walk.draw[0]))
    ratio = energy / work if work > 0.0 else 0.0
    stack = walk.stack() if several else 0.0
    return [
        Line(
            "weight",
            "{weight:3} at {draw}",
            (DrawLength.of(walk, draw), Figure("weight", weight, "force")),
            60,
        ),
        Line(
            "stored energy",
            "{energy:3} since brace, {energy_over_weight_times_stroke:.2f} of weight x stroke",
            (
                Figure("energy", energy, "energy"),
                Figure("energy_over_weight_times_stroke", ratio),
            ),
            70,
        ),
        Line(
            "stack",
            "{stack:3} steepest rise of weight in the last quarter",
            (Figure("stack", stack, "spring_rate"),),
            80,
        ),
        _computing_line(walk),
    ]


def _computing_line(walk: Walk) -> Line:
    """Say how far the numbers are right as computed."""
    error = walk.mesh_error
    share = np.nan if error is None else error.force
    text = "weight and tension right to {mesh_error:.4}; pipe and plastic leave more open"
    if error is None:
        text = "how far these numbers are right was not looked at"
    elif np.isnan(share):
        text = "how far these numbers are right is not known: no state was found on finer elements"
    return Line("computing", text, (Figure("mesh_error", share, "share"),), 82)


def mesh_warning(walk: Walk) -> list[Warned]:
    """Warn where how the walk ends hangs on its elements."""
    error = walk.mesh_error
    if error is None or error.verdict is None:
        return []
    other = error.verdict.text
    return [Warned(f"On other elements another end was computed: {other}. Take the worse.")]
