"""Cases with an answer from outside the package: one file a case, each with one `CASE`."""

from __future__ import annotations

import ast
import importlib
import json
import math
import pkgutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.rod import Settings

Array = NDArray[np.float64]
#: For cases that compare reactions: those are of the state before Newton's last step.
TIGHT = Settings(tolerance=1e-13)
HERE = Path(__file__).parents[1]
#: Names that every case needs to say what it is about.
PLAIN = {"Rod", "Force", "Support", "Settings", "Spring", "clamp", "guide", "pin", "Path"}
#: Tables of references.json that were read, by case and name; a test counts those that were not.
READ: set[tuple[str, str]] = set()


@dataclass(frozen=True)
class Worst:
    """The value of a quantity that agrees least.

    Its error is over the larger of the expected value and the case's `Case.floor`: what is judged.
    """

    name: str
    expected: float
    computed: float
    error: float

    @property
    def of_value(self) -> float:
        """The same error over the expected value alone; infinite where that is zero."""
        apart = abs(self.computed - self.expected)
        return apart / abs(self.expected) if self.expected else (math.inf if apart else 0.0)


@dataclass(frozen=True)
class Case:
    """One textbook case.

    Parameters
    ----------
    title : str
        What is computed.
    source : str
        Publication with table or page, or the formula.
    kind : str
        Status of the expected values: "closed form" or "recomputed digits" (by elliptic integrals,
        shooting or quadrature, not by this package); printed digits known from memory say so.
    expected : mapping of str to array_like
        The outside answer, quantity by quantity.
    run : callable
        ``run(n_elements)`` computes the same quantities through the package's public names.
    tolerance : float
        Largest relative error allowed at `n_elements`.
    reason : str
        Why that much.
    n_elements : int
        Elements (of each member) the case is asserted with.
    floor : float
        Errors are relative to the larger of the expected value and this scale of the problem; zero
        where no expected value vanishes.
    coarse : int
        The order is measured from this number of elements to twice as many; zero: not smooth.
    order : float
        Least order expected.
    short : str
        Why the case is known to fall short of its tolerance; it is shown as such. Empty: it must
        not.
    """

    title: str
    source: str
    kind: str
    expected: Mapping[str, ArrayLike]
    run: Callable[[int], Mapping[str, ArrayLike]]
    tolerance: float
    reason: str
    n_elements: int = 8
    floor: float = 0.0
    coarse: int = 0
    order: float = 0.0
    short: str = ""

    def compare(self, computed: Mapping[str, ArrayLike]) -> list[Worst]:
        """Compare every quantity; return for each the value that agrees least."""
        if set(computed) != set(self.expected):
            raise ValueError(f"{self.title}: computed {sorted(computed)}")
        found = []
        for name, value in self.expected.items():
            e, c = np.atleast_1d(np.asarray(value)), np.atleast_1d(np.asarray(computed[name]))
            if e.shape != c.shape or e.size == 0:
                raise ValueError(f"{self.title}: {name} has shape {c.shape}, expected {e.shape}")
            error = np.abs(c - e) / np.maximum(np.abs(e), self.floor)
            error[~np.isfinite(error)] = np.inf
            i = np.unravel_index(np.argmax(error), e.shape)
            found.append(Worst(name, float(e[i]), float(c[i]), float(error[i])))
        return found

    def worst(self, computed: Mapping[str, ArrayLike]) -> Worst:
        """Return the quantity with the largest relative error."""
        return max(self.compare(computed), key=lambda w: w.error)

    def measured_order(self) -> float:
        """Order of the largest relative error from `coarse` to ``2 coarse`` elements."""
        coarse, fine = (self.worst(self.run(n)).error for n in (self.coarse, 2 * self.coarse))
        return float(np.log2(coarse / fine))


def load() -> dict[str, Case]:
    """Import every case file; return the cases by file name, in order."""
    names = sorted(m.name for m in pkgutil.iter_modules([str(Path(__file__).parent)]))
    return {name: importlib.import_module(f"{__name__}.{name}").CASE for name in names}


def runs(name: str) -> str:
    """Return what of the package a case's file uses: functions and classes, room by room."""
    rooms: dict[str, set[str]] = {}
    _used(Path(__file__).parent / f"{name}.py", rooms)
    return "; ".join(f"{room}: {', '.join(sorted(used))}" for room, used in rooms.items() if used)


def _used(file: Path, rooms: dict[str, set[str]]) -> None:
    """Gather what a file takes from the package, itself or by way of other files here."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.ImportFrom) or not node.module:
            continue
        first, *rest = node.module.split(".")
        if first == "bowfem" and rest:
            used = {each.name for each in node.names} - PLAIN
            rooms.setdefault(rest[0], set()).update(used)
        elif first == "benchmarks" and rest and rest != ["cases"]:
            other = HERE.joinpath(*rest).with_suffix(".py")
            if other.exists():
                _used(other, rooms)


def reference(number: str, table: str = "data") -> Any:
    """Return the values of a table of references.json, its numbers as floats.

    A case without tables (15) is returned whole.
    """
    for case in json.loads((HERE / "references.json").read_text()):
        if case["id"] == number:
            values = case["values"]
            if isinstance(values, dict):
                READ.add((number, table))
                values = values[table]
                values = values.get("value", values)
            return _floats(values)
    raise KeyError(number)


def sideways_table(name: str) -> Any:
    """Return a table of sideways.json, what happens out of a rod's plane, its numbers as floats."""
    return _floats(json.loads((HERE / "sideways.json").read_text())[name])


def shot_table(name: str) -> Any:
    """Return a table of shot.json, what moves in time, its numbers as floats."""
    return _floats(json.loads((HERE / "shot.json").read_text())[name])


def time_table(name: str) -> Any:
    """Return a table of time.json, what a plastic remembers, its numbers as floats."""
    return _floats(json.loads((HERE / "time.json").read_text())[name])


def columns(rows: list[dict[str, Any]]) -> dict[str, Array]:
    """Turn rows of numbers into arrays by name; columns that are not numbers are left out."""
    return {
        key: np.array([row[key] for row in rows])
        for key in rows[0]
        if all(isinstance(row[key], float) for row in rows)
    }


def pick(table: Mapping[str, Array], **names: str) -> dict[str, Array]:
    """Pick columns and name them anew: ``pick(table, x="x_L")``."""
    return {new: table[old] for new, old in names.items()}


def _floats(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _floats(v) for key, v in value.items()}
    if isinstance(value, list):
        return [_floats(v) for v in value]
    if isinstance(value, bool) or value is None:
        return value
    try:
        return float(value)
    except ValueError:
        return value
