"""Natural frequencies about loaded states: a strut in compression, a strip bent into a ring.

The strip is a quarter of the ring, straight when unloaded and bent by its supports, which are those
of the modes with an even number of waves. A constant moment does no work in such a mode, so they
are those of a ring formed round.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from benchmarks.vibration import extrapolated, frequencies, gauss_nodes
from bowfem.rod import Force, Rod, Support, guide, pin

SHARES = np.array([0.0, 0.5, 0.9, -1.0])  # compression over Euler's load
WAVES = np.array([2.0, 4.0])


def strut(n: int, share: float) -> Array:
    """Lowest frequency of a hinged strut of unit length."""
    nodes, masses = gauss_nodes(1.0, n)
    rod = Rod.from_curvature(nodes, EI=1.0)
    push = Force(x=-share * np.pi**2)
    held = [pin(0), Support(-1, ("y",))]
    return frequencies(rod, held, masses, loads=[push], directions=("y",))[:1]


def ring(n: int) -> Array:
    """Two lowest frequencies of a quarter of a ring of unit radius."""
    nodes, masses = gauss_nodes(0.5 * np.pi, n)
    rod = Rod.from_curvature(nodes, EI=1.0)
    bent = Support(-1, ("y", "turn"), moved=(0.0, 0.0, 0.5 * np.pi))
    return frequencies(rod, [guide(0, along="y"), bent], masses)[:2]


def run(n_elements: int) -> Mapping[str, Array]:
    """Extrapolate each from two meshes."""
    struts = [extrapolated(lambda n, p=p: strut(n, p), n_elements)[0] for p in SHARES]
    return {"strut": np.array(struts), "ring": extrapolated(ring, n_elements)}


CASE = Case(
    title="frequencies about loaded and bent states",
    source="pi^4 (1 - P/Pe); ring n^2 (n^2-1)^2/(n^2+1): Love, Theory of Elasticity (from memory)",
    kind="closed form",
    expected={
        "strut": np.pi**2 * np.sqrt(1.0 - SHARES),
        "ring": WAVES * (WAVES**2 - 1.0) / np.sqrt(WAVES**2 + 1.0),
    },
    run=run,
    tolerance=1e-7,
    reason="Nystroem's method on masses at nodes, fourth order, extrapolated",
    n_elements=16,
    coarse=8,
    order=4.0,
)
