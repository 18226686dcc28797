"""Cantilever with a uniform pressure that turns with the rod."""

from collections.abc import Mapping

from benchmarks.cases import TIGHT, Array, Case, columns, pick, reference
from bowfem.rod import Pressure, Rod, clamp, follow

TABLE = columns(reference("03b")["follower_pressure"])


def run(n_elements: int) -> Mapping[str, Array]:
    """Follow the loads; the tip over L, the root moment."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    path = follow(rod, [clamp(0)], [Pressure(1.0)], TABLE["qL3_EI"], settings=TIGHT)
    return {
        "x": path.tip[:, 0],
        "y": path.tip[:, 1],
        "theta": path.turn[:, -1],
        "M0": -path.reaction[:, 0, 2],
    }


CASE = Case(
    title="follower pressure, qL^3/EI 1 to 40",
    source="shooting, 6 loads",
    kind="recomputed digits (once)",
    expected=pick(TABLE, x="x_L", y="y_L", theta="theta", M0="M0L_EI"),
    run=run,
    tolerance=1e-8,
    reason="discretisation; the reference has 12 digits",
    n_elements=16,
    floor=1.0,
    coarse=4,
    order=6.0,
)
