"""Sections of heated, flattened plastic pipe: sizes, material, outline, response, stress."""

from bowfem.section.family import SectionFamily, blend
from bowfem.section.law import PROVENANCE, Figure, Law, temperature_factor
from bowfem.section.material import RIGID_PVC, Linear, RambergOsgood, Saturating, Tabulated
from bowfem.section.outline import Outline, circle, ellipse, onset_thickness, pressed, racetrack
from bowfem.section.ovalising import ovalising_response
from bowfem.section.pipe import PIPES, Pipe, PipeSize
from bowfem.section.pressing import Pressing, press
from bowfem.section.response import (
    BendingCurve,
    SectionResponse,
    moment_curvature,
    section_response,
)
from bowfem.section.stress import (
    FibreStress,
    WallStress,
    fibre_stress,
    residual_curvature,
    wall_stress,
)

__all__ = [
    "PIPES",
    "PROVENANCE",
    "RIGID_PVC",
    "BendingCurve",
    "FibreStress",
    "Figure",
    "Law",
    "Linear",
    "Outline",
    "Pipe",
    "PipeSize",
    "Pressing",
    "RambergOsgood",
    "Saturating",
    "SectionFamily",
    "SectionResponse",
    "Tabulated",
    "WallStress",
    "blend",
    "circle",
    "ellipse",
    "fibre_stress",
    "moment_curvature",
    "onset_thickness",
    "ovalising_response",
    "press",
    "pressed",
    "racetrack",
    "residual_curvature",
    "section_response",
    "temperature_factor",
    "wall_stress",
]
