"""From an order to a bow and back: sizing, levers, studies, learning from a finished bow."""

from bowfem.faces import face

__getattr__, __dir__, __all__ = face(__name__, __file__)
