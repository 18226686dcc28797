"""String follow: the bending a limb keeps after full draw, and what that does to the bow."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.bracing import Bracing
from bowfem.bow.limb import LimbModel
from bowfem.bow.walk import Walk
from bowfem.errors import ConvergenceError
from bowfem.rod import Settings, clamp, pull
from bowfem.section import residual_curvature

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StringFollow:
    """Hold an estimate of the bow after it was drawn fully for the first time.

    Attributes
    ----------
    tip : float
        How far the unstrung groove has come toward the archer, m.
    residual : ndarray, shape (m,)
        Curvature that stays at the walk's stations, without the two ends, 1/m.
    tension : float
        String tension at the old brace height, N; the string is twisted shorter for it.
    weight : float
        Weight at the same draw from the same brace height, N.

    Notes
    -----
    Elastic unloading, see `residual_curvature`. Part of a plastic's set creeps back in hours, so
    this is a bow just unstrung; a bow kept strung or drawn long takes more.
    """

    tip: float
    residual: Array
    tension: float
    weight: float

    @classmethod
    def after(cls, walk: Walk) -> StringFollow | None:
        """Estimate the string follow after the last state of a walk.

        Returns
        -------
        StringFollow or None
            None when the bow cannot be braced and drawn again as before.
        """
        model = LimbModel.from_design(walk.design)
        rod = model.rod
        residual = residual_curvature(model.sections, walk.curvature_change[-1, 1:-1])
        # until drawn as far again the limb is elastic
        taken = replace(model, rod=rod.reshaped(rod.curvature0 + residual.reshape(rod.EI.shape)))
        settings = Settings()
        bracing = Bracing(walk.design, taken, settings)
        try:
            braced = bracing.to_height(walk.brace_height)
            nock = [[0.0, float(walk.draw[-1]) + walk.design.pivot_distance]]
            drawn = pull(
                taken.rod, [clamp(0)], taken.string, nock, braced.string_length[-1],
                begin=(0.0, 0.0, 0.0), start=braced, settings=settings,
            )  # fmt: skip
        except ConvergenceError:
            return None
        tip = float(taken.rod.position0[-1, 1] - rod.position0[-1, 1])
        return cls(tip, residual, float(braced.tension[-1]), 2.0 * float(drawn.pull[-1, 1]))
