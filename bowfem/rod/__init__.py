"""Planar large-deflection rods, what holds and loads them, a taut string that may lie on them."""

from bowfem.rod.controlled import displace, trace
from bowfem.rod.engine import Settings, follow, pull
from bowfem.rod.loads import Force, LineLoad, Pressure, Spring, Support, clamp, guide, pin
from bowfem.rod.shape import MomentTable, Rod
from bowfem.rod.states import Path, Stop
from bowfem.rod.string import TautString, rest_length, taut_at_rest

__all__ = [
    "Force",
    "LineLoad",
    "MomentTable",
    "Path",
    "Pressure",
    "Rod",
    "Settings",
    "Spring",
    "Stop",
    "Support",
    "TautString",
    "clamp",
    "displace",
    "follow",
    "guide",
    "pin",
    "pull",
    "rest_length",
    "taut_at_rest",
    "trace",
]
