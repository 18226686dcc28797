"""Lee's frame: both limits of its snap-back, inextensible, extensible, and with shear."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, reference
from bowfem.rod import Force, Rod, follow_arc_length, pin

EA = 43200.0
STIFFNESS = {"inext": (np.inf, np.inf), "ext": (EA, np.inf), "ext_shear": (EA, 5 / 6 * EA / 2.6)}
NAMES = {
    "P": "P",
    "v": "v_L",
    "u": "u_L",
    "corner x": "corner_x",
    "corner y": "corner_y",
    "theta": "theta_load",
}


def run(n_elements: int) -> Mapping[str, Array]:
    """Trace past both limits with `n_elements` a member (column, beam to the load, beam)."""
    found = []
    for axial, shear in STIFFNESS.values():
        corners = [[0, 0], [0, 1], [0.2, 1], [1, 1]]
        frame = Rod.polyline(corners, n_elements, EI=1.0, EA=axial, GA=shear)
        corner, load = n_elements, 2 * n_elements
        path = follow_arc_length(
            frame,
            [pin(0), pin(-1)],
            [Force(node=load, y=-1.0)],
            step=0.5,
            states=150,
            until=lambda new, load=load: new.nodes[-1, load, 1] < 0.4,
        )
        for at in path.limits[:2]:
            x, y = path.nodes[at, load]
            found.append(
                [path.factor[at], 1 - y, x - 0.2, *path.nodes[at, corner], path.turn[at, load]]
            )
    return dict(zip(NAMES, np.array(found).T, strict=True))


EXPECTED = [reference("08", f"{m}_limit_{end}") for m in STIFFNESS for end in ("max", "min")]

CASE = Case(
    title="Lee's frame, both limits, three stiffnesses",
    source="Lee, Manuel, Rossow, J. Eng. Mech. Div. ASCE 94 (1968) 521-547: 18.55 (from memory)",
    kind="recomputed digits (shooting: 9 in P, 6 in displacements)",
    expected={new: np.array([row[old] for row in EXPECTED]) for new, old in NAMES.items()},
    run=run,
    tolerance=1e-6,
    reason="six digits of the reference's displacements",
    n_elements=8,
    coarse=1,
    order=4.0,
)
