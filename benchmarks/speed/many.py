"""Time a study of many bows: ``python -m benchmarks.speed.many [--bows N] [--workers N]``.

The spreads are the usual ones, so pipe, plastic and every dimension vary. The first study of a
computer compiles; what is timed is the second one in the process, sections solved anew.
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from pathlib import Path

from benchmarks.__main__ import show
from bowfem.design import Design
from bowfem.orders.studies import study
from bowfem.orders.tolerances import Plan, usual_spreads
from bowfem.section.family import forget

DESIGNS = Path(__file__).parents[2] / "examples/designs"
HEAD = ("design", "bows", "failed", "s", "ms a bow and worker", "error of the weight")


def main(words: Sequence[str] | None = None) -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.speed.many", description=__doc__)
    parser.add_argument("--bows", type=int, default=10_000, help="bows (default 10 000)")
    parser.add_argument("--workers", type=int, default=os.cpu_count(), help="processes")
    parser.add_argument("--design", action="append", help="example designs (default wagtail)")
    asked = parser.parse_args(words)
    rows = []
    for name in asked.design or ["wagtail"]:
        design = Design.from_file(DESIGNS / f"{name}.toml")
        spreads = usual_spreads(design)
        study(Plan(design, spreads, 1, seed=1), workers=1)
        forget()
        begin = time.perf_counter()
        found = study(Plan(design, spreads, asked.bows), workers=asked.workers)
        spent = time.perf_counter() - begin
        rows.append(
            (
                name,
                str(asked.bows),
                str(int((~found.solved).sum())),
                f"{spent:.1f}",
                f"{1e3 * spent * asked.workers / asked.bows:.1f}",
                f"{found.error:.1e}",
            )
        )
    show(HEAD, rows)


if __name__ == "__main__":
    main()
