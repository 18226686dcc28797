"""Circular arc of 45 degrees, clamped, with a dead tip force in its own plane.

The arc and forces of Bathe and Bolourchi's bend (R = 100, EI = 1e7/12, P = 300, 450, 600), the
force turned from across the plane into it: PR^2/EI = 3.6, 5.4, 7.2.
"""

from collections.abc import Mapping

import numpy as np
from scipy.integrate import quad
from scipy.optimize import brentq

from benchmarks.cases import TIGHT, Array, Case
from bowfem.rod import Force, Rod, clamp, follow

ANGLE = np.pi / 4
LOADS = np.array([300.0, 450.0, 600.0]) * 100.0**2 / (1e7 / 12)


def first_integral(load: float) -> dict[str, float]:
    """Solve ``theta'' = -load cos(theta)`` with ``theta'(L) = 1`` over R by its first integral.

    ``theta'^2 = 1 + 2 load (sin(theta_L) - sin(theta))``; the tip's angle follows from the arc's
    length, the rest by quadrature over the angle.
    """

    def along(tip: float, weight: object = None) -> float:
        def f(angle: float) -> float:
            w = weight(angle) if callable(weight) else 1.0
            return w / np.sqrt(1 + 2 * load * (np.sin(tip) - np.sin(angle)))

        return quad(f, 0.0, tip, epsabs=0.0, epsrel=1e-12)[0]

    tip = float(np.asarray(brentq(lambda t: along(t) - ANGLE, ANGLE, np.pi / 2, xtol=1e-15)))
    x = along(tip, np.cos)
    return {"x": x, "y": along(tip, np.sin), "theta": tip, "M0": load * x}


def run(n_elements: int) -> Mapping[str, Array]:
    """Follow the loads; tip over R, its angle, the moment at the root over EI/R."""
    rod = Rod.arc(1.0, ANGLE, n_elements, EI=1.0)
    path = follow(rod, [clamp(0)], [Force(y=1.0)], LOADS, settings=TIGHT)
    return {
        "x": path.tip[:, 0],
        "y": path.tip[:, 1],
        "theta": ANGLE + path.turn[:, -1],
        "M0": -path.reaction[:, 0, 2],
    }


EXACT = [first_integral(load) for load in LOADS]

CASE = Case(
    title="45 degree arc, force in its plane",
    source="first integral of the elastica; arc and forces of Bathe, Bolourchi, 1979, in plane",
    kind="recomputed digits (quadrature, 12)",
    expected={name: np.array([row[name] for row in EXACT]) for name in EXACT[0]},
    run=run,
    tolerance=1e-10,
    reason="discretisation",
    n_elements=8,
    coarse=2,
    order=7.0,
)
