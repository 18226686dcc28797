"""Thin quarter circle at small deflection: radial force, tangential force, couple at its tip."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, reference
from bowfem.rod import Force, Rod, clamp, follow

TABLE = reference("05", "thin_quarter_ring")
SMALL = 1e-5  # over EI/R^2 or EI/R; the nonlinearity left is of the order of its square
#: The arc runs from (0, 0) along x to (1, 1), where its tangent is along y.
LOADS = {
    "radial_tip_load": Force(x=SMALL),
    "tangential_tip_load": Force(y=SMALL),
    "tip_moment": Force(couple=SMALL),
}
PARTS = [(load, part) for load, parts in TABLE.items() for part in parts]


def run(n_elements: int) -> Mapping[str, Array]:
    """Size of the tip's displacement along and across its tangent, and its rotation, over load.

    Half the difference of a load and its opposite: what is left of the nonlinearity is its square.
    """
    rod = Rod.arc(1.0, np.pi / 2, n_elements, EI=1.0)
    found = {}
    for name, force in LOADS.items():
        path = follow(rod, [clamp(0)], [force], [-1.0, 1.0])
        tips = path.tip[1] - path.tip[0]
        turn = path.turn[1, -1] - path.turn[0, -1]
        found[name] = np.abs([tips[0], tips[1], turn]) / (2 * SMALL)
    order = {"radial": 0, "tangential": 1, "rotation": 2}
    return {f"{load} {part}": found[load][order[part.split("_")[0]]] for load, part in PARTS}


CASE = Case(
    title="thin quarter ring, small deflection",
    source="Castigliano: pi/4, 1/2, 1 (radial), 3 pi/4 - 2, 1/2, pi/2 - 1 (tangential), couple",
    kind="closed form",
    expected={f"{load} {part}": TABLE[load][part] for load, part in PARTS},
    run=run,
    tolerance=1e-9,
    reason="rounding of displacements of 1e-5 R; square of the load",
    n_elements=8,
)
