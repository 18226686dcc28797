"""Bows of pipe: what the maker means, and what comes of it."""

from bowfem.bow.design import Design
from bowfem.bow.design_limb import Bend, Limb, Mark, Overlay, Sleeve, Tip
from bowfem.bow.design_parts import (
    BowString,
    Draw,
    Handle,
    Limits,
    MaterialChoice,
    Nock,
    PipeChoice,
    Point,
)
from bowfem.bow.design_shape import LimbShape
from bowfem.bow.findings import HotSpot
from bowfem.bow.limb import LimbModel
from bowfem.bow.limb_states import LimbStates
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
    "LimbShape",
    "LimbStates",
    "Limits",
    "Mark",
    "MaterialChoice",
    "Nock",
    "Overlay",
    "PipeChoice",
    "Point",
    "Sleeve",
    "Tip",
    "Walk",
    "WalkStop",
    "walk",
]
