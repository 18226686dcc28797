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
from bowfem.bow.findings import HotSpot
from bowfem.bow.limb import LimbModel
from bowfem.bow.walk import Walk, WalkStop, walk

__all__ = [
    "Bend",
    "BowString",
    "Design",
    "Draw",
    "Handle",
    "HotSpot",
    "Limb",
    "LimbModel",
    "Mark",
    "MaterialChoice",
    "Nock",
    "PipeChoice",
    "Point",
    "Tip",
    "Walk",
    "WalkStop",
    "walk",
]
