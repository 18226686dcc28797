"""String round a nearly rigid circular arc, to a nock point away from it."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.rod import Rod, TautString, clamp, pull

TABLE = columns(reference("11", "string_round_circle"))
RIGID = 1e9  # EI over T R^2


def run(n_elements: int) -> Mapping[str, Array]:
    """Tie the string to the end of a half circle; the nock lies on the ray through its clamp.

    The arc turns right about (0, -1), so that the string, on its left, runs outside.
    """
    rod = Rod.arc(1.0, -np.pi, n_elements, EI=RIGID)
    found = []
    for distance in TABLE["d_R"]:
        nock = np.array([0.0, distance - 1.0])
        length = np.sqrt(distance**2 - 1) + np.pi - np.arccos(1 / distance)
        path = pull(
            rod, [clamp(0)], TautString(EA=1e3), nock, length * (1 - 1e-3), begin=(*nock, length)
        )
        pressed = path.pressure[0][path.pressure[0] > 0.0]
        inner = np.nanmin(path.contact[0])  # arc length is the polar angle from the clamp
        found.append([np.hypot(*(path.leaves[0] - nock)), inner, pressed.min(), pressed.max()])
        found[-1][2:] /= path.tension[0]
    free, angle, low, high = np.array(found).T
    return {"free": free, "angle": angle, "least pressure": low, "most pressure": high}


ONES = np.ones(TABLE["d_R"].shape)

CASE = Case(
    title="string round a rigid arc",
    source="free length sqrt(d^2 - R^2), tangent at acos(R/d), pressure T/R",
    kind="closed form",
    expected={
        "free": TABLE["tangent_len_R"],
        "angle": TABLE["tangent_angle"],
        "least pressure": ONES,
        "most pressure": ONES,
    },
    run=run,
    tolerance=1e-7,
    reason="bending of the arc, 1e-9; discretisation",
    n_elements=20,
    coarse=2,
    order=4.0,
)
