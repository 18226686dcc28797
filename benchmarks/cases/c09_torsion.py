"""Racetrack tubes in torsion against finite elements of their cross-section."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.section import Pipe, racetrack

#: The finer mesh of two, apart by 2e-7; arcs are inscribed polygons, 5e-5 low.
ROWS = columns(
    [row for row in reference("09", "stadium_J_fem") if row["ms"] == 0.06 and row.get("height")]
)


def run(n_elements: int) -> Mapping[str, Array]:
    """Read the constant off the outlines; ``n_elements`` has no meaning here."""
    pipe = Pipe(26.67, 2.87)
    return {"J": np.array([racetrack(pipe, h).torsion_constant for h in ROWS["height"]])}


CASE = Case(
    title="racetrack tubes, torsion constant",
    source="finite elements of the section, by sectionproperties, three heights",
    kind="recomputed digits (5: polygons)",
    expected={"J": ROWS["J"]},
    run=run,
    tolerance=5e-3,
    reason="an expansion in wall over bend radius, which is 1.1 in the flattest; no walk uses it",
)
