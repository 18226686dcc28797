"""Where a fade runs into the flat: the fitted factor beside solid models, fitted and not."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from benchmarks.solid.fades import CASES
from benchmarks.solid.stored import stored


def run(_: int) -> Mapping[str, Array]:
    """Return the factors of back and belly."""
    return {case.name: np.array(case.own()[:2]) for case in CASES}


CASE = Case(
    title="fades: rise of the stress in the faces",
    source="solid model, CalculiX 2.20, 20-node bricks on two meshes; benchmarks.solid",
    kind="computed by a general-purpose program",
    expected={
        case.name: [stored()["fades"][case.name][f"{face}_factor"] for face in ("back", "belly")]
        for case in CASES
    },
    run=run,
    tolerance=0.1,
    reason="a fit with five numbers to thirteen of the twenty",
)
