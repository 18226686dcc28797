"""The limb of case 14 as a chain of rigid links on springs: what an element of order two needs.

The simplest element of second order: links of equal length, hinged, with a spring of ``EI / h`` at
each hinge and twice that at the clamp. Written apart from the package, solved by scipy.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from benchmarks.cases import c14_reference_walk as case


def full_draw_force(n: int) -> float:
    """Force at full draw with `n` links, N."""
    from scipy.optimize import root

    h = case.LENGTH / n
    at = h * np.arange(n)  # hinges
    spring = (60.0 - 50.0 * at / case.LENGTH) / h
    spring[0] *= 2.0  # half a link from the clamp to the first middle
    rest = np.full(n, -0.5 * h)
    rest[0] = -0.25 * h
    nock = case.WALKS["D0"].nock[-1]

    def residual(u: np.ndarray) -> np.ndarray:
        angle, tension = u[:n], u[n] * 100.0
        c, s = np.cos(angle), np.sin(angle)
        way = nock - h * np.array([c.sum(), s.sum()])
        size = np.hypot(*way)
        bend = spring * (np.diff(angle, prepend=0.0) - rest)
        torque = h * tension / size * (c * way[1] - s * way[0])
        return np.append(bend - np.append(bend[1:], 0.0) - torque, 100.0 * (size - case.STRING))

    middle = (np.arange(n) + 0.5) * h
    start = np.append(-0.5 * middle + 1.012 * middle / case.LENGTH, 2.0)
    found = root(residual, start, tol=1e-13)
    if not found.success:
        raise RuntimeError(f"{n} links: {found.message}")
    way = nock - h * np.array([np.cos(found.x[:n]).sum(), np.sin(found.x[:n]).sum()])
    return float(100.0 * found.x[n] * way[1] / np.hypot(*way))


@cache
def links_for(error: float) -> tuple[int, float]:
    """Links that reach a relative error of the force at full draw, and the order measured."""
    exact = case.WALKS["D0"].pull[-1, 1]
    coarse, fine = (abs(full_draw_force(n) / exact - 1.0) for n in (20, 40))
    order = float(np.log2(coarse / fine))
    return int(np.ceil(40 * (fine / error) ** (1.0 / order))), order
