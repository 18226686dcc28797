"""Deep circular arch of 215 degrees, clamped and hinged, loaded at the crown to its limit."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, reference
from bowfem.rod import Force, Rod, clamp, follow_arc_length, pin

LIMIT = reference("07", "clamped_hinged_limit")
ANGLE = np.radians(215.0)


def run(n_elements: int) -> Mapping[str, Array]:
    """Trace to the limit; load over EI/R^2, crown displacement over R. Two halves of elements."""
    crown = n_elements // 2
    nodes = np.linspace(0.0, ANGLE, 2 * crown + 1)
    rod = Rod.from_curvature(nodes, EI=1.0, curvature0=-1.0, angle=ANGLE / 2)
    before = rod.position0[crown]
    path = follow_arc_length(
        rod,
        [clamp(0), pin(-1)],
        [Force(node=crown, y=-1.0)],
        step=0.5,
        states=400,
        until=lambda new: new.nodes[-1, crown, 1] < before[1] - 1.3,
    )
    at = path.limits[0]
    moved = path.nodes[at, crown] - before
    return {"P": path.factor[at], "v": -moved[1], "u": moved[0], "theta": path.turn[at, crown]}


CASE = Case(
    title="deep arch, clamped-hinged, limit load",
    source="DaDeppo, Schmidt, J. Appl. Mech. 42 (1975) 894-896: 8.97 (from memory)",
    kind="recomputed digits (shooting: 8 in P, 6 in displacements)",
    expected={"P": LIMIT["P"], "v": LIMIT["v_R"], "u": LIMIT["u_R"], "theta": LIMIT["theta_crown"]},
    run=run,
    tolerance=1e-6,
    reason="six digits of the reference's displacements",
    n_elements=16,
    floor=1.0,
    coarse=4,
    order=5.0,
)
