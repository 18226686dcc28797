"""Cantilever of a power-law material, M = K kappa^(1/n), dead tip load."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.rod import Force, MomentTable, Rod, clamp, follow

POWER = 1.5
ROWS = columns([row for row in reference("12", "power_law_tip_load") if row["n"] == POWER])
KNOTS = 2001


def power_law(rod: Rod, n: float, end: float, knots: int) -> MomentTable:
    """Tabulate ``sign(k) |k|^(1/n)``; vertical at zero, where the chord's slope stands in."""
    k = np.linspace(-end, end, knots)
    m = np.sign(k) * np.abs(k) ** (1 / n)
    middle = knots // 2
    k_safe = np.where(k == 0.0, k[middle + 1], np.abs(k))
    tangent = k_safe ** (1 / n - 1) / n
    tangent[middle] = m[middle + 1] / k[middle + 1]
    shape = (*rod.EI.shape, knots)
    return MomentTable(*(np.broadcast_to(part, shape).copy() for part in (k, m, tangent)))


def run(n_elements: int, knots: int = KNOTS) -> Mapping[str, Array]:
    """Solve each load with a table that ends a fifth beyond the root's curvature; tip over L."""
    found = []
    for load, arm in zip(ROWS["lam"], ROWS["x_L"], strict=True):
        rod = Rod.straight(1.0, n_elements, EI=1.0)
        rod = rod.with_table(power_law(rod, POWER, 1.2 * (load * arm) ** POWER, knots))
        path = follow(rod, [clamp(0)], [Force(y=load)])
        found.append([*path.tip[0], path.turn[0, -1]])
    return dict(zip(("x", "w", "theta"), np.array(found).T, strict=True))


CASE = Case(
    title="power-law material, n = 1.5, tip load",
    source="quadrature; posed by Lewis, Monasa, Computers & Structures 14 (1981) 357-360",
    kind="recomputed digits (9)",
    expected={"x": ROWS["x_L"], "w": ROWS["w_L"], "theta": ROWS["theta_L"]},
    run=run,
    tolerance=1e-5,
    reason="curvature goes as (L-s)^1.5 at the free end, a limited rate; the first cell",
    n_elements=16,
    coarse=2,
    order=2.0,
)
