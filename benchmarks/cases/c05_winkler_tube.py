"""Tube with an axis already curved, in bending: stress at the inside and outside of the bend."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.section import Linear, Pipe, circle, wall_stress

ROWS = columns(reference("05", "winkler_bach_tube"))
PIPE = Pipe(0.03, 0.1 * 0.03)  # inner radius 0.8 of the outer
LAW = Linear(2.9e9)


def run(n_elements: int) -> Mapping[str, Array]:
    """Bend with the outline kept; stress over M c / I. ``n_elements`` has no meaning here."""
    outer, found = 0.5 * PIPE.outer_diameter, []
    for share in ROWS["R_c"]:
        wall = wall_stress(
            circle(PIPE), LAW, 0.3, natural_curvature=1.0 / (share * outer), ovalise=False
        )
        plain = wall.moment * outer / PIPE.second_moment
        found.append([-wall.longitudinal[-1, -1] / plain, wall.longitudinal[0, -1] / plain])
    inside, outside = np.array(found).T
    return {"inside": inside, "outside": outside}


CASE = Case(
    title="curved tube, Winkler-Bach stress factors",
    source="k = M (rn - r) / (A e r) over M c / I; Timoshenko, Strength of Materials II",
    kind="recomputed digits (10)",
    expected={"inside": ROWS["k_i"], "outside": ROWS["k_o"]},
    run=run,
    tolerance=1e-7,
    reason="Gauss points along the wall: 8 a quarter",
)
