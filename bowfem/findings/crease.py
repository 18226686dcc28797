"""Creases: what the fade from the round handle adds to the strain where it runs into the flat."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bowfem.bow import Walk
from bowfem.design import Side
from bowfem.findings.line import DrawLength, Figure, Line, Place, Warned, side_figure
from bowfem.section import fade_factor


@dataclass(frozen=True)
class Crease:
    """The strain where the fade runs into the flat, on the face where it is nearest to yield.

    Parameters
    ----------
    s : float
        End of the fade, m along the pipe from the bow's centre.
    draw : float
        Nock point to pivot, m: the last one walked.
    face : str
        "belly" (facing the archer) or "back".
    strain : float
        With the factor, tension positive.
    factor : float
        Over that of the section by itself.
    spread : float
        Largest error of the factor against solid models, as a share.
    yield_share : float
        Strain over the yield strain of its sign.
    side : Side or None
        Which limb; None where both are alike.
    """

    s: float
    draw: float
    face: str
    strain: float
    factor: float
    spread: float
    yield_share: float
    side: Side | None = None

    @classmethod
    def from_walk(cls, walk: Walk) -> Crease:
        """Find the worse face of the worse limb at the last draw."""
        tension, compression = walk.design.material.yield_strains()
        found = []
        for side, limb in walk.distinct_limbs:
            fade = walk.design.shape(side).fade
            factor = fade_factor(
                walk.design.pipe,
                fade.thickness,
                fade.length,
                rounded=fade.rounded,
                bump=fade.bump,
            )
            for face, values, by in (
                ("belly", limb.strain_belly[-1], factor.belly),
                ("back", limb.strain_back[-1], factor.back),
            ):
                strain = by * float(np.interp(fade.stop, limb.s, values))
                share = strain / tension if strain >= 0.0 else -strain / compression
                draw = float(walk.draw[-1])
                found.append(cls(fade.stop, draw, face, strain, by, factor.spread, share, side))
        return max(found, key=lambda each: each.yield_share)


def crease_line(walk: Walk, found: Crease) -> Line:
    """Say how far the limb is strained at the end of the fade."""
    words = (
        "where the fade runs into the flat, {crease_s}, the {crease_face} strains by "
        "{crease_strain:.2}, {crease_yield_share:.0} of yield: {crease_factor:.2f} times its "
        "section alone (+-{crease_spread:.0})"
    )
    figures = (
        Place("crease_s", found.s, side=found.side),
        Figure("crease_face", found.face),
        Figure("crease_strain", found.strain, "share"),
        Figure("crease_yield_share", found.yield_share, "share"),
        Figure("crease_factor", found.factor),
        Figure("crease_spread", found.spread, "share"),
        DrawLength.of(walk, found.draw, "crease_draw"),
        side_figure(found.side, "crease_limb"),
    )
    return Line("crease", words, figures, 107)


def crease_warning(walk: Walk, found: Crease) -> list[Warned]:
    """Warn of a crease: strain past yield at the end of the fade."""
    if found.yield_share < 1.0:
        return []
    words = (
        "A crease is likely {crease_s}, where the fade runs into the flat: the {crease_face} "
        "strains there by {crease_yield_share:.0} of yield. `bowfem levers` walks other ways to "
        "make the fade (handle.fade, handle.fade_shape, handle.bump)."
    )
    return [Warned(words, crease_line(walk, found).figures)]
