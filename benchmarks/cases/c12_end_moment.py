"""Cantilever of a power-law material rolled up by an end couple."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from benchmarks.cases.c12_power_law import power_law
from bowfem.rod import Force, Rod, clamp, follow

ROWS = columns(reference("12", "power_law_end_moment"))
END, KNOTS = 3.0, 2001


def run(n_elements: int) -> Mapping[str, Array]:
    """Roll up strips of each exponent."""
    found = []
    for n, moment in zip(ROWS["n"], ROWS["ML1n_Kn"], strict=True):
        rod = Rod.straight(1.0, n_elements, EI=1.0)
        rod = rod.with_table(power_law(rod, n, END, KNOTS))
        path = follow(rod, [clamp(0)], [Force(couple=moment)])
        found.append([*path.tip[0], path.turn[0, -1]])
    return dict(zip(("x", "w", "theta"), np.array(found).T, strict=True))


CASE = Case(
    title="power-law materials, end couple",
    source="theta = (M L^(1/n) / K)^n; posed by Lewis, Monasa, 1982",
    kind="closed form",
    expected={"x": ROWS["x_L"], "w": ROWS["w_L"], "theta": ROWS["theta_L"]},
    run=run,
    tolerance=1e-7,
    reason="cubic cells of the table, 1/1000 of its end, near the vertical start",
    n_elements=8,
)
