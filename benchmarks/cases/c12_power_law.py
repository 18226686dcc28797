"""Cantilever of a power-law material, M = K kappa^(1/n), dead tip load."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.rod import Force, MomentTable, Rod, clamp, follow

ROWS = reference("12", "power_law_tip_load")
MILD = columns([row for row in ROWS if row["n"] <= 1.5])  # 1 is the elastica


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


def tip_loads(rows: Mapping[str, Array], n_elements: int, knots: int) -> Mapping[str, Array]:
    """Solve each load with a table that ends a fifth beyond the root's curvature; tip over L."""
    found = []
    for n, load, arm in zip(rows["n"], rows["lam"], rows["x_L"], strict=True):
        rod = Rod.straight(1.0, n_elements, EI=1.0)
        rod = rod.with_table(power_law(rod, n, 1.2 * (load * arm) ** n, knots))
        path = follow(rod, [clamp(0)], [Force(y=load)])
        found.append([*path.tip[0], path.turn[0, -1]])
    return dict(zip(NAMES, np.array(found).T, strict=True))


NAMES = {"x": "x_L", "w": "w_L", "theta": "theta_L"}

CASE = Case(
    title="power-law material, n = 1 and 1.5, tip load",
    source="quadrature; posed by Lewis, Monasa, Computers & Structures 14 (1981) 357-360",
    kind="recomputed digits (9)",
    expected={new: MILD[old] for new, old in NAMES.items()},
    run=lambda n_elements: tip_loads(MILD, n_elements, 2001),
    tolerance=1e-5,
    reason="curvature goes as (L-s)^1.5 at the free end, a limited rate; the first cell",
    n_elements=16,
    coarse=2,
    order=2.0,
)
