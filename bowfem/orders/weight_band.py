"""The band about a predicted weight: what the plastic, the wall and the jig may do to it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from bowfem.design import Design
from bowfem.orders.measured import ERRORS, SHARES
from bowfem.orders.slopes import SolvedBow, sensitivities
from bowfem.orders.unknowns import prior, sections_between, unknown_levers
from bowfem.section import PIPES

#: Half the width of the band in standard deviations: 95 % of a normal spread lies within.
SURE = 1.96


@dataclass(frozen=True)
class Cause:
    """One cause: its name, and the standard deviation of the weight that it makes, N."""

    name: str
    deviation: float


@dataclass(frozen=True)
class WeightBand:
    """Hold a predicted weight and the band that 95 of 100 bows made alike should lie in.

    Parameters
    ----------
    weight, low, high : float
        N, at full draw.
    causes : tuple of Cause
        What the band is made of.
    narrowed : tuple of float or None
        Least and greatest weight, N, once an offcut is hung and its wall measured, before anything
        is heated; None where pipe and plastic are known as well already.
    """

    weight: float
    low: float
    high: float
    causes: tuple[Cause, ...]
    narrowed: tuple[float, float] | None

    @classmethod
    def from_design(cls, design: Design) -> WeightBand:
        """Estimate the band of a bow at the design's brace height and draw.

        Raises
        ------
        ConvergenceError
            The bow cannot be braced or drawn.

        Notes
        -----
        First order: slopes of the weight by each cause, times its standard deviation; causes add as
        the root of the sum of squares. Stiffness scales all stresses alike. A material or a wall
        given in the design is taken as measured, without spread.
        """
        choice, pipe, before = design.material_choice, design.pipe, prior(design)
        solved = SolvedBow.from_design(
            design, not design.is_symmetric, families=sections_between(design)
        )
        values, slopes = sensitivities(
            design, unknown_levers(range(3)), lambda found: np.array([found.force[-1]]), solved
        )
        weight, (by_stiffness, by_wall, by_marks) = float(values[0]), np.abs(slopes[0]).tolist()
        causes, rest = [], []
        if not choice.is_tested:
            low, high = (modulus / 1e9 for modulus in choice.preset.stiffness_range)
            text = f"stiffness of the plastic, {low:g} to {high:g} GPa in print"
            causes.append(Cause(text, by_stiffness * float(before[0])))
            rest.append(by_stiffness * SHARES["hang"])
        text = "thickness at the marks, 1/32 in (0.8 mm) either way"
        causes.append(Cause(text, by_marks * float(before[2])))
        rest.append(causes[-1].deviation)
        if design.pipe_choice.size is not None:
            least, most = next(row.wall_range for row in PIPES if row.name == pipe.name)
            text = f"wall of this size, {1e3 * least:.2f} to {1e3 * most:.2f} mm"
            causes.append(Cause(text, by_wall * float(before[1])))
            rest.append(by_wall * ERRORS["wall"])
        half = SURE * math.hypot(*(cause.deviation for cause in causes))
        less, narrowed = SURE * math.hypot(*rest), None
        if len(causes) > 1:
            narrowed = weight - less, weight + less
        return cls(weight, weight - half, weight + half, tuple(causes), narrowed)
