"""Cantilever with a tip force that stays normal to the tip."""

from collections.abc import Mapping

from benchmarks.cases import Array, Case, columns, pick, reference
from bowfem.rod import Force, Rod, clamp, follow

TABLE = columns(reference("03a")["rows"])


def run(n_elements: int) -> Mapping[str, Array]:
    """Follow the loads; the tip over L."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    path = follow(rod, [clamp(0)], [Force(y=1.0, follower=True)], TABLE["PL2_EI"])
    return {"x": path.tip[:, 0], "y": path.tip[:, 1], "theta": path.turn[:, -1]}


CASE = Case(
    title="follower tip force, PL^2/EI 0.5 to 50",
    source="elliptic integrals and shooting, 14 loads",
    kind="recomputed digits",
    expected=pick(TABLE, x="x_L", y="y_L", theta="theta"),
    run=run,
    tolerance=1e-8,
    reason="discretisation; the reference has 13 digits",
    n_elements=16,
    floor=1.0,
    coarse=8,
    order=7.0,
)
