"""Cantilever with a tip force that stays normal to the tip."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, pick, reference
from bowfem.rod import Force, Rod, clamp, displace, follow

TABLE = columns(reference("03a")["rows"])
TURNS = reference("03a")["special"]


def run(n_elements: int) -> Mapping[str, Array]:
    """Follow the loads; the tip over L."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    load = [Force(y=1.0, follower=True)]
    path = follow(rod, [clamp(0)], load, TABLE["PL2_EI"])
    square = displace(rod, [clamp(0)], load, -1, "turn", [0.5 * np.pi])
    # half a turn is the most there is, so the load hardly shows in it: its row gives the turn
    return {
        "x": path.tip[:, 0],
        "y": path.tip[:, 1],
        "theta": path.turn[:, -1],
        "P at 90 deg": square.factor,
    }


CASE = Case(
    title="follower tip force, PL^2/EI 0.5 to 50",
    source="elliptic integrals and shooting, 14 loads",
    kind="recomputed digits",
    expected=pick(TABLE, x="x_L", y="y_L", theta="theta")
    | {"P at 90 deg": np.array([TURNS["lambda_theta_90deg"]])},
    run=run,
    tolerance=1e-8,
    reason="discretisation; the reference has 13 digits",
    n_elements=16,
    floor=1.0,
    coarse=8,
    order=7.0,
)
