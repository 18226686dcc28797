"""Lateral buckling: strips, prebent beams, arcs and a column pulled to a point."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import TIGHT, Array, Case, reference, sideways_table
from bowfem.rod import (
    Force,
    LineLoad,
    Pressure,
    Rod,
    Sideways,
    Support,
    TautString,
    clamp,
    follow,
    pin,
    pull,
)

STIFF = 1e10  # the plane's own bending: its deflection is left out in the sources
STRIP = reference("13", "lateral_torsional")
HEIGHTS = sideways_table("strip_tip_load_at_height")["values"]
PREBENT = sideways_table("uniform_moment_prebent")["values"]
ARCS = sideways_table("arc_end_couples")["values"]
RADIAL = sideways_table("arc_dead_radial_load")["values"]
COLUMN = sideways_table("column_pulled_to_a_point")["values"]
BELOW = (0.5, 1.0, 2.0)
ANGLES = {"pi/3": np.pi / 3, "pi/2": np.pi / 2, "2pi/3": 2 * np.pi / 3}
SUPPORTED = ("shift", "roll")


def strips(n: int) -> Array:
    """Critical loads of strips: tip, evenly spread, in the middle, a moment on two supports."""
    rod = Rod.straight(1.0, 2 * n, EI=STIFF)
    tip = follow(rod, [clamp(0)], [Force(y=-1.0)], settings=TIGHT)
    spread = follow(rod, [clamp(0)], [LineLoad(y=-1.0)], settings=TIGHT)
    middle = follow(rod, [pin(0), Support(-1, ("y",))], [Force(n, y=-1.0)], settings=TIGHT)
    moment = follow(rod, [clamp(0)], [Force(couple=1.0)], settings=TIGHT)
    return np.array(
        [
            Sideways(tip, 1.0, 1.0).factor,
            Sideways(spread, 1.0, 1.0).factor,
            Sideways(middle, 1.0, 1.0, first=SUPPORTED, last=SUPPORTED).factor,
            Sideways(moment, 1.0, 1.0, first=SUPPORTED, last=SUPPORTED).factor,
        ]
    )


def heights(n: int) -> Array:
    """Critical tip load that acts above or below the axis of a cantilever."""
    rod = Rod.straight(1.0, n, EI=STIFF)
    path = follow(rod, [clamp(0)], [Force(y=-1.0)], settings=TIGHT)
    down = (0.0, -1.0)
    return np.array(
        [
            Sideways(path, 1.0, 1.0, tip_force=down, tip_offset=(0.0, float(height))).factor
            for height in HEIGHTS
        ]
    )


def prebent(n: int) -> Array:
    """Factor at the critical moment of a beam that bends in its plane before."""
    found = []
    for row in PREBENT:
        B = row["B_over_EI"]
        GJ = B * row["GJ_over_B"]
        couple = row["ML_over_sqrt"] * np.sqrt(B * GJ)
        path = follow(
            Rod.straight(1.0, n, EI=1.0), [clamp(0)], [Force(couple=couple)], settings=TIGHT
        )
        found.append(Sideways(path, B, GJ, first=SUPPORTED, last=SUPPORTED).factor)
    return np.array(found)


def arcs(n: int) -> Array:
    """Factor at the critical couples of both signs, and at the critical radial load."""
    found = []
    for row in ARCS:
        rod = Rod.arc(1.0, ANGLES[row["alpha"]], n, EI=STIFF)
        for key in ("plus", "minus"):
            path = follow(rod, [clamp(0)], [Force(couple=row[key])], settings=TIGHT)
            held = Sideways(path, 1.0, row["GJ_over_B"], first=SUPPORTED, last=SUPPORTED)
            found.append(held.factor)
    for row in RADIAL:
        angle, q = ANGLES[row["alpha"]], row["qR3_over_B"]
        rod = Rod.arc(1.0, angle, n, EI=STIFF)
        thrust = Force(x=-q * np.cos(angle), y=-q * np.sin(angle))
        path = follow(rod, [clamp(0)], [Pressure(q), thrust], settings=TIGHT)
        held = Sideways(path, 1.0, row["GJ_over_B"], first=SUPPORTED, last=SUPPORTED)
        found.append(held.factor)
    return np.array(found)


def columns_pulled(n: int) -> Array:
    """Critical tension of a string from a column's tip to a point on its axis so far below."""
    ends = np.linspace(0.0, 1.0, n + 1)
    rod, found = Rod.from_curvature(ends, EI=STIFF, belly=-0.3), []
    for below in BELOW:
        nock = (1.0 - below, 0.0)
        path = pull(
            rod,
            [clamp(0)],
            TautString(EA=1e3, across=0.0),
            [nock],
            below * 0.999,
            begin=(*nock, below),
            settings=TIGHT,
        )
        state = Sideways(path, 1.0, 1.0)
        found.append(state.factor * state.tension)
    return np.array(found)


def run(n_elements: int) -> Mapping[str, Array]:
    """Solve all of them."""
    return {
        "strip": strips(n_elements),
        "height": heights(n_elements),
        "prebent": prebent(n_elements),
        "arc": arcs(n_elements),
        "column": columns_pulled(n_elements),
    }


CASE = Case(
    title="lateral buckling of strips, beams and arcs",
    source="Michell 1899, Prandtl 1899; Timoshenko, Gere, Theory of Elastic Stability, 1961",
    kind="closed forms, Bessel functions and power series (from memory, recomputed digits)",
    expected={
        "strip": np.array(
            [
                STRIP["cantilever_tip_load"],
                STRIP["cantilever_udl_total"],
                STRIP["ss_midspan"],
                STRIP["ss_uniform_moment"],
            ]
        ),
        "height": np.array(list(HEIGHTS.values())),
        "prebent": np.ones(len(PREBENT)),
        "arc": np.ones(2 * len(ARCS) + len(RADIAL)),
        "column": np.array([COLUMN[f"c={text}"] for text in ("0.5L", "L", "2L")]),
    },
    run=run,
    tolerance=1e-8,
    reason="discretisation; the plane's stiffness, 1e10 times that sideways",
    n_elements=8,
    coarse=2,
    order=6.0,
)
