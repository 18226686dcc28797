"""Deep circular arch of 215 degrees, hinged or clamped at both ends, kept from swaying.

Half the arch, with a guide at the crown: the symmetric branch, to its limit.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, reference
from bowfem.rod import Force, Rod, clamp, follow_arc_length, guide, pin

HALF = np.radians(215.0) / 2
ENDS = {"hinged_hinged": pin(0), "clamped_clamped": clamp(0)}
LIMITS = [reference("07", f"{ends}_symmetric_limit") for ends in ENDS]


def run(n_elements: int) -> Mapping[str, Array]:
    """Trace to the limit; load on the whole arch over EI/R^2, crown displacement over R."""
    found = []
    for end in ENDS.values():
        nodes = np.linspace(0.0, HALF, n_elements + 1)
        rod = Rod.from_curvature(nodes, EI=1.0, curvature0=-1.0, angle=HALF)
        top = rod.position0[-1, 1]
        path = follow_arc_length(
            rod,
            [end, guide(-1, along="y")],
            [Force(y=-0.5)],
            step=0.5,
            states=200,
            until=lambda new, top=top: new.tip[-1, 1] < top - 1.3,
        )
        at = path.limits[0]
        found.append([path.factor[at], top - path.tip[at, 1]])
    return dict(zip(("P", "v"), np.array(found).T, strict=True))


CASE = Case(
    title="deep arch, symmetric, limit loads",
    source="shooting with continuation; posed by DaDeppo, Schmidt, 1975 (from memory)",
    kind="recomputed digits (8 in P, 6 in displacements)",
    expected={"P": [row["P"] for row in LIMITS], "v": [row["v_R"] for row in LIMITS]},
    run=run,
    tolerance=1e-6,
    reason="six digits of the reference's displacements",
    n_elements=8,
    coarse=2,
    order=5.0,
)
