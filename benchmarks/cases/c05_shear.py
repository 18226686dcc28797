"""Short cantilevers whose shear matters, at small deflection."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, pick, reference
from bowfem.rod import Force, Rod, clamp, follow

TABLE = columns(reference("05", "shear_cantilever"))
SMALL = 1e-6  # tip load over EI/L^2: its square, the nonlinearity, is far below the tolerance


def run(n_elements: int) -> Mapping[str, Array]:
    """Deflection over that of bending alone, for a rectangle with k = 5/6, nu = 0.3."""
    ratios = []
    for slender in TABLE["L_h"]:
        depth = 1.0 / slender
        GA = (5 / 6) * 12.0 / depth**2 / 2.6  # with EI = 1: EA = 12 / h^2, G = E / 2.6
        rod = Rod.straight(1.0, n_elements, EI=1.0, GA=GA)
        path = follow(rod, [clamp(0)], [Force(y=SMALL)])
        ratios.append(path.tip[0, 1] / (SMALL / 3))
    return {"w": np.array(ratios)}


CASE = Case(
    title="shear of a short cantilever",
    source="w = PL^3/3EI + PL/kGA (Timoshenko); k = 5/6",
    kind="closed form",
    expected=pick(TABLE, w="w_over_PL3_3EI"),
    run=run,
    tolerance=1e-9,
    reason="square of the load, and rounding of small displacements",
    n_elements=1,
)
