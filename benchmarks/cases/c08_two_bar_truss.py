"""Two pinned elastic bars with a load at their joint: snap-through with a closed form.

One bar of the two, its upper end free to turn and to slide down. Bars stay straight because their
bending stiffness is far above what would let them buckle.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from bowfem.rod import Force, Rod, Support, follow_arc_length, pin

EA, SPAN = 1.0, 1.0
RISES = np.array([0.1, 0.5, 1.0])


def limits(rise: float) -> tuple[float, float]:
    """Height of the joint and load at the upper limit.

    ``P = 2 EA (1/l - 1/L) z`` at the height ``z``, ``l^2 = z^2 + SPAN^2``; ``dP/dz = 0`` where
    ``l^3 = L SPAN^2``.
    """
    long = np.hypot(SPAN, rise)
    short = np.cbrt(long * SPAN**2)
    height = np.sqrt(short**2 - SPAN**2)
    return height, 2.0 * EA * (1.0 / short - 1.0 / long) * height


def run(n_elements: int) -> Mapping[str, Array]:
    """Trace through both limits; the lower one is the upper one's mirror image."""
    found = []
    for rise in RISES:
        bar = Rod.polyline([[0, 0], [SPAN, rise]], n_elements, EI=10.0, EA=EA)
        path = follow_arc_length(
            bar,
            [pin(0), Support(-1, ("x",))],
            [Force(y=-0.5 * EA * rise**3)],
            step=0.1,
            states=200,
            until=lambda new, rise=rise: new.tip[-1, 1] < -1.1 * rise,
        )
        up, down = path.limits[:2]
        load = path.factor * EA * rise**3
        found.append([load[up], load[down], path.tip[up, 1], path.tip[down, 1]])
    return dict(zip(NAMES, np.array(found).T, strict=True))


NAMES = ("P, up", "P, down", "height, up", "height, down")
HEIGHTS, LOADS = np.array([limits(rise) for rise in RISES]).T

CASE = Case(
    title="two-bar truss, snap-through limits",
    source="P = 2EA(1/l - 1/L)z; von Mises, Z. angew. Math. Mech. 3 (1923) 406-422 (from memory)",
    kind="closed form",
    expected=dict(zip(NAMES, (LOADS, -LOADS, HEIGHTS, -HEIGHTS), strict=True)),
    run=run,
    tolerance=1e-7,
    reason="the solver ends its search where the load's slope is 1e-9: heights move by that much",
    n_elements=1,
)
