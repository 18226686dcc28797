"""Errors of the package: each says which value is wrong and what would be accepted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any


class BowfemError(Exception):
    """Base of every error the package raises on purpose."""


@dataclass(frozen=True)
class Fault:
    """One wrong value: where it is, what it is, what would be accepted.

    Parameters
    ----------
    key : str
        Name of the value, dotted in a design file (``limb.mark[2].thickness``).
    value : str
        The value as the user wrote it.
    allowed : str
        What is accepted, worded to follow "must be".

    Examples
    --------
    >>> print(Fault("pipe.wall", "40 in", "between 0.02 in and 0.5 in"))
    pipe.wall = 40 in: must be between 0.02 in and 0.5 in
    """

    key: str
    value: str
    allowed: str

    def __str__(self) -> str:
        """Return the fault as one line."""
        return f"{self.key} = {self.value}: must be {self.allowed}"


class InputError(BowfemError, ValueError):
    """One argument or value is outside what is accepted.

    Parameters
    ----------
    key : str
        Name of the argument or key.
    value : object
        The value given; its string is shown.
    allowed : str
        What is accepted, worded to follow "must be".

    Examples
    --------
    >>> InputError("wall", -1.0, "above 0").fault
    Fault(key='wall', value='-1.0', allowed='above 0')
    >>> print(InputError("wall", -1.0, "above 0"))
    wall = -1.0: must be above 0
    """

    def __init__(self, key: str, value: object, allowed: str) -> None:
        self.fault = Fault(key, str(value), allowed)
        super().__init__(str(self.fault))

    @property
    def key(self) -> str:
        """Name of the wrong argument or key."""
        return self.fault.key

    @property
    def value(self) -> str:
        """The wrong value, as text."""
        return self.fault.value

    @property
    def allowed(self) -> str:
        """What is accepted, worded to follow "must be"."""
        return self.fault.allowed

    def __reduce__(self) -> tuple[Any, ...]:
        """Rebuild from the three arguments, so that the error can be sent to another process."""
        return type(self), (self.key, self.value, self.allowed)


class DesignError(BowfemError, ValueError):
    """A design is wrong; all its faults are listed at once.

    Parameters
    ----------
    source : str
        File name, or another word for where the design came from.
    faults : iterable of Fault
        Everything that is wrong, in reading order.

    Examples
    --------
    >>> fault = Fault("bow.cut_length", "48", "a length such as '48 in'")
    >>> print(DesignError("swift.toml", [fault]))
    swift.toml: 1 fault
      bow.cut_length = 48: must be a length such as '48 in'
    """

    def __init__(self, source: str, faults: Iterable[Fault]) -> None:
        self.source = source
        self.faults = tuple(faults)
        count = f"{len(self.faults)} fault{'' if len(self.faults) == 1 else 's'}"
        super().__init__("\n  ".join([f"{source}: {count}", *map(str, self.faults)]))

    def __reduce__(self) -> tuple[Any, ...]:
        """Rebuild from source and faults, so that the error can be sent to another process."""
        return type(self), (self.source, self.faults)


class ConvergenceError(BowfemError, RuntimeError):
    """A solver stopped without an answer.

    Parameters
    ----------
    message : str
        What was solved, why it stopped and what to try next.
    status : object
        The solver's own record of how it stopped (reason, counters, residual history).

    Examples
    --------
    >>> ConvergenceError("ring: no convergence; use more elements", status="diverged").status
    'diverged'
    """

    def __init__(self, message: str, status: object = None) -> None:
        self.status = status
        super().__init__(message)

    def __reduce__(self) -> tuple[Any, ...]:
        """Rebuild from message and status, so that the error can be sent to another process."""
        return type(self), (self.args[0], self.status)
