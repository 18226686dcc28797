"""Share of a section's area that carries shear: solid rod and thin tube."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, reference
from bowfem.section import Linear, Pipe, circle
from bowfem.section.built_up import solid_rod

COWPER = reference("05", "cowper")
LAW = Linear(3e9, poisson=COWPER["nu"])


def run(n_elements: int) -> Mapping[str, Array]:
    """Shear stiffness over G A; ``n_elements`` has no meaning here."""
    rod, tube = solid_rod(0.01, LAW), circle(Pipe(0.1, 1e-6))
    return {
        "solid rod": rod.shear_stiffness / (LAW.shear_modulus * rod.area),
        "thin tube": np.array(tube.shear_area / tube.area),
    }


CASE = Case(
    title="shear factors",
    source="Cowper, 1966 (from memory): 6(1+nu)/(7+6nu), 2(1+nu)/(4+3nu); nu = 0.3",
    kind="closed form",
    expected={"solid rod": COWPER["solid_circle"], "thin tube": COWPER["thin_tube"]},
    run=run,
    tolerance=1e-6,
    reason="wall of the tube, 2e-5 of its radius",
    short="tubes take the shear flow's energy: Cowper's value at nu = 0, 6 % less than at 0.3",
)
