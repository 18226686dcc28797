"""Simulate limbs of archery bows formed from heated, flattened plastic pipe.

A public name is imported from its home when it is first used, so that ``import bowfem`` stays
light: no numpy, no compiled code.

Examples
--------
>>> from bowfem import Pipe
>>> round(Pipe.from_size("3/4 in Sch 40").outer_diameter, 5)
0.02667
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:  # for type checkers; _HOMES says the same at run time, and a test compares them
    from bowfem.bow import Design, Walk, walk
    from bowfem.errors import BowfemError, ConvergenceError, DesignError, Fault, InputError
    from bowfem.section import Pipe

__version__ = "0.1.0"

__all__ = [
    "BowfemError",
    "ConvergenceError",
    "Design",
    "DesignError",
    "Fault",
    "InputError",
    "Pipe",
    "Walk",
    "walk",
]

_HOMES = {
    "BowfemError": "bowfem.errors",
    "ConvergenceError": "bowfem.errors",
    "Design": "bowfem.bow",
    "DesignError": "bowfem.errors",
    "Fault": "bowfem.errors",
    "InputError": "bowfem.errors",
    "Pipe": "bowfem.section",
    "Walk": "bowfem.bow",
    "walk": "bowfem.bow",
}


def __getattr__(name: str) -> Any:
    """Import a public name from its home (PEP 562) and keep it."""
    if name not in _HOMES:
        raise AttributeError(f"module 'bowfem' has no attribute {name!r}")
    value = getattr(import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List what there is, imported yet or not."""
    return sorted({*globals(), *__all__})
