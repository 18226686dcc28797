"""A law along the limb and across it: its energy in plane stress, as a table for the kernels.

The energy of a point strained along (x) and round the section (t) is written out in
`bowfem._kernels.crosswise`. It depends on how much of tension or compression the state is through
the first invariant, as the conical criteria do that are used for polymers whose yield differs in
tension and compression (R. Raghava, R. M. Caddell and G. S. Y. Yeh 1973, M), but in strains, which
makes it an energy of its own; under stress along the limb alone it is the law, on either side (D).
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem.section.law import Law

Array = NDArray[np.float64]

#: Range of the tables, strain, and their knots: quintics between, exact to some 1e-10.
REACH, KNOTS = 0.4, 801


class PlaneStress(NamedTuple):
    """Hold the mean of a law's two energies and half their difference, with derivatives."""

    table: Array  # (6, n): S, S', S'', D, D', D'' over the modulus
    step: float


@lru_cache(maxsize=64)
def plane_stress(law: Law) -> PlaneStress:
    """Tabulate a law over the equivalent strain."""
    n, step = np.linspace(0.0, REACH, KNOTS), REACH / (KNOTS - 1)
    both = []
    for side in (1.0, -1.0):
        stress, slope = law.stress_and_tangent(side * n)
        both.append(np.stack([law.energy(side * n), side * stress, slope]) / law.initial_modulus)
    mean, half = 0.5 * (both[0] + both[1]), 0.5 * (both[0] - both[1])
    return PlaneStress(np.concatenate([mean, half]), step)
