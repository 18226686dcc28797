"""Cantilevers of power-law materials whose law is steep at rest: annealed copper, aluminium."""

from benchmarks.cases import Case, columns
from benchmarks.cases.c12_power_law import NAMES, ROWS, tip_loads

STEEP = columns([row for row in ROWS if row["n"] > 1.5])

CASE = Case(
    title="power-law materials, n = 2.16 and 4.785, tip load",
    source="quadrature; exponents of Lewis, Monasa, 1981 (from memory)",
    kind="recomputed digits (9)",
    expected={new: STEEP[old] for new, old in NAMES.items()},
    run=lambda n_elements: tip_loads(STEEP, n_elements, 8001),
    tolerance=3e-4,
    reason="first cell of the even table, 1/3300 of the largest curvature, where a law is vertical",
)
