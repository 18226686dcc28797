"""Straight sections bent elastically: moments of the project and of a solid model."""

from collections.abc import Mapping

from benchmarks.cases import Array, Case
from benchmarks.solid.cases import ELASTIC, moments, of


def run(_: int) -> Mapping[str, Array]:
    """Bend sections of three pipes, one of them edge-on, to 4 % at the surface."""
    return {case.name: moments(case)[1] for case in of(ELASTIC, curled=False)}


CASE = Case(
    title="pressed sections in bending, elastic",
    source="solid model, CalculiX 2.20, 20-node bricks on two meshes; benchmarks.solid",
    kind="computed by a general-purpose program",
    expected={case.name: moments(case)[0] for case in of(ELASTIC, curled=False)},
    run=run,
    tolerance=1.5e-2,
    reason="a thin wall bent in its own plane, beside 3D",
)
