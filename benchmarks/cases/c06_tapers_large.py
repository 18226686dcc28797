"""Tapered cantilevers at large deflection under a dead tip load."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import TIGHT, Array, Case, columns, reference
from bowfem.rod import Force, Rod, clamp, follow

# the pointed taper, a = 1, has a singular tip and no finite stiffness there: left out
ROWS = [row for row in reference("06", "large_deflection_EI_linear") if row["a"] < 1.0]
DEEP = reference("06", "large_deflection_depth_linear")


def column(name: str) -> Array:
    """Width tapers, then depth tapers."""
    return np.concatenate([columns(ROWS)[name], columns(DEEP)[name]])


def run(n_elements: int) -> Mapping[str, Array]:
    """Tip over L, slope, root moment."""
    laws = [(row["PL2_EI0"], lambda s, a=row["a"]: 1 - a * s) for row in ROWS]
    laws += [(row["PL2_EI0"], lambda s, b=row["b"]: (1 - b * s) ** 3) for row in DEEP]
    found = []
    for load, law in laws:
        rod = Rod.straight(1.0, n_elements, EI=law)
        path = follow(rod, [clamp(0)], [Force(y=load)], settings=TIGHT)
        found.append([*path.tip[0], path.turn[0, -1], -path.reaction[0, 0, 2]])
    return dict(zip(("x", "w", "theta", "M0"), np.array(found).T, strict=True))


CASE = Case(
    title="tapers, large deflection",
    source="shooting, 24 rows",
    kind="recomputed digits (10)",
    expected={
        "x": column("x_L"),
        "w": column("w_L"),
        "theta": column("theta"),
        "M0": column("M0L_EI0"),
    },
    run=run,
    tolerance=1e-9,
    reason="ten digits of the reference",
    n_elements=32,
    coarse=8,
    order=6.0,
)
