"""Long thin tube in pure bending: its section flattens and its moment peaks."""

from collections.abc import Mapping

import numpy as np
from numpy.polynomial import Polynomial

from benchmarks.cases import Array, Case, columns, reference
from bowfem.section import Linear, Pipe, circle
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import RingPath, follow_bending
from bowfem.section.wall import sampled

EXACT = reference("10", "exact_inextensible")
ROWS = columns(EXACT["path"])
LIMIT = EXACT["limit"]
LAW = Linear(2.9e9)
PIPE = Pipe(0.1, 1e-3)
RADIUS = 0.5 * PIPE.mid_diameter
#: kappa from chi, and m from M
PER_CHI = PIPE.wall / (RADIUS**2 * np.sqrt(1.0 - LAW.poisson**2))
PER_MOMENT = np.sqrt(1.0 - LAW.poisson**2) / (LAW.modulus * RADIUS * PIPE.wall**2)


def bent(ring: Ring, chi: Array) -> RingPath:
    """Follow a ring through curvatures of the reference."""
    return follow_bending(ring, LAW, PER_CHI * np.atleast_1d(chi)[None], tolerance=1e-9)


def peak(ring: Ring) -> tuple[float, float]:
    """Return curvature and moment where the tangent vanishes, in the reference's units."""
    near = np.linspace(0.46, 0.49, 7)
    path = bent(ring, np.concatenate([np.linspace(0.0, 0.4, 9), near]))
    tangent, moment = (Polynomial.fit(near, part[0, 9:], 6) for part in (path.tangent, path.moment))
    chi = float(next(z.real for z in tangent.roots() if 0.46 < z.real < 0.49 and z.imag == 0.0))
    return chi, float(moment(chi)) * PER_MOMENT


def run(n_elements: int) -> Mapping[str, Array]:
    """Bend a ring without the wall's own thickness, the thin limit; sizes over 2 R."""
    ring = Ring.from_outlines([circle(PIPE)], n_elements, 4, 1, wall_points=1)
    path = bent(ring, np.concatenate([[0.0], ROWS["chi"]]))
    wall = sampled(ring, path.unknowns[:, 1:], 2)
    chi, moment = peak(ring)
    side = wall.x.shape[2] // 2  # where the two elements meet at the side
    return {
        "moment": path.moment[0, 1:] * PER_MOMENT,
        "height": (wall.y[0, :, -1] - wall.y[0, :, 0]) / (2.0 * RADIUS),
        "width": wall.x[0, :, side] / RADIUS,
        "chi at the limit": np.array([chi]),
        "moment at the limit": np.array([moment]),
    }


CASE = Case(
    title="tube in pure bending, limit moment",
    source="shooting; posed by Brazier, Proc. R. Soc. A 116 (1927); Reissner, 1959",
    kind="recomputed digits (9)",
    expected={
        "moment": ROWS["m"],
        "height": ROWS["height_over_2R"],
        "width": ROWS["width_over_2R"],
        "chi at the limit": np.array([LIMIT["chi"]]),
        "moment at the limit": np.array([LIMIT["m"]]),
    },
    run=run,
    tolerance=4e-8,
    reason="the deepest row, flattened to a third; the limit itself agrees to its seven digits",
    n_elements=8,
    coarse=4,
    order=7.0,
)
