"""Cantilever with a dead tip load, up to PL^2/EI = 10."""

from collections.abc import Mapping

from benchmarks.cases import TIGHT, Array, Case, columns, pick, reference
from bowfem.rod import Force, Rod, clamp, follow

TABLE = columns(reference("02")["rows"])


def tip_load(table: Mapping[str, Array], n_elements: int) -> dict[str, Array]:
    """Solve the loads of a table: shortening u, deflection w, slope, root moment, energy."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    path = follow(rod, [clamp(0)], [Force(y=1.0)], table["PL2_EI"], settings=TIGHT)
    return {
        "u": 1.0 - path.tip[:, 0],
        "w": path.tip[:, 1],
        "theta": path.turn[:, -1],
        "M0": -path.reaction[:, 0, 2],
        "U": path.energy[:, 0],
    }


CASE = Case(
    title="dead tip load",
    source="Mattiasson, Int. J. Numer. Meth. Eng. 17 (1981) 145-153, all 18 loads",
    kind="recomputed digits (elliptic integrals; printed digits from memory)",
    expected=pick(TABLE, u="u_L", w="w_L", theta="theta", M0="M0L_EI", U="UL_EI"),
    run=lambda n_elements: tip_load(TABLE, n_elements),
    tolerance=1e-8,
    reason="discretisation",
    n_elements=8,
    coarse=4,
    order=7.0,
)
