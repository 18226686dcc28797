"""String follow: the bending the limbs keep after full draw, and what that does to the bow."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Balance, Walk, brace
from bowfem.errors import ConvergenceError
from bowfem.findings.line import Figure, Line
from bowfem.rod import Settings
from bowfem.section import residual_curvature

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StringFollow:
    """Hold an estimate of the bow after it was drawn fully for the first time.

    Attributes
    ----------
    tips : tuple of float
        How far the unstrung grooves, upper and lower, have come toward the archer, m.
    residuals : tuple of ndarray, each of shape (m,)
        Curvature that stays at the limbs' stations, without their two ends, 1/m.
    tension : float
        String tension at the old brace height, N; the string is twisted shorter for it.
    weight : float
        Weight at the same draw from the same brace height, N.

    Notes
    -----
    Elastic unloading, see `residual_curvature`. Part of a plastic's set creeps back in hours, so
    this is a bow just unstrung; a bow kept strung or drawn long takes more.
    """

    tips: tuple[float, float]
    residuals: tuple[Array, Array]
    tension: float
    weight: float

    @classmethod
    def after(cls, walk: Walk) -> StringFollow | None:
        """Estimate the string follow after the last state of a walk.

        Returns
        -------
        StringFollow or None
            None when the bow cannot be braced and drawn again as before, or its states were not
            kept.
        """
        design, tips, residuals, taken = walk.design, [], [], []
        if walk.solved is None:
            return None
        for model, path in zip(walk.solved[0].models, walk.solved[1].limbs, strict=True):
            rod = model.rod
            residual = residual_curvature(model.sections, path.bending[-1].ravel())
            # until drawn as far again the limb is elastic
            bent = rod.reshaped(rod.curvature0 + residual.reshape(rod.EI.shape))
            tips.append(float(bent.position0[-1, 1] - rod.position0[-1, 1]))
            residuals.append(residual)
            taken.append(replace(model, rod=bent))
        bow = Balance(design, taken, Settings())
        try:
            braced = brace(bow, walk.brace_height)
            drawn, _ = bow.draw_to(braced, [float(walk.draw[-1])])
        except ConvergenceError:
            return None
        if drawn is None:
            return None
        weight = float(np.hypot(*bow.force(drawn)[-1]))
        tension = max(float(path.tension[-1]) for path in braced.limbs)
        return cls((tips[0], tips[-1]), (residuals[0], residuals[-1]), tension, weight)


def follow_line(found: StringFollow | None, alike: bool) -> Line:
    """Say what the first full draw takes out of the limbs."""
    if found is None:
        names = (
            ("string_follow", "length"),
            ("weight_after_first_draw", "force"),
            ("brace_tension_after_first_draw", "force"),
            ("string_follow_lower", "length"),
        )
        unknown = tuple(Figure(name, np.nan, kind) for name, kind in names)
        return Line("string follow", "unknown: the bow was not drawn fully", unknown, 110)
    tips = "{string_follow:2}"
    if not alike:
        tips += " (upper) and {string_follow_lower:2} (lower)"
    words = (
        f"tips come {tips} toward the archer at the first full draw, just after it; from the "
        "same brace height the bow then draws {weight_after_first_draw:3}, brace tension "
        "{brace_tension_after_first_draw:3}; much of it comes back overnight (`bowfem diary`)"
    )
    figures = (
        Figure("string_follow", found.tips[0], "length"),
        Figure("weight_after_first_draw", found.weight, "force"),
        Figure("brace_tension_after_first_draw", found.tension, "force"),
        Figure("string_follow_lower", found.tips[1], "length"),
    )
    return Line("string follow", words, figures, 110)
