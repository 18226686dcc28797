"""String lying on the face of a limb at a constant offset, all the way to the clamp.

The reference puts the tendon on the concave face of a limb bent from straight, where it needs
guides. A taut string lies on a convex face: here the limb is curled away from it by twice what the
string straightens, so the limb ends as the mirror image of the reference, with the same moments.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, pick, reference
from bowfem.rod import Rod, TautString, clamp, pull

TABLE = columns(reference("11", "tendon_limb"))
LOADS = TABLE["TbL_EI"]
OFFSET, FREE = 0.05, 0.5  # face from axis; root to nock along the clamp's tangent


def run(n_elements: int) -> Mapping[str, Array]:
    """Shorten the string by ``T b^2 L / EI``; tip over L, tension times b, moments, work."""
    nodes = np.linspace(0.0, 1.0, n_elements + 1)
    nock = np.array([-FREE, OFFSET])
    found = []
    for load in LOADS:
        rod = Rod.from_curvature(nodes, EI=1.0, curvature0=-2 * load, belly=OFFSET)
        slack = 1.0 + 2 * load * OFFSET + FREE
        path = pull(
            rod, [clamp(0)], TautString(), nock, slack - load * OFFSET, begin=(*nock, slack)
        )
        found.append(
            [
                path.tip[0, 0],
                -path.tip[0, 1],
                path.tension[0] * OFFSET,
                path.moment[0].min(),
                path.moment[0].max(),
                path.energy[0, 0],
                np.abs(path.axial[0] / path.tension[0] + 1).max(),
                np.abs(path.shear[0] / path.tension[0]).max(),
            ]
        )
    return dict(zip(NAMES, np.array(found).T, strict=True))


NAMES = ("x", "y", "T b", "least M", "most M", "U", "N/T + 1", "Q/T")
ZERO = np.zeros(LOADS.shape)

CASE = Case(
    title="string on a limb's face at an offset",
    source="M = T b, N = -T, Q = 0: circular arc; shortening T b^2 L/EI, energy T^2 b^2 L/2EI",
    kind="closed form",
    expected={
        **pick(TABLE, x="x_L", y="y_L"),
        "T b": LOADS,
        "least M": LOADS,
        "most M": LOADS,
        "U": LOADS**2 / 2,
        "N/T + 1": ZERO,
        "Q/T": ZERO,
    },
    run=run,
    tolerance=1e-9,
    reason="the bending strain is constant, so only the length of the curved face is discretised",
    n_elements=8,
    floor=1.0,
)
