from bowfem import (
    bow as bow,
    design as design,
    findings as findings,
    orders as orders,
    rod as rod,
    section as section,
    show as show,
)
from bowfem.bow import Walk as Walk, walk as walk
from bowfem.design import Design as Design
from bowfem.errors import (
    BowfemError as BowfemError,
    ConvergenceError as ConvergenceError,
    DesignError as DesignError,
    Fault as Fault,
    InputError as InputError,
)
from bowfem.section import Pipe as Pipe

__version__: str
