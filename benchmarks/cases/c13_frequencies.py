"""Natural frequencies of cantilevers: uniform, with a tip mass, tapered, tapered to a point."""

from collections.abc import Callable, Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from benchmarks.vibration import extrapolated, frequencies, gauss_nodes
from bowfem.rod import Rod, clamp

UNIFORM, TIP = reference("13", "uniform_cantilever"), columns(reference("13", "tip_mass"))
POINTED, TAPERS = reference("13", "pointed"), reference("13", "truncated_taper")
LINES: dict[str, tuple[Callable, Callable]] = {  # bending stiffness and mass along s
    "wedge_depth_linear": (lambda s: (1.0 - s) ** 3, lambda s: 1.0 - s),
    "cone": (lambda s: (1.0 - s) ** 4, lambda s: (1.0 - s) ** 2),
    "width_linear": (lambda s: 1.0 - s, lambda s: 1.0 - s),
}


def cantilever(n: int, EI: Callable, mass: Callable, tip: float = 0.0) -> Array:
    """Frequencies across the cantilever over ``sqrt(EI0 / rhoA0) / L^2``."""
    nodes, weights = gauss_nodes(1.0, n)
    masses = weights * mass(nodes)
    masses[-1] += tip
    if tip == 0.0:  # beyond the last mass the rod carries nothing, and may be infinitely soft
        nodes, masses = nodes[:-1], masses[:-1]
    rod = Rod.from_curvature(nodes, EI=EI)
    return frequencies(rod, [clamp(0)], masses, directions=("y",))


def even(s: Array) -> Array:
    """Return one everywhere."""
    return np.ones_like(s)


def run(n_elements: int) -> Mapping[str, Array]:
    """Extrapolate each from two meshes."""

    def lowest(count: int, EI: Callable, mass: Callable, tip: float = 0.0) -> Array:
        return extrapolated(lambda n: cantilever(n, EI, mass, tip)[:count], n_elements)

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
    reason="Nystroem's method on masses at nodes, fourth order, extrapolated: the third modes",
    n_elements=20,
    coarse=10,
    order=4.0,
)
