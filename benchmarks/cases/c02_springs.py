"""Cantilevers held by springs, at small deflection: at the tip, at the root, along the way."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from bowfem.rod import Force, Rod, Spring, clamp, follow, pin

SMALL = 1e-6  # tip load over EI/L^2
STIFF = np.array([0.5, 5.0, 50.0])  # over EI/L^3, EI/L at the root


def run(n_elements: int) -> Mapping[str, Array]:
    """Deflection and slope of the tip over the load, over L^3/EI and L^2/EI."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    last = rod.n_elements
    kinds = {
        "tip": lambda k: [clamp(0), Spring(last, y=k)],
        "root": lambda k: [pin(0), Spring(0, turn=k)],
        "tip's turn": lambda k: [clamp(0), Spring(last, turn=k)],
    }
    found = {}
    for name, held in kinds.items():
        paths = [follow(rod, held(k), [Force(y=SMALL)]) for k in STIFF]
        found[f"w, {name}"] = np.array([path.tip[0, 1] for path in paths]) / SMALL
        found[f"theta, {name}"] = np.array([path.turn[0, -1] for path in paths]) / SMALL
    return found


SHARED = 3.0 / (3.0 + STIFF)  # of the load, by the cantilever beside the spring at its tip
TURN = 0.5 / (1.0 + STIFF)  # of a tip whose turn is held by a spring: M = k theta

CASE = Case(
    title="cantilevers on springs, small deflection",
    source="w = P/(3 + k); w = P/3 + P/k; theta = P/2/(1 + k), w = P/3 - k theta/2",
    kind="closed form",
    expected={
        "w, tip": SHARED / 3.0,
        "theta, tip": SHARED / 2.0,
        "w, root": 1.0 / 3.0 + 1.0 / STIFF,
        "theta, root": 0.5 + 1.0 / STIFF,
        "w, tip's turn": 1.0 / 3.0 - STIFF * TURN / 2.0,
        "theta, tip's turn": TURN,
    },
    run=run,
    tolerance=1e-9,
    reason="square of the load, and rounding of small displacements",
    n_elements=2,
)
