"""The bow solved: limbs braced, drawn and followed to where they give way."""

from bowfem.faces import face

__getattr__, __dir__, __all__ = face(__name__, __file__)
