"""Tapered cantilevers at small deflection: width taper and depth taper."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.rod import Force, Rod, clamp, follow

WIDTH = [row for row in reference("06", "EI_linear") if row["a"] < 1.0]
DEPTH = reference("06", "depth_linear")
SMALL = 1e-6


def column(name: str) -> Array:
    """Width tapers, then depth tapers."""
    return np.concatenate([columns(WIDTH)[name], columns(DEPTH)[name]])


def run(n_elements: int) -> Mapping[str, Array]:
    """Deflection and slope under a tip force, slope under an end couple."""
    laws = [lambda s, a=row["a"]: 1 - a * s for row in WIDTH]
    laws += [lambda s, b=row["b"]: (1 - b * s) ** 3 for row in DEPTH]
    found = []
    for law in laws:
        rod = Rod.straight(1.0, n_elements, EI=law)
        force = follow(rod, [clamp(0)], [Force(y=SMALL)])
        couple = follow(rod, [clamp(0)], [Force(couple=SMALL)])
        found.append([force.tip[0, 1], force.turn[0, -1], couple.turn[0, -1]])
    w, force, couple = np.array(found).T / SMALL
    return {"w": w, "theta of P": force, "theta of M": couple}


CASE = Case(
    title="tapers, small deflection",
    source="closed forms; Young, Budynas, Roark's Formulas, tapered beams (from memory)",
    kind="closed form",
    expected={
        "w": column("w_PL3_EI0"),
        "theta of P": column("theta_PL2_EI0"),
        "theta of M": column("theta_ML_EI0"),
    },
    run=run,
    tolerance=1e-8,
    reason="discretisation of the depth taper to a tenth, whose tip is 1000 times softer",
    n_elements=48,
    coarse=24,
    order=6.0,
)
