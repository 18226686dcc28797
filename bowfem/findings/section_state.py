"""One section of a limb, in one state of bending: where the walk left it, or as asked for."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Walk
from bowfem.design import Side, limb_text
from bowfem.errors import InputError
from bowfem.findings.bending import HotSpot
from bowfem.section import (
    Law,
    Outline,
    Pipe,
    SectionResponse,
    WallStress,
    at_stations,
    curled_response,
    ovalising_response,
    pressed,
    section_response,
    wall_stress,
)
from bowfem.units import both_lengths

Array = NDArray[np.float64]

#: A station turned less than this, or all but this, counts as flat or edge-on.
TURNED = 0.01
#: Largest surface strain shown: that of the tables.
MAX_STRAIN = 0.08


@dataclass(frozen=True, eq=False)
class SectionState:
    """A section, and one state of bending it is shown in.

    Parameters
    ----------
    title : str
        What is shown.
    outline : Outline
        As formed.
    pipe : Pipe
        What it is made of.
    material : Law
        Stress-strain law.
    curvature : float
        Change of curvature from the formed shape, 1/m.
    axial_force : float
        N, tension positive.
    natural_curvature : float
        Of the limb as formed, 1/m.
    response, rigid : SectionResponse
        The section's law, and that of an outline that would stay as formed.
    stress : WallStress
        Stress in the wall in this state.
    """

    title: str
    outline: Outline
    pipe: Pipe
    material: Law
    curvature: float
    axial_force: float
    natural_curvature: float
    response: SectionResponse
    rigid: SectionResponse
    stress: WallStress

    @classmethod
    def solved(
        cls,
        title: str,
        outline: Outline,
        pipe: Pipe,
        material: Law,
        curvature: float,
        axial_force: float = 0.0,
        natural_curvature: float = 0.0,
    ) -> SectionState:
        """Solve a section for its law, and for the stress in one state; as the attributes."""
        law = ovalising_response(outline, material)
        if natural_curvature:
            row = curled_response([outline], material, natural_curvature)
            law = at_stations(row, 0)
        return cls(
            title,
            outline,
            pipe,
            material,
            curvature,
            axial_force,
            natural_curvature,
            law,
            section_response(outline, material),
            wall_stress(
                outline,
                material,
                curvature,
                axial_force=axial_force,
                natural_curvature=natural_curvature,
            ),
        )

    @classmethod
    def from_pipe(
        cls,
        pipe: Pipe,
        thickness: float,
        material: Law,
        strain: float,
        *,
        edge_on: bool = False,
        radius: float | None = None,
    ) -> SectionState:
        """Show a pipe pressed to a thickness, m, bent until its surface strains this much.

        The strain is that of a section that keeps its outline. With a radius, m, the limb was
        formed to a curl, of its middle: a positive strain closes it, a negative one opens it.

        Raises
        ------
        InputError
            The pipe cannot be pressed to that thickness, the strain is beyond the law's range, or
            the section does not fit into the curl.
        """
        if not abs(strain) <= MAX_STRAIN:
            allowed = f"between {-100.0 * MAX_STRAIN:g} and {100.0 * MAX_STRAIN:g} %"
            raise InputError("strain", f"{100.0 * strain:g} %", allowed)
        outline = pressed(pipe, thickness)
        outline = outline.turned() if edge_on else outline
        title = f"bent to {100.0 * strain:g} % at the surface"
        natural = 0.0
        if radius is not None:
            if not radius > outline.fibre:
                allowed = f"above {1e3 * outline.fibre:.6g} mm, half the thickness in the bend"
                raise InputError("radius", f"{1e3 * radius:g} mm", allowed)
            natural = 1.0 / radius
            way = "opened" if strain < 0.0 else "closed"
            title = f"curl {way} to {100.0 * abs(strain):g} % at the surface"
        return cls.solved(
            title, outline, pipe, material, strain / outline.fibre, natural_curvature=natural
        )

    @classmethod
    def from_walk(cls, walk: Walk, s: float, side: Side | None = None) -> SectionState:
        """Show the section at a station, m from the bow's centre, at the last draw of a walk.

        Of None, it is that of the upper limb; the bow's own pipe without its sleeves.

        Raises
        ------
        InputError
            The station is not between the bow's centre and the groove, or lies in the twist between
            flat and edge-on.
        """
        design, limb = walk.design, walk.limb(side)
        shape, end = design.shape(side), float(limb.s[-1])
        if not 0.0 <= s <= end:
            raise InputError("s", f"{s:.4g} m", f"between 0 and {end:.4g} m, the groove")
        share = float(shape.edge_on_share(s))
        if TURNED < share < 1.0 - TURNED:
            raise InputError("s", f"{s:.4g} m", "outside the twist from flat to edge-on")
        outline = pressed(design.pipe, float(shape.thickness_at(s)))
        outline = outline.turned() if share > 0.5 else outline

        def here(values: Array) -> float:
            return float(np.interp(s, limb.s, values[-1]))

        return cls.solved(
            f"{design.name}, {both_lengths(s)} from the centre{limb_text(side)}, at the last draw",
            outline,
            design.pipe,
            design.material,
            here(limb.curvature_change),
            here(limb.axial_force),
            float(shape.formed_curvature(s)),
        )

    @classmethod
    def worst(cls, walk: Walk, spots: Sequence[HotSpot]) -> SectionState | None:
        """Show the section worked hardest; None where it lies in the twist to an edge-on tip."""
        if not spots:
            return None
        with suppress(InputError):
            return cls.from_walk(walk, spots[0].s, spots[0].side)
        return None
