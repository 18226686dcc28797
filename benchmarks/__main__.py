"""Tabulate the textbook cases: ``python -m benchmarks [words]``.

Words pick the cases whose file name contains one of them, and show every quantity of these, not
only the one that agrees least.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence

from benchmarks.cases import Case, load

RESULTS = ("case", "quantity", "bowfem", "source", "rel. error", "allowed", "order", "at least",
           "elements", "ms", "verdict")  # fmt: skip
SOURCES = ("case", "what", "source", "its status", "why the error allowed")


def show(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Print a table that reads in a terminal and in Markdown."""
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]

    def line(row: Sequence[str]) -> str:
        return "| " + " | ".join(c.ljust(w) for c, w in zip(row, widths, strict=True)) + " |"

    print(line(head))
    print("|" + "|".join("-" * (w + 2) for w in widths) + "|")
    for row in rows:
        print(line(row))


def results(name: str, case: Case, *, every: bool) -> tuple[list[tuple[str, ...]], bool]:
    """Run a case; return its rows and whether it passed. The second of two runs is timed."""
    case.run(case.n_elements)
    begin = time.perf_counter()
    computed = case.run(case.n_elements)
    spent = time.perf_counter() - begin
    found = sorted(case.compare(computed), key=lambda w: -w.error)
    order = case.measured_order() if case.coarse else float("inf")
    passed = found[0].error <= case.tolerance and order >= case.order
    rows = []
    for worst in found if every else found[:1]:
        fine = worst.error <= case.tolerance and order >= case.order
        rows.append((
            name, worst.name, f"{worst.computed:.10g}", f"{worst.expected:.10g}",
            f"{worst.error:.1e}", f"{case.tolerance:.0e}", f"{order:.1f}" if case.coarse else "-",
            f"{case.order:.1f}" if case.coarse else "-", str(case.n_elements),
            f"{spent * 1e3:.1f}", "pass" if fine else "MISS",
        ))  # fmt: skip
    return rows, passed


def main(words: Sequence[str]) -> int:
    """Print both tables; return how many cases miss their tolerance or order."""
    cases = {k: c for k, c in load().items() if not words or any(w in k for w in words)}
    rows, passed = [], 0
    for name, case in cases.items():
        more, good = results(name, case, every=bool(words))
        rows += more
        passed += good
    print("Each case's quantity that agrees least with its source" if not words else "Quantities")
    show(RESULTS, rows)
    print("\nWhere the expected values come from")
    show(SOURCES, [(k, c.title, c.source, c.kind, c.reason) for k, c in cases.items()])
    missed = len(cases) - passed
    print(f"\n{len(cases)} cases, {missed} outside their tolerance or below their order")
    return missed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]) > 0)
