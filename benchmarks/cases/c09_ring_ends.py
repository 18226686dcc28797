"""Ring between plates: its first softness, its first flats, and the sides between flats."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, reference
from benchmarks.pressing import press
from bowfem.section import Pipe, onset_thickness, pressed

SMALL, SIDES = reference("09", "ring_small_load"), reference("09", "flat_plates_constants")
PIPE = Pipe(26.67e-3, 2.87e-3)
MID = PIPE.mid_diameter
#: Two small flattenings, to cancel what is linear in them, and a large one.
PRESSED = np.array([2e-3, 1e-3, 0.5])


def run(n_elements: int) -> Mapping[str, Array]:
    """Press a little, to the first flats, and to half."""
    onset = onset_thickness(PIPE)
    heights = np.append(MID * (1.0 - PRESSED) + PIPE.wall, onset)
    found = press(PIPE, heights, n_elements)
    force = found.force[:2]  # F R^2 / D
    first = np.array(
        [
            2.0 * PRESSED[:2] / force,
            (found.width[:2] - PIPE.wall - MID) / (0.5 * MID * force),
            (1.0 - found.curvature[:2, 0] * 0.5 * MID) / force,
            (found.curvature[:2, 1] * 0.5 * MID - 1.0) / force,
        ]
    )
    half = pressed(PIPE, heights[2])
    side = half.width - PIPE.wall - found.flat[2]
    height = heights[2] - PIPE.wall
    return dict(zip(SMALL, 2.0 * first[:, 1] - first[:, 0], strict=True)) | {
        "height at first flats": (onset - PIPE.wall) / MID,
        "force at first flats": found.force[3],
        "width at first flats": (found.width[3] - PIPE.wall) / MID,
        "depth of sides": side / height,
        "curvature of sides": found.curvature[2, 1] * height,
        "force at half": found.force[2] * (2.0 * height / MID) ** 2,
    }


CASE = Case(
    title="ring between plates, softness and flats",
    source="(pi/4 - 2/pi) FR^3/EI (Roark; ASTM D2412's 0.149, from memory); elliptic integrals",
    kind="closed form",
    expected=SMALL
    | {
        "height at first flats": SIDES["onset_H_over_2R"],
        "force at first flats": SIDES["onset_F_R2_EI"],
        "width at first flats": SIDES["onset_width_over_2R"],
        "depth of sides": SIDES["two_sides_depth_over_H"],
        "curvature of sides": SIDES["max_curvature_times_H"],
        "force at half": SIDES["F_H2_over_EI"],
    },
    run=run,
    tolerance=1e-5,
    reason="square of the small flattening, 1e-6, with its factor",
    n_elements=8,
)
