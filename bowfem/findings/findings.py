"""All findings of a walk, made once by whoever walked; what shows them never solves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from bowfem.bow import BraceError, Ending, Walk
from bowfem.findings.bending import (
    Hinge,
    HotSpot,
    hinge,
    hinge_line,
    hinge_warning,
    hot_spot_lines,
    hot_spots,
    yield_warning,
)
from bowfem.findings.crease import Crease, crease_line, crease_warning
from bowfem.findings.diary import loading_time_line
from bowfem.findings.draws import draw_lines, mesh_warning
from bowfem.findings.edge import EdgeTension, edge_line, edge_warning
from bowfem.findings.lengths import Lengths, length_lines, parcel_lines, parcel_warning
from bowfem.findings.line import Line, Warned
from bowfem.findings.making import making_lines, string_warning, taper_warning
from bowfem.findings.reserve import reserve_line, reserve_warnings
from bowfem.findings.sideways import FLIPS, SideStability, sideways_lines, sideways_warning
from bowfem.findings.string_cut import StringCut, brace_per_turn, cut_line
from bowfem.findings.string_fit import Bridge, Loop, bridges, fit_lines, least_loops
from bowfem.findings.string_follow import StringFollow, follow_line
from bowfem.findings.string_run import StringRun, run_lines, run_warning
from bowfem.findings.tuning import Tuning, tuning_lines


@dataclass(frozen=True, eq=False, repr=False)
class Findings:
    """Hold what a walk comes to.

    Attributes
    ----------
    walk : Walk
        The walk.
    hot_spots : tuple of HotSpot
        Where the limbs are worked hardest, hardest first.
    hinge : Hinge
        Where a limb bends most against its neighbourhood, at the last draw.
    edge : EdgeTension
        Where the wall is pulled across hardest.
    crease : Crease
        Where the fade runs into the flat, on the face nearest to yield.
    run : StringRun
        Where the string runs.
    loops : tuple of Loop
        The least loops, one for each limb that differs.
    bridges : tuple of Bridge
        What must keep the string off a limb.
    cut : StringCut or None
        How to cut a string with the least loops; None when they are longer than the string.
    brace_per_turn : float
        Rise of the brace height by one full turn of twist more, m; nan when not known.
    follow : StringFollow or None
        The bow after its first full draw; None when it did not get there.
    tuning : Tuning or None
        How the limbs work together; None where they are alike.
    lengths : Lengths
        How long the bow is.
    sideways : SideStability or None
        Whether its tips flip; None where its states were not kept.
    """

    walk: Walk
    hot_spots: tuple[HotSpot, ...]
    hinge: Hinge
    edge: EdgeTension
    crease: Crease
    run: StringRun
    loops: tuple[Loop, ...]
    bridges: tuple[Bridge, ...]
    cut: StringCut | None
    brace_per_turn: float
    follow: StringFollow | None
    tuning: Tuning | None
    lengths: Lengths
    sideways: SideStability | None

    @classmethod
    def from_walk(cls, walk: Walk) -> Findings:
        """Find all there is to find; braces and draws the bow anew for string follow and twist."""
        loops = least_loops(walk)
        fits = loops[0].reach + loops[-1].reach < walk.string_length
        cut = StringCut.from_walk(walk, loops) if fits else None
        return cls(
            walk=walk,
            hot_spots=tuple(hot_spots(walk)),
            hinge=hinge(walk),
            edge=EdgeTension.from_walk(walk),
            crease=Crease.from_walk(walk),
            run=StringRun.from_walk(walk),
            loops=loops,
            bridges=bridges(walk),
            cut=cut,
            brace_per_turn=_brace_per_turn(walk, cut),
            follow=StringFollow.after(walk) if walk.ending is Ending.COMPLETE else None,
            tuning=None if walk.is_symmetric else Tuning.from_walk(walk),
            lengths=Lengths.from_walk(walk),
            sideways=SideStability.from_walk(walk, loops),
        )

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        return f"Findings({self.walk!r})"

    def _repr_html_(self) -> str:
        """Return a table for notebooks."""
        return self.walk._repr_html_()

    @property
    def verdict(self) -> str:
        """How the bow fared: how its walk ended, or that it does not stay in its plane."""
        if self.sideways is not None and self.sideways.flips:
            return FLIPS
        return self.walk.ending.text

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """All findings in words and figures, in order of rank."""
        found = [
            *making_lines(self.walk),
            *draw_lines(self.walk),
            loading_time_line(self.walk),
            reserve_line(self.walk),
            hinge_line(self.hinge),
            *hot_spot_lines(self.walk, self.hot_spots),
            edge_line(self.walk, self.edge),
            crease_line(self.walk, self.crease),
            follow_line(self.follow, self.tuning is None),
            *run_lines(self.walk, self.run),
            *fit_lines(self.loops, self.bridges),
            cut_line(self.cut, self.brace_per_turn),
            *length_lines(self.lengths),
            *parcel_lines(self.lengths, self.walk.design.limits),
            *sideways_lines(self.sideways),
            *([] if self.tuning is None else tuning_lines(self.tuning)),
        ]
        return tuple(sorted(found, key=lambda line: line.rank))

    @cached_property
    def warnings(self) -> tuple[Warned, ...]:
        """What a maker must not overlook."""
        return (
            *mesh_warning(self.walk),
            *sideways_warning(self.sideways),
            *reserve_warnings(self.walk),
            *yield_warning(self.walk, self.hot_spots),
            *crease_warning(self.walk, self.crease),
            *edge_warning(self.walk, self.edge),
            *hinge_warning(self.hinge),
            *string_warning(self.walk),
            *taper_warning(self.walk),
            *parcel_warning(self.walk, self.lengths),
            *run_warning(self.walk, self.run),
        )


def _brace_per_turn(walk: Walk, cut: StringCut | None) -> float:
    if cut is None:
        return math.nan
    try:
        return brace_per_turn(walk, cut)
    except BraceError:  # a millimetre higher or lower the bow cannot be braced
        return math.nan
