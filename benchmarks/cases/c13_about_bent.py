"""Natural frequencies about loaded states: a strut in compression, a strip bent into a ring.

The strip is a quarter of the ring, straight when unloaded and bent by its supports, which are those
of the modes with an even number of waves. A constant moment does no work in such a mode, so they
are those of a ring formed round.
"""

from collections.abc import Callable, Mapping

import numpy as np

from benchmarks.cases import Array, Case
from bowfem.rod import Force, MovingRod, Rod, Support, follow, guide, natural_frequencies, pin

SHARES = np.array([0.0, 0.5, 0.9, -1.0])  # compression over Euler's load
WAVES = np.array([2.0, 4.0])


def strut(n: int, share: float) -> Array:
    """Lowest frequency of a hinged strut of unit length."""
    push = Force(x=-share * np.pi**2)
    held = [pin(0), Support(-1, ("y",))]
    pressed = follow(Rod.straight(1.0, n, EI=1.0), held, [push])
    moving = MovingRod(pressed, held, 1.0, loads=[push])
    return 2.0 * np.pi * natural_frequencies(moving, 1)


def ring(n: int) -> Array:
    """Two lowest frequencies of a quarter of a ring of unit radius."""
    bent = Support(-1, ("y", "turn"), moved=(0.0, 0.0, 0.5 * np.pi))
    held = [guide(0, along="y"), bent]
    made = follow(Rod.straight(0.5 * np.pi, n, EI=1.0), held)
    return 2.0 * np.pi * natural_frequencies(MovingRod(made, held, 1.0), 2)


def extrapolated(solve: Callable[[int], Array], n: int) -> Array:
    """Extrapolate from two meshes: the fourth power of the element's length is left."""
    return (16.0 * solve(2 * n) - solve(n)) / 15.0


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
    reason="consistent mass, fourth order, extrapolated",
    n_elements=16,
    coarse=8,
    order=4.0,
)
