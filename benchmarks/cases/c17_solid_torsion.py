"""Pressed sections twisted: torsion constants of the project and of a solid model."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from benchmarks.solid.stored import stored
from benchmarks.solid.torsion import CASES, name_of, outline_of


def run(_: int) -> Mapping[str, Array]:
    """Return the constants, mm4."""
    return {name_of(*case): np.array([1e12 * outline_of(*case).torsion_constant]) for case in CASES}


CASE = Case(
    title="pressed sections in torsion",
    source="solid model, CalculiX 2.20, 20-node bricks on two meshes; benchmarks.solid",
    kind="computed by a general-purpose program",
    expected={name_of(*case): stored()["torsions"][name_of(*case)]["constant"] for case in CASES},
    run=run,
    tolerance=2e-3,
    reason="an expansion in the wall",
)
