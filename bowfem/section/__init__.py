"""Sections of heated, flattened plastic pipe: sizes, material, outline, response, stress."""

from bowfem.section.family import SectionFamily, blend
from bowfem.section.law import PROVENANCE, Figure, Law, temperature_factor
from bowfem.section.material import RIGID_PVC, Linear, RambergOsgood, Saturating, Tabulated
from bowfem.section.outline import Outline, circle, ellipse, onset_thickness, pressed, racetrack
from bowfem.section.pipe import PIPES, Pipe, PipeSize
from bowfem.section.response import (
    BendingCurve,
    SectionResponse,
    moment_curvature,
    section_response,
)
from bowfem.section.stress import FibreStress, fibre_stress

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
    "RambergOsgood",
    "Saturating",
    "SectionFamily",
    "SectionResponse",
    "Tabulated",
    "blend",
    "circle",
    "ellipse",
    "fibre_stress",
    "moment_curvature",
    "onset_thickness",
    "pressed",
    "racetrack",
    "section_response",
    "temperature_factor",
]
