"""Curved strip pressed flat on a plane by forces at its ends: how much of it lies flat.

The flat part has lost its curvature; the free part begins where its moment is just that of the
strip made straight. Found as in the case of the circle, without contact code.
"""

from collections.abc import Mapping

import numpy as np
from scipy.optimize import brentq

from benchmarks.cases import TIGHT, Array, Case, columns, reference
from benchmarks.cases.c11_wrap_on_circle import root_moment
from bowfem.rod import Force, Path, Rod, clamp, follow

TABLE = columns(reference("11", "curved_strip_pressed_on_plane"))


def free_part(n_elements: int, radius: float, force: float, flat: float) -> Path:
    """Press what is left of the unit half length after a flat part."""
    nodes = np.linspace(0.0, 1.0 - flat, n_elements + 1)
    rod = Rod.from_curvature(nodes, EI=1.0, curvature0=1.0 / radius, origin=(flat, 0.0))
    return follow(rod, [clamp(0)], [Force(y=-force)], settings=TIGHT)


def run(n_elements: int) -> Mapping[str, Array]:
    """Find the flat half length; tip over the half length, its slope."""
    found = []
    for r, p in zip(TABLE["R_L"], TABLE["FL2_EI"], strict=True):

        def beyond(flat: float, r=r, p=p) -> float:
            return root_moment(free_part(n_elements, r, p, flat)) + 1.0 / r

        near = 1.0 - 1.0 / (p * r)  # small deflection
        flat = float(np.asarray(brentq(beyond, near - 0.05, near + 0.05, xtol=1e-13)))
        path = free_part(n_elements, r, p, flat)
        slope = path.turn[0, -1] + (1.0 - flat) / r
        found.append([flat, slope, *path.tip[0]])
    return dict(zip(NAMES, np.array(found).T, strict=True))


NAMES = {"flat": "flat_half_length", "theta": "theta_L", "x": "x_L", "y": "y_L"}

CASE = Case(
    title="curved strip pressed on a plane",
    source="th'^2 = (2F/EI) sin th, sin th_L = EI/2FR^2, by quadrature, 10 rows",
    kind="recomputed digits (11)",
    expected={new: TABLE[old] for new, old in NAMES.items()},
    run=run,
    tolerance=1e-9,
    reason="digits of the reference; discretisation",
    n_elements=4,
    floor=1.0,
)
