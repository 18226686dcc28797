"""What is read off a walk: hot spots, string, lengths, tuning."""

from bowfem.faces import face

__getattr__, __dir__, __all__ = face(__name__, __file__)
