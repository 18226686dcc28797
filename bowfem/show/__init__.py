"""What makes a walk and its findings visible: text, plots, pages, bodies. Nothing here solves."""

from bowfem.faces import face

__getattr__, __dir__, __all__ = face(__name__, __file__)
