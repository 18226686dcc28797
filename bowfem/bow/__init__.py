"""Bows of pipe: what the maker means, and what comes of it."""

from bowfem.bow.design import Design
from bowfem.bow.design_parts import (
    Bend,
    BowString,
    Draw,
    Handle,
    Limb,
    Mark,
    MaterialChoice,
    Nock,
    PipeChoice,
    Point,
    Tip,
)

__all__ = [
    "Bend",
    "BowString",
    "Design",
    "Draw",
    "Handle",
    "Limb",
    "Mark",
    "MaterialChoice",
    "Nock",
    "PipeChoice",
    "Point",
    "Tip",
]
