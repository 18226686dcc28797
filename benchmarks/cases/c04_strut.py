"""Clamped-free strut far past buckling, the end slope given and the load found."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, pick, reference
from bowfem._kernels.basis import NODE_X
from bowfem.rod import Force, Rod, clamp, displace

TABLE = columns(reference("04")["rows"])
SLOPES = np.radians(TABLE["alpha_deg"])


def run(n_elements: int) -> Mapping[str, Array]:
    """Step on to the buckled branch with the linear mode as a guess; load over Euler's, the end."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    s = (np.arange(n_elements)[:, None] + NODE_X) / n_elements
    mode = SLOPES[0] * np.sin(np.pi / 2 * s)
    path = displace(
        rod, [clamp(0)], [Force(x=-np.pi**2 / 4)], -1, "turn", SLOPES, guess=mode
    )
    return {"P": path.factor, "x": path.tip[:, 0], "y": path.tip[:, 1]}


CASE = Case(
    title="strut past buckling, end slope 20 to 176 deg",
    source="Timoshenko, Gere, Theory of Elastic Stability, 1961, table of the elastica",
    kind="recomputed digits (elliptic integrals; printed digits from memory)",
    expected=pick(TABLE, P="P_Pcr", x="xa_l", y="ya_l"),
    run=run,
    tolerance=1e-8,
    reason="discretisation; the rod is nearly a loop at 176 deg",
    n_elements=16,
    coarse=8,
    order=6.0,
)
