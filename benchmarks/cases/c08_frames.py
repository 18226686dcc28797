"""A square frame pulled and pressed at the middles of two sides; a toggle pushed through.

A quarter of the square and half of the toggle, with guides where they are cut. Expected values:
shooting along the members by scipy (`along`), with what is unknown at the first cut.
"""

from collections.abc import Mapping

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, root

from benchmarks.cases import Array, Case
from bowfem.rod import Force, Rod, clamp, displace, follow, guide

#: Half the load on the frame over EI/L^2, L half a side: pulled, and pressed to a fourfold curl.
LOADS = np.array([0.5, 1.0, 2.0, 4.0])
#: Toggle: half span 1; rise and EA L^2/EI as in the test Williams described (from memory: 12.94 in,
#: 0.386 in, 1.885e6 lb, 9270 lb in2), and how far its apex is pushed, over the rise.
RISE, AXIAL = 0.386 / 12.94, 1.885e6 * 12.94**2 / 9270.0
PUSHES = np.array([0.25, 0.5, 1.0, 1.5, 2.0])


def along(start: Array, force: Array, length: float, axial: float = np.inf) -> Array:
    """Integrate angle, moment and position of a straight member that carries this force."""

    def slope(_: float, u: Array) -> list[float]:
        c, s = np.cos(u[0]), np.sin(u[0])
        stretch = 1.0 + (c * force[0] + s * force[1]) / axial
        return [u[1], stretch * (s * force[0] - c * force[1]), stretch * c, stretch * s]

    return solve_ivp(slope, (0.0, length), start, method="DOP853", rtol=1e-12, atol=1e-13).y[:, -1]


def square(load: float) -> tuple[float, float]:
    """Shoot a quarter from the middle of the loaded side; return (half height, half width)."""

    def quarter(moment: float) -> Array:
        force = np.array([0.0, -load])
        corner = along(np.array([0.0, moment, 0.0, 0.0]), force, 1.0)
        corner[0] -= 0.5 * np.pi
        return along(corner, force, 1.0)

    moment = brentq(lambda m: quarter(m)[0] + 0.5 * np.pi, -10.0, 10.0, xtol=1e-13)
    end = quarter(float(np.asarray(moment)))
    return -end[3], end[2]


def toggle(pushes: Array) -> Array:
    """Shoot from the clamp for each apex displacement; return half the loads."""
    angle, length = np.arctan(RISE), np.hypot(1.0, RISE)
    guess, found = np.zeros(3), []
    for push in pushes:

        def miss(z: Array, push=push) -> Array:
            end = along(np.array([angle, z[2], 0.0, 0.0]), z[:2], length, AXIAL)
            return end[[0, 2, 3]] - [angle, 1.0, RISE * (1.0 - push)]

        guess = root(miss, guess, tol=1e-12).x
        found.append(-guess[1])
    return np.array(found)


def run(n_elements: int) -> Mapping[str, Array]:
    """Solve both; half sizes of the square over L, half the load on the toggle over EI/L^2."""
    rod = Rod.polyline([[0, 1], [1, 1], [1, 0]], n_elements, EI=1.0)
    held = [guide(0, along="y"), guide(-1, along="x")]
    found = {}
    for name, way in (("pulled", 1.0), ("pressed", -1.0)):
        path = follow(rod, held, [Force(node=0, y=way)], LOADS)
        found[f"height, {name}"] = path.nodes[:, 0, 1]
        found[f"width, {name}"] = path.tip[:, 0]
    bar = Rod.polyline([[0, 0], [1, RISE]], n_elements, EI=1.0, EA=AXIAL)
    path = displace(bar, [clamp(0), guide(-1, along="y")], [Force(y=-1.0)], -1, "y", -RISE * PUSHES)
    return found | {"P, toggle": path.factor}


SQUARE = {
    name: np.array([square(way * load) for load in LOADS]).T
    for name, way in (("pulled", 1.0), ("pressed", -1.0))
}

CASE = Case(
    title="square frame and toggle",
    source="posed by Mattiasson, 1981, and Williams, 1964 (from memory); shooting in the case",
    kind="recomputed digits (11)",
    expected={
        f"{size}, {name}": row
        for name, rows in SQUARE.items()
        for size, row in zip(("height", "width"), rows, strict=True)
    }
    | {"P, toggle": toggle(PUSHES)},
    run=run,
    tolerance=1e-8,
    reason="discretisation; the toggle's force is a small difference of large ones",
    n_elements=8,
    floor=1.0,
    coarse=2,
    order=6.0,
)
