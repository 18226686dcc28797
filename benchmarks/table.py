"""Run cases and lay out what came of them: as text, as JSON, as rows of README."""

from __future__ import annotations

import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from benchmarks.cases import Case, Worst, runs

HEAD = (
    "case",
    "quantity",
    "bowfem",
    "source",
    "error judged",
    "of the value",
    "allowed",
    "order",
    "at least",
    "elements",
    "ms",
    "verdict",
)
SOURCES = ("case", "what", "source", "its status", "why the error allowed")
BRIEF = (
    "case",
    "what",
    "quantity",
    "source",
    "bowfem",
    "error judged",
    "of the value",
    "order",
    "elements",
    "verdict",
    "runs",
)


def show(head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print a table that reads in a terminal and in Markdown."""
    print("\n".join(lines(head, rows)))


def lines(head: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Lay out a table, line by line."""
    table = [head, *rows]
    widths = [max(len(row[i]) for row in table) for i in range(len(head))]

    def line(row: Sequence[str]) -> str:
        return "| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |"

    rule = "|" + "|".join("-" * (w + 2) for w in widths) + "|"
    return [line(table[0]), rule, *map(line, table[1:])]


@dataclass(frozen=True)
class Result:
    """What came of a case.

    Parameters
    ----------
    name : str
        File of the case.
    case : Case
        The case.
    found : tuple of Worst
        The value of each quantity that agrees least, the worst first.
    order : float or None
        Order of convergence measured; none where the case is not smooth.
    seconds : float
        Time of the second of two runs.
    """

    name: str
    case: Case
    found: tuple[Worst, ...]
    order: float | None
    seconds: float

    @property
    def worst(self) -> Worst:
        """The value that agrees least."""
        return self.found[0]

    @property
    def agrees(self) -> bool:
        """Whether error and order are what the case asks for."""
        converges = self.order is None or self.order >= self.case.order
        return self.worst.error <= self.case.tolerance and converges

    @property
    def verdict(self) -> str:
        """Return "pass", "MISS", or "short" for what is known to fall short."""
        if self.case.short:
            return "MISS" if self.agrees else "short"  # known no more: say so
        return "pass" if self.agrees else "MISS"

    def rows(self, *, every: bool) -> list[tuple[str, ...]]:
        """Lay out every quantity, or the one that agrees least."""
        case = self.case
        order = ("-", "-") if self.order is None else (f"{self.order:.1f}", f"{case.order:.1f}")
        return [
            (
                self.name,
                w.name,
                f"{w.computed:.10g}",
                f"{w.expected:.10g}",
                f"{w.error:.1e}",
                f"{w.of_value:.1e}",
                f"{case.tolerance:.0e}",
                *order,
                str(case.n_elements),
                f"{self.seconds * 1e3:.1f}",
                self.verdict if w is self.worst or w.error > case.tolerance else "pass",
            )
            for w in (self.found if every else self.found[:1])
        ]

    @property
    def source_row(self) -> tuple[str, ...]:
        """Where the expected values come from."""
        case = self.case
        why = f"falls short: {case.short}" if case.short else case.reason
        return self.name, case.title, case.source, case.kind, why

    @property
    def brief(self) -> tuple[str, ...]:
        """Row for README: no times, and no more digits than computers agree on."""
        w = self.worst
        order = "-" if self.order is None else f"{self.order:.1f}"
        return (
            self.name.partition("_")[0][1:],
            self.case.title,
            w.name,
            f"{w.expected:.7g}",
            f"{w.computed:.7g}",
            f"{w.error:.0e}",
            f"{w.of_value:.0e}",
            order,
            str(self.case.n_elements),
            self.verdict,
            runs(self.name),
        )

    @property
    def record(self) -> dict[str, Any]:
        """All of it for JSON."""
        case = self.case
        return {
            "case": self.name,
            "title": case.title,
            "source": case.source,
            "kind": case.kind,
            "tolerance": case.tolerance,
            "reason": case.reason,
            "short": case.short,
            "elements": case.n_elements,
            "order": self.order,
            "least order": case.order,
            "milliseconds": 1e3 * self.seconds,
            "verdict": self.verdict,
            "runs": runs(self.name),
            "quantities": [
                {
                    "quantity": w.name,
                    "expected": w.expected,
                    "computed": w.computed,
                    "error judged": w.error,
                    "error of the value": w.of_value,
                }
                for w in self.found
            ],
        }


def measured(name: str, case: Case, *, timed: bool = True) -> Result:
    """Run a case; the second of two runs is timed. One that raises is infinitely wrong."""
    spent, order = 0.0, float("nan") if case.coarse else None
    try:
        computed = case.run(case.n_elements)
        if timed:
            begin = time.perf_counter()
            computed = case.run(case.n_elements)
            spent = time.perf_counter() - begin
        found = sorted(case.compare(computed), key=lambda w: -w.error)
        if case.coarse:
            order = case.measured_order()
    except Exception as error:  # of any kind: the table goes on, and shows it
        nothing = float("nan")
        found = [Worst(f"{type(error).__name__}: {error}", nothing, nothing, float("inf"))]
    return Result(name, case, tuple(found), order, spent)
