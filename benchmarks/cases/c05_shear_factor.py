"""Share of a section's area that carries shear: solid rod and thin tube, by energy.

The rod turns its sections as the work of shear asks, so its factor is that of energy. Cowper's is
that of a mean displacement, at a Poisson's ratio of 0.4 by 5 (rod) and 8 (tube) per cent more.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from bowfem.section import Linear, Pipe, circle
from bowfem.section.built_up import solid_rod

POISSON = np.array([0.0, 0.3, 0.4, 0.5])


def of_flexure(nu: float) -> float:
    """Integrate the energy of Saint-Venant's shear stress in a circle under a unit load.

    ``tau_xz = (3 + 2 nu) / (8 (1 + nu) I) (1 - x^2 - (1 - 2 nu) / (3 + 2 nu) y^2)``, ``tau_yz =
    -(1 + 2 nu) / (4 (1 + nu) I) x y`` (S. P. Timoshenko, J. N. Goodier, Theory of Elasticity, 1951;
    from memory): they carry the load.
    """
    second = np.pi / 4.0
    r, w = np.polynomial.legendre.leggauss(8)
    radius, turn = 0.5 * (r[:, None] + 1.0), 2.0 * np.pi * np.arange(16) / 16
    x, y = radius * np.cos(turn), radius * np.sin(turn)
    area = 0.5 * w[:, None] * radius * 2.0 * np.pi / 16
    part = (1.0 - 2.0 * nu) / (3.0 + 2.0 * nu)
    along = (3.0 + 2.0 * nu) / (8.0 * (1.0 + nu) * second) * (1.0 - x**2 - part * y**2)
    aside = -(1.0 + 2.0 * nu) / (4.0 * (1.0 + nu) * second) * x * y
    assert abs(np.sum(area * along) - 1.0) < 1e-12
    return float(1.0 / (np.pi * np.sum(area * (along**2 + aside**2))))


def run(n_elements: int) -> Mapping[str, Array]:
    """Shear stiffness over G A; ``n_elements`` has no meaning here."""
    laws = [Linear(3e9, poisson=float(nu)) for nu in POISSON]
    rods = [solid_rod(0.01, law) for law in laws]
    tube = circle(Pipe(0.1, 1e-6))
    return {
        "solid rod": np.array(
            [
                float(rod.shear_stiffness / (law.shear_modulus * rod.area))
                for rod, law in zip(rods, laws, strict=True)
            ]
        ),
        "thin tube": np.array(tube.shear_area / tube.area),
    }


CASE = Case(
    title="shear factors of energy",
    source="Saint-Venant's flexure of a circle (Timoshenko, Goodier 1951, M); shear flow of a tube",
    kind="closed form",
    expected={"solid rod": [of_flexure(nu) for nu in POISSON], "thin tube": 0.5},
    run=run,
    tolerance=1e-6,
    reason="wall of the tube, 2e-5 of its radius",
)
