"""Thin ring between frictionless plates: lines of contact, then flats, to a fifth of its height."""

from collections.abc import Mapping

from benchmarks.cases import Array, Case, columns, reference
from benchmarks.pressing import press
from bowfem.section import Pipe

ROWS = columns(reference("09", "ring_parallel_plates_table"))
PIPE = Pipe(26.67e-3, 2.87e-3)
RADIUS = 0.5 * PIPE.mid_diameter


def run(n_elements: int) -> Mapping[str, Array]:
    """Press a pipe to every flattening of the table; lengths of the mid-wall over its radius."""
    heights = 2.0 * RADIUS * (1.0 - ROWS["flattening"])
    found = press(PIPE, heights + PIPE.wall, n_elements)
    return {
        "force": found.force,
        "width": (found.width - PIPE.wall) / (2.0 * RADIUS),
        "flat": found.flat / RADIUS,
        "curvature at load": found.curvature[:, 0] * RADIUS,
        "curvature at side": found.curvature[:, 1] * RADIUS,
    }


CASE = Case(
    title="ring pressed between plates",
    source="elliptic integrals; Frisch-Fay, Flexible Bars, 1962",
    kind="recomputed digits (12)",
    expected={
        "force": ROWS["F_R2_EI"],
        "width": ROWS["width_over_2R"],
        "flat": ROWS["flat_over_R"],
        "curvature at load": ROWS["curv_load"],
        "curvature at side": ROWS["curv_side"],
    },
    run=run,
    tolerance=1e-9,
    reason="nine digits of the reference's own check",
    n_elements=8,
    floor=0.1,
    coarse=2,
    order=6.0,
)
