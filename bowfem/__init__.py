"""Simulate limbs of archery bows formed from heated, flattened plastic pipe.

A public name is imported from its home when it is first used, so that ``import bowfem`` stays
light: no numpy, no compiled code.

Examples
--------
>>> from bowfem import Pipe
>>> round(Pipe.from_size("3/4 in Sch 40").outer_diameter, 5)
0.02667
"""

from bowfem.faces import face

__version__ = "0.1.0"

__getattr__, __dir__, __all__ = face(__name__, __file__)
