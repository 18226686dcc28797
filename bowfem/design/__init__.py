"""What a maker writes in a design file, read and checked."""

from bowfem.faces import face

__getattr__, __dir__, __all__ = face(__name__, __file__)
