"""Natural frequencies of cantilevers: uniform, with a tip mass, tapered, tapered to a point."""

from collections.abc import Callable, Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.rod import MovingRod, Rod, clamp, follow, natural_frequencies

UNIFORM, TIP = reference("13", "uniform_cantilever"), columns(reference("13", "tip_mass"))
POINTED, TAPERS = reference("13", "pointed"), reference("13", "truncated_taper")
LINES: dict[str, tuple[Callable, Callable]] = {  # bending stiffness and mass along s
    "wedge_depth_linear": (lambda s: (1.0 - s) ** 3, lambda s: 1.0 - s),
    "cone": (lambda s: (1.0 - s) ** 4, lambda s: (1.0 - s) ** 2),
    "width_linear": (lambda s: 1.0 - s, lambda s: 1.0 - s),
}


def cantilever(n: int, EI: Callable, mass: Callable, tip: float = 0.0) -> Array:
    """Frequencies of the cantilever over ``sqrt(EI0 / rhoA0) / L^2``; elements finer to the tip."""
    held = [clamp(0)]
    power = 3 if float(EI(1.0)) == 0.0 else 1
    rod = Rod.from_curvature(1.0 - np.linspace(1.0, 0.0, n + 1) ** power, EI=EI)
    moving = MovingRod(follow(rod, held), held, mass, tip_mass=tip)
    return 2.0 * np.pi * natural_frequencies(moving, 3)


def even(s: Array) -> Array:
    """Return one everywhere."""
    return np.ones_like(np.asarray(s, dtype=float))


def run(n_elements: int) -> Mapping[str, Array]:
    """Extrapolate each from two meshes."""

    def lowest(count: int, EI: Callable, mass: Callable, tip: float = 0.0) -> Array:
        rough, fine = (cantilever(n, EI, mass, tip)[:count] for n in (n_elements, 2 * n_elements))
        return (16.0 * fine - rough) / 15.0

    found = {
        "uniform": lowest(3, even, even),
        "tip mass": np.array([lowest(1, even, even, mu)[0] for mu in TIP["mu"]]),
    }
    found |= {name: lowest(3, *line) for name, line in LINES.items()}
    tapers = []
    for row in TAPERS:
        power = 3 if row["taper"] == "depth" else 1

        def left(s: Array, b=row["b"]) -> Array:
            return 1.0 - b * s

        tapers.append(lowest(2, lambda s, left=left, p=power: left(s) ** p, left))
    return found | {"tapered": np.array(tapers)}


CASE = Case(
    title="cantilevers, natural frequencies",
    source="cos b cosh b = -1; wedge and cone by Bessel functions (Kirchhoff, 1879, from memory)",
    kind="recomputed digits (9 to 13)",
    expected={
        "uniform": UNIFORM["omega_coeff"][:3],
        "tip mass": TIP["omega1"],
        **{name: POINTED[name] for name in LINES},
        "tapered": [row["omega"] for row in TAPERS],
    },
    run=run,
    tolerance=1e-6,
    reason="consistent mass, fourth order, extrapolated: the third modes of pointed tips",
    n_elements=20,
    coarse=10,
    order=4.0,
)
