"""Planar large-deflection rods, what holds and loads them, a taut string that may lie on them."""

from bowfem.faces import face

__getattr__, __dir__, __all__ = face(__name__, __file__)
