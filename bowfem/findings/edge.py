"""Where a limb may split: tension across the inside of the pressed edge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bowfem.bow import Walk
from bowfem.design import Side
from bowfem.findings.line import DrawLength, Figure, Line, Place, Warned, side_figure

#: Share of the yield stress from which the place is worth a warning.
SPLITS = 1.0


@dataclass(frozen=True)
class EdgeTension:
    """The largest tensile stress round a section, at the inside of its edge in a curl that opens.

    Parameters
    ----------
    s : float
        Station, m along the pipe from the bow's centre.
    draw : float
        Nock point to pivot, m.
    stress : float
        Pa.
    share : float
        Over the yield stress in tension.
    opened : bool
        Whether the place is in a bend that the draw opens.
    side : Side or None
        Which limb; None where both are alike.
    """

    s: float
    draw: float
    stress: float
    share: float
    opened: bool
    side: Side | None = None

    @classmethod
    def from_walk(cls, walk: Walk) -> EdgeTension:
        """Find the worst place on either limb, in any state."""
        tension = walk.design.material.yields()[0]
        found = []
        for side, limb in walk.distinct_limbs:
            i, j = np.unravel_index(
                int(np.argmax(limb.crosswise_tension)), limb.crosswise_tension.shape
            )
            stress, s = float(limb.crosswise_tension[i, j]), float(limb.s[j])
            formed = float(walk.design.shape(side).formed_curvature(s))
            opened = formed * float(limb.curvature_change[i, j]) < 0.0
            found.append(cls(s, float(walk.draw[i]), stress, stress / tension, opened, side))
        return max(found, key=lambda each: each.stress)


def edge_line(walk: Walk, found: EdgeTension) -> Line:
    """Say how hard the wall is pulled across, and where to look for splits."""
    where = "at the inside of the edge of a curl that opens, " if found.opened else ""
    words = (
        "pulled across by at most {edge_tension:3}, {edge_share:.0} of yield, "
        f"{where}{{edge_s}}, at {{edge_draw}}: look there for splits"
    )
    figures = (
        Figure("edge_tension", found.stress, "stress"),
        Figure("edge_share", found.share, "share"),
        Place("edge_s", found.s, side=found.side),
        DrawLength.of(walk, found.draw, "edge_draw"),
        Figure("edge_opened", found.opened),
        side_figure(found.side, "edge_limb"),
    )
    return Line("edge", words, figures, 106)


def edge_warning(walk: Walk, found: EdgeTension) -> list[Warned]:
    """Warn of an edge that yields across in tension."""
    if found.share < SPLITS:
        return []
    words = (
        "Pulled across past yield {edge_s} ({edge_share:.0}): the inside of the pressed edge may "
        "split there."
    )
    return [Warned(words, edge_line(walk, found).figures)]
