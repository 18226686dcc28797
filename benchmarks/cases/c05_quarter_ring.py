"""Quarter circle, clamped at one end, dead force in either direction at the other."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import TIGHT, Array, Case, columns, pick, reference
from bowfem.rod import Force, Rod, clamp, follow

TABLE = columns(reference("05", "quarter_ring_large_deflection"))


def run(n_elements: int) -> Mapping[str, Array]:
    """Solve each force from rest; tip over R, its angle, the force's moment at the root."""
    rod = Rod.arc(1.0, np.pi / 2, n_elements, EI=1.0)
    tips, angles, moments = [], [], []
    for fx, fy in zip(TABLE["FxR2_EI"], TABLE["FyR2_EI"], strict=True):
        path = follow(rod, [clamp(0)], [Force(x=fx, y=fy)], settings=TIGHT)
        tips.append(path.tip[0])
        angles.append(np.pi / 2 + path.turn[0, -1])
        moments.append(-path.reaction[0, 0, 2])
    x, y = np.array(tips).T
    return {"x": x, "y": y, "theta": np.array(angles), "M0": np.array(moments)}


CASE = Case(
    title="quarter ring, large deflection",
    source="shooting, 9 forces (a planar bend as posed by Bathe, Bolourchi 1979)",
    kind="recomputed digits (10)",
    expected=pick(TABLE, x="x_R", y="y_R", theta="theta", M0="M0R_EI"),
    run=run,
    tolerance=1e-9,
    reason="ten digits of the reference",
    n_elements=16,
    floor=1.0,
    coarse=4,
    order=6.0,
)
