"""Thin curved tube in bending: its section flattens at once, and it is softer than a bar.

The factor is that of stiffness lost, ``k = E I / (dM / dkappa)`` at rest, by the pipe factor
``lambda = t R / (r^2 sqrt(1 - nu^2))``; radius of the bend `R` far above that of the tube `r`.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from bowfem.section import Linear, Pipe, circle
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import follow_bending

PIPE, LAW = Pipe(0.1, 5e-6), Linear(2.9e9)
FACTORS = np.array([0.1, 0.3, 0.5, 1.0, 2.0])
STIFF = FACTORS >= 1.0


def series(factor: float, terms: int = 24) -> float:
    """Minimise the energy of the bend over harmonics of the wall's inextensible displacement."""
    phi = 2.0 * np.pi * (np.arange(512) + 0.5) / 512
    k = 2 * np.arange(1, terms + 1)
    out, along = np.cos(np.outer(phi, k)), -np.sin(np.outer(phi, k)) / k
    rise = out * np.cos(phi)[:, None] - along * np.sin(phi)[:, None]
    bend = out * (1 - k**2)
    step = phi[1] - phi[0]
    stiffness = (rise.T @ rise + factor**2 / 12.0 * bend.T @ bend) * step
    load = rise.T @ np.cos(phi) * step
    return float(np.pi / (np.pi - load @ np.linalg.solve(stiffness, load)))


def third(factor: float) -> float:
    """Return von Karman's factor of two harmonics."""
    x = factor**2
    return (105.0 + 4136.0 * x + 4800.0 * x**2) / (3.0 + 536.0 * x + 4800.0 * x**2)


def run(n_elements: int) -> Mapping[str, Array]:
    """Bend each a little from rest."""
    r = 0.5 * PIPE.mid_diameter
    ring = Ring.from_outlines([circle(PIPE)], n_elements, 4, 1, wall_points=1)
    found = []
    for factor in FACTORS:
        formed = PIPE.wall / (factor * r**2 * np.sqrt(1.0 - LAW.poisson**2))
        little = np.array([[0.0, 1e-6 * PIPE.wall / r**2]])
        path = follow_bending(ring, LAW, little, natural=formed, tolerance=1e-10)
        found.append(LAW.modulus * np.pi * r**3 * PIPE.wall / path.tangent[0, 0])
    k = np.array(found)
    return {"k": k, "k, two harmonics": k[STIFF]}


CASE = Case(
    title="curved tubes, flexibility in bending",
    source="24 harmonics; two by von Karman, Z. VDI 55 (1911), from memory",
    kind="series; closed form",
    expected={
        "k": [series(factor) for factor in FACTORS],
        "k, two harmonics": [third(factor) for factor in FACTORS[STIFF]],
    },
    run=run,
    tolerance=1e-6,
    reason="R / r is finite",
    n_elements=16,
)
