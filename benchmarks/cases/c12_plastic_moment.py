"""Elastic, perfectly plastic tubes: moment against curvature, and what stays after unloading."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.section import Pipe, Tabulated, circle, residual_curvature, section_response

ROWS = columns(reference("12", "moment_curvature"))
MODULUS, LEVEL = 2.5e9, 50e6
#: Corner of the law at yield rounded over this share of it.
CORNER = 1e-5


def law() -> Tabulated:
    """Straight up to yield, level beyond."""
    share = np.array([0.25, 0.5, 0.75, 1.0 - 2.0 * CORNER, 1.0 - CORNER, 1.0 + CORNER,
                      1.0 + 2.0 * CORNER, 60.0])  # fmt: skip
    return Tabulated(LEVEL / MODULUS * share, LEVEL * np.minimum(share, 1.0))


def run(n_elements: int) -> Mapping[str, Array]:
    """Bend a thin and a thick tube with frozen outlines; ``n_elements`` has no meaning here."""
    material, found = law(), {}
    for name, ratio in (("thin", 0.9999), ("thick", 0.8)):
        pipe = Pipe(0.03, 0.015 * (1.0 - ratio))
        fibre = 0.5 * pipe.outer_diameter
        start = LEVEL / MODULUS / fibre
        # knots a fortieth of yield curvature apart hit every row of the table
        table = section_response(circle(pipe), material, 10.0 * LEVEL / MODULUS, 801)
        at = np.rint(400 + 40 * ROWS["kappa_over_ky"]).astype(int)
        found[f"{name} moment"] = table.moment[at] / (LEVEL * pipe.second_moment / fibre)
        found[f"{name} left"] = residual_curvature(table, table.curvature[at]) / start
    return found


CASE = Case(
    title="elastic-plastic tubes, moment and residual curvature",
    source="(2/pi)(phi/sin phi + cos phi), sin phi = ky/k; thick tube by quadrature",
    kind="closed form",
    expected={
        "thin moment": ROWS["thin_tube"],
        "thin left": ROWS["thin_residual_kappa"],
        "thick moment": ROWS["tube_0p8"],
        "thick left": ROWS["kappa_over_ky"] - ROWS["tube_0p8"],
    },
    run=run,
    tolerance=1e-3,
    reason="Gauss points on either side of the kink in the law: a point's share of the moment",
    floor=1.0,
)
