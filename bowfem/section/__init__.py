"""Sections of pressed pipe: outline, material, response to bending, stress in the wall."""

from bowfem.faces import face

__getattr__, __dir__, __all__ = face(__name__, __file__)
