"""Tabulate the cases, ``python -m benchmarks [words]``, or timings, ``python -m benchmarks speed``.

Words pick the cases whose file name contains one of them.
"""

from __future__ import annotations

import sys
import time

from benchmarks.cases import Case, load

HEAD = ("case", "source", "kind", "quantity", "expected", "computed", "rel. error", "order",
        "elements", "time ms")  # fmt: skip


def line(name: str, case: Case) -> tuple[str, ...]:
    """Run a case; return its row of the table. The second of two runs is timed."""
    case.run(case.n_elements)
    begin = time.perf_counter()
    computed = case.run(case.n_elements)
    spent = time.perf_counter() - begin
    worst = case.worst(computed)
    order = f"{case.measured_order():.1f}" if case.coarse else "-"
    return (
        f"{name}: {case.title}", case.source, case.kind, worst.name, f"{worst.expected:.10g}",
        f"{worst.computed:.10g}", f"{worst.error:.1e}", order, str(case.n_elements),
        f"{spent * 1e3:.1f}",
    )  # fmt: skip


def main(words: list[str]) -> int:
    """Print a table; return how many cases miss their tolerance or order."""
    if words == ["speed"]:
        from benchmarks.speed import rod_speed

        rod_speed.main()
        return 0
    cases = {k: c for k, c in load().items() if not words or any(w in k for w in words)}
    print("| " + " | ".join(HEAD) + " |")
    print("|" + "---|" * len(HEAD))
    missed = 0
    for name, case in cases.items():
        row = line(name, case)
        print("| " + " | ".join(row) + " |", flush=True)
        bad = float(row[6]) > case.tolerance or (case.coarse > 0 and float(row[7]) < case.order)
        missed += bad
    print(f"\n{len(cases)} cases, {missed} outside their tolerance or below their order")
    return missed


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]) > 0)
