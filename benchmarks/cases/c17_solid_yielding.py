"""Sections whose wall yields: moments to the peak, and the peak, beside a solid model."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from benchmarks.solid.cases import YIELDING, moments, of, own_peak, peak, peaks_seen

CASES = (*of(YIELDING, curled=False), *of(YIELDING, curled=True))
PEAKED = [case for case in CASES if peaks_seen(case)]


def run(_: int) -> Mapping[str, Array]:
    """Bend straight sections and curls up to their peaks."""
    found = {case.name: moments(case)[1] for case in CASES}
    return found | {f"peak, {case.name}": np.array([own_peak(case)[0]]) for case in PEAKED}


CASE = Case(
    title="pressed sections and curls, yielding",
    source="solid model, CalculiX 2.20, 20-node bricks on two meshes; benchmarks.solid",
    kind="computed by a general-purpose program",
    expected={case.name: moments(case)[0] for case in CASES}
    | {f"peak, {case.name}": peak(case.stored())[0] for case in PEAKED},
    run=run,
    tolerance=2.5e-2,
    reason="a thin wall, deformation plasticity in both; up to the peak",
)
