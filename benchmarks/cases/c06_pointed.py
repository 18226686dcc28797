"""Cantilevers that taper to nothing: width to a point, depth as a parabola of equal stress."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import TIGHT, Array, Case, columns, reference
from bowfem.rod import Force, Rod, clamp, follow

POINT = [row for row in reference("06", "EI_linear") if row["a"] == 1.0]
LARGE = columns([r for r in reference("06", "large_deflection_EI_linear") if r["a"] == 1.0])
PARABOLA = reference("06", "parabolic_depth")
SMALL = 1e-6


def toward_tip(n_elements: int) -> Array:
    """Lay nodes ever closer to the tip, where the stiffness goes to zero: ``1 - (1 - t)^4``."""
    return 1.0 - (1.0 - np.linspace(0.0, 1.0, n_elements + 1)) ** 4


def run(n_elements: int) -> Mapping[str, Array]:
    """Small deflection of both, large deflection of the pointed width."""
    nodes = toward_tip(n_elements)
    point = Rod.from_curvature(nodes, EI=lambda s: 1.0 - s)
    parabola = Rod.from_curvature(nodes, EI=lambda s: (1.0 - s) ** 1.5)
    small, deep = (follow(rod, [clamp(0)], [Force(y=SMALL)]) for rod in (point, parabola))
    path = follow(point, [clamp(0)], [Force(y=1.0)], LARGE["PL2_EI0"], settings=TIGHT)
    return {
        "w, point": small.tip[:, 1] / SMALL,
        "theta, point": small.turn[:, -1] / SMALL,
        "w, parabola": deep.tip[:, 1] / SMALL,
        "x": path.tip[:, 0],
        "w": path.tip[:, 1],
        "theta": path.turn[:, -1],
        "M0": -path.reaction[:, 0, 2],
    }


CASE = Case(
    title="tapers to a point",
    source="w = PL^3/2EI0, theta = PL^2/EI0; parabola 2PL^3/3EI0; large deflection by shooting",
    kind="closed form; recomputed digits (10)",
    expected={
        "w, point": [row["w_PL3_EI0"] for row in POINT],
        "theta, point": [row["theta_PL2_EI0"] for row in POINT],
        "w, parabola": PARABOLA,
        "x": LARGE["x_L"],
        "w": LARGE["w_L"],
        "theta": LARGE["theta"],
        "M0": LARGE["M0L_EI0"],
    },
    run=run,
    tolerance=1e-9,
    reason="ten digits of the reference",
    n_elements=24,
    coarse=4,
    order=4.0,
)
