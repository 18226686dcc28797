"""Cantilever with a dead uniform load."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import TIGHT, Array, Case, columns, pick, reference
from bowfem.rod import LineLoad, Rod, clamp, follow

TABLE = columns(reference("03b")["dead"])
PRECISE = reference("03b-check")  # one row again, in multiple precision


def run(n_elements: int) -> Mapping[str, Array]:
    """Follow the loads; the tip over L, the root moment."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    path = follow(rod, [clamp(0)], [LineLoad(y=1.0)], TABLE["qL3_EI"], settings=TIGHT)
    at = int(np.flatnonzero(TABLE["qL3_EI"] == PRECISE["K"])[0])
    return {
        "u": 1.0 - path.tip[:, 0],
        "w": path.tip[:, 1],
        "theta": path.turn[:, -1],
        "M0": -path.reaction[:, 0, 2],
        "at 10": np.array([1.0 - path.tip[at, 0], path.tip[at, 1], path.turn[at, -1]]),
    }


CASE = Case(
    title="dead uniform load, qL^3/EI 0.5 to 30",
    source="shooting, 12 loads",
    kind="recomputed digits (twice, apart by 5e-12)",
    expected=pick(TABLE, u="u_L", w="w_L", theta="theta", M0="M0L_EI")
    | {"at 10": np.array([PRECISE[k] for k in ("u", "w", "theta")])},
    run=run,
    tolerance=1e-8,
    reason="discretisation; the reference has 12 digits",
    n_elements=16,
    coarse=4,
    order=6.0,
)
