"""The band about a predicted weight: what the plastic, the wall and the jig may do to it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from bowfem.design import Design
from bowfem.orders.levers import LENGTH
from bowfem.orders.slopes import SHARE, Lever, sensitivities
from bowfem.section import PIPES

#: Tensile moduli of rigid PVC in six sources, Pa, least and most, about the 2.90 GPa used (S).
MODULI, MODULUS = (2.5e9, 3.7e9), 2.9e9
#: Build tolerance of the thickness at the marks, m: 1/32 in (C, no source).
THICKNESS = 0.79375e-3


@dataclass(frozen=True)
class Cause:
    """One cause: its name, and the change of weight at either end of its spread, N."""

    name: str
    low: float
    high: float


@dataclass(frozen=True)
class WeightBand:
    """Hold a predicted weight and its band.

    Parameters
    ----------
    weight, low, high : float
        N, at full draw.
    causes : tuple of Cause
        What the band is made of.
    """

    weight: float
    low: float
    high: float
    causes: tuple[Cause, ...]

    @classmethod
    def from_design(cls, design: Design) -> WeightBand:
        """Estimate the band of a bow at the design's brace height and draw.

        Raises
        ------
        ConvergenceError
            The bow cannot be braced or drawn.

        Notes
        -----
        First order: slopes of the weight by each cause, times its spread; causes add as the root of
        the sum of squares, downward and upward. Stiffness scales all stresses alike. A material or
        a wall given in the design is taken as measured, without spread.
        """
        choice, pipe = design.material_choice, design.pipe
        factor = choice.stiffness or 1.0
        levers = [
            Lever(
                "stiffness",
                SHARE,
                lambda one, more: one.with_value("material.stiffness", factor + more),
            )
        ]
        levers.append(Lever("marks", LENGTH, thicker))
        wall = {"pipe.outer_diameter": pipe.outer_diameter}
        if design.pipe_choice.size is not None:
            levers.append(
                Lever(
                    "wall",
                    LENGTH,
                    lambda one, more: one.with_values({**wall, "pipe.wall": pipe.wall + more}),
                )
            )
        values, slopes = sensitivities(design, levers, lambda found: np.array([found.force[-1]]))
        weight, causes = float(values[0]), []
        if choice.law is None and choice.stiffness is None:
            by_log = float(slopes[0, 0]) * factor
            low, high = (by_log * float(np.log(modulus / MODULUS)) for modulus in MODULI)
            text = f"stiffness of the plastic, {MODULI[0] / 1e9:g} to {MODULI[1] / 1e9:g} GPa"
            causes.append(Cause(text, low, high))
        marks = abs(float(slopes[0, 1])) * THICKNESS
        causes.append(Cause("thickness at the marks, 1/32 in (0.8 mm) either way", -marks, marks))
        if design.pipe_choice.size is not None:
            least, most = next(row.wall_range for row in PIPES if row.name == pipe.name)
            slope = float(slopes[0, 2])
            text = f"wall of this size, {1e3 * least:.2f} to {1e3 * most:.2f} mm"
            causes.append(Cause(text, slope * (least - pipe.wall), slope * (most - pipe.wall)))
        down = float(np.sqrt(sum(min(each.low, 0.0) ** 2 for each in causes)))
        up = float(np.sqrt(sum(max(each.high, 0.0) ** 2 for each in causes)))
        return cls(weight, weight - down, weight + up, tuple(causes))


def thicker(design: Design, amount: float) -> Design:
    """Press every mark that is not round less, on both limbs."""
    changed = {}
    for side in design.written_sides:
        limb = design.shape(side).limb
        marks = tuple(
            mark if mark.thickness == "round" else replace(mark, thickness=mark.thickness + amount)
            for mark in limb.marks
        )
        changed[side.table] = replace(limb, marks=marks)
    return replace(design, **changed)
