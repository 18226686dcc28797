"""Curls opened and closed elastically: moments of the project and of a solid model."""

from collections.abc import Mapping

from benchmarks.cases import Array, Case
from benchmarks.solid.cases import ELASTIC, moments, of


def run(_: int) -> Mapping[str, Array]:
    """Bend curls of three pipes, 40 to 93 mm, both senses, to 4 % at the surface."""
    return {case.name: moments(case)[1] for case in of(ELASTIC, curled=True)}


CASE = Case(
    title="curls opened and closed, elastic",
    source="solid model, CalculiX 2.20, 20-node bricks on two meshes; benchmarks.solid",
    kind="computed by a general-purpose program",
    expected={case.name: moments(case)[0] for case in of(ELASTIC, curled=True)},
    run=run,
    tolerance=2.5e-2,
    reason="a thin wall bent in its own plane, beside 3D",
)
