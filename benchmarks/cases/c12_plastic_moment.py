"""Elastic, perfectly plastic tubes: moment against curvature, and what stays after unloading."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.section import Pipe, Tabulated, circle, residual_curvature, section_response
from bowfem.section.built_up import solid_rod

ROWS = columns(reference("12", "moment_curvature"))
FACTORS = reference("12", "shape_factors")
MODULUS, LEVEL = 2.5e9, 50e6
#: Corner of the law at yield rounded over this share of it.
CORNER = 1e-5
PIPES = (Pipe(0.03, 0.015 * (1.0 - 0.9999)), Pipe(0.03, 0.003), Pipe(26.67e-3, 2.8702e-3))


def law() -> Tabulated:
    """Straight up to yield, level beyond."""
    share = np.array(
        [0.25, 0.5, 0.75, 1.0 - 2.0 * CORNER, 1.0 - CORNER, 1.0 + CORNER, 1.0 + 2.0 * CORNER, 60.0]
    )
    strains, stresses = LEVEL / MODULUS * share, LEVEL * np.minimum(share, 1.0)
    return Tabulated(strains.tolist(), stresses.tolist())


def run(n_elements: int) -> Mapping[str, Array]:
    """Bend tubes and a solid rod, outlines frozen; ``n_elements`` has no meaning here."""
    material, found = law(), {}
    # knots a fortieth of yield curvature apart hit every row of the table
    at = np.rint(400 + 40 * ROWS["kappa_over_ky"]).astype(int)
    for name, ratio in (("thin", 0.9999), ("thick", 0.8)):
        pipe = Pipe(0.03, 0.015 * (1.0 - ratio))
        fibre = 0.5 * pipe.outer_diameter
        start = LEVEL / MODULUS / fibre
        table = section_response(circle(pipe), material, 10.0 * LEVEL / MODULUS, 801)
        found[f"{name} moment"] = table.moment[at] / (LEVEL * pipe.second_moment / fibre)
        found[f"{name} left"] = residual_curvature(table, table.curvature[at]) / start
    bar = solid_rod(0.03, material, 10.0 * LEVEL / MODULUS, 801)
    found["solid moment"] = bar.moment[at] / bar.moment[440]
    found["fully plastic"] = np.array([plastic(material, pipe) for pipe in PIPES])
    return found


def plastic(material: Tabulated, pipe: Pipe) -> float:
    """Moment at 50 times the curvature of yield over that of yield: 1/2500 short of the last."""
    far = section_response(circle(pipe), material, 50.0 * LEVEL / MODULUS, 5).moment[-1]
    return float(far / (LEVEL * pipe.second_moment / (0.5 * pipe.outer_diameter)))


CASE = Case(
    title="elastic-plastic tubes and rod, moments, set",
    source="(2/pi)(phi/sin phi + cos phi), sin phi = ky/k; thick tube by quadrature",
    kind="closed form",
    expected={
        "thin moment": ROWS["thin_tube"],
        "thin left": ROWS["thin_residual_kappa"],
        "thick moment": ROWS["tube_0p8"],
        "thick left": ROWS["kappa_over_ky"] - ROWS["tube_0p8"],
        "solid moment": ROWS["solid_circle"],
        "fully plastic": [FACTORS[k] for k in ("thin_tube", "tube_ri_ro_0p8", "pipe_3_4_sch40")],
    },
    run=run,
    tolerance=1e-3,
    reason="Gauss points on either side of the kink in the law: a point's share of the moment",
    floor=1.0,
)
