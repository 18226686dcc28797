"""Cantilever with a high dead tip load: the clamp becomes a boundary layer."""

from benchmarks.cases import Case, columns, pick, reference
from benchmarks.cases.c02_tip_load import tip_load

TABLE = columns(reference("02b"))


def run(n_elements):
    """Solve; keep what the table has."""
    solved = tip_load(TABLE, n_elements)
    return {name: solved[name] for name in ("u", "w", "theta")}


CASE = Case(
    title="dead tip load, PL^2/EI 15 to 100",
    source="elliptic integrals, as case 02",
    kind="recomputed digits (once)",
    expected=pick(TABLE, u="u_L", w="w_L", theta="theta"),
    run=run,
    tolerance=1e-9,
    reason="discretisation of a layer of length L / sqrt(100) at the clamp",
    n_elements=32,
    coarse=16,
    order=6.0,
)
