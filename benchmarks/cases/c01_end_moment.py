"""Cantilever rolled up by an end couple, to one full circle and to two."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, pick, reference
from bowfem.rod import Force, Rod, clamp, follow

TABLE = columns(reference("01"))
# the reference writes its loads as multiples of pi; the slope, theta = M L / EI, is the same number
MOMENTS = TABLE["theta"]


def run(n_elements: int) -> Mapping[str, Array]:
    """Roll up; the tip and the stored energy, over L and EI/L."""
    strip = Rod.straight(1.0, n_elements, EI=1.0)
    path = follow(strip, [clamp(0)], [Force(couple=1.0)], MOMENTS)
    return {
        "x": path.tip[:, 0],
        "y": path.tip[:, 1],
        "theta": path.turn[:, -1],
        "U": path.energy[:, 0],
    }


CASE = Case(
    title="end moment, to 4 pi",
    source="circular arc: theta = ML/EI, x = sin(theta)/theta, U = theta^2/2",
    kind="closed form",
    expected=pick(TABLE, x="x_L", y="y_L", theta="theta", U="U_over_EI_L"),
    run=run,
    tolerance=1e-10,
    reason="discretisation; rounding of the reference is 1e-15",
    n_elements=16,
    floor=1.0,  # the tip comes back to the clamp: lengths over L
    coarse=4,
    order=7.5,
)
assert np.isclose(MOMENTS[-1], 4 * np.pi, rtol=1e-14)
