"""Run the solid model, or show what is stored of it, beside the project's own sections.

    python -m benchmarks.solid [WORD ...]           what is stored
    python -m benchmarks.solid --run [WORD ...]     run it again, and show that
    python -m benchmarks.solid --store [WORD ...]   run it again, and store that

Words pick the cases whose names hold all of them.
"""

from __future__ import annotations

import argparse
import sys
import time

from benchmarks.solid import fades, torsion
from benchmarks.solid.cases import CASES, YIELDING, own_peak, peak, peaks_seen, run
from benchmarks.solid.ccx import FailedError, NotInstalledError, version
from benchmarks.solid.stored import store, stored


def show_slice(case, found) -> None:
    """Print one slice, solid and own."""
    print(f"\n{case.name}{' (held back)' if case.held_back else ''}")
    print("  strain %   M solid    own   off %   edge MPa    own   off %   Mises    own   off %")
    for row in found["rows"]:
        own = case.moment(row["strain"])
        hoop, mises = case.edge(row["strain"], row["depth"])
        cells = [f"{100 * row['strain']:10.2f}"]
        for solid, mine in ((row["moment"], own), (row["hoop"], hoop), (row["mises"], mises)):
            cells.append(f"{solid:9.3f} {mine:8.3f} {100 * (mine / solid - 1):6.1f}")
        print(" ".join(cells))
    if case.law == YIELDING and peaks_seen(case):
        (top, at), (own, where) = peak(found["rows"]), own_peak(case)
        print(f"  peak {top:.2f} N m at {100 * at:.2f} %, own {own:.2f} at {100 * where:.2f} %")


def main() -> int:
    """Run the command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("words", nargs="*")
    parser.add_argument("--run", action="store_true")
    parser.add_argument("--store", action="store_true")
    args = parser.parse_args()
    begin, again = time.perf_counter(), args.run or args.store
    try:
        about = {"program": version()} if again else {}
        for case in CASES:
            if not all(word in case.name for word in args.words):
                continue
            found = run(case) if again else stored()["slices"].get(case.name)
            if found is None:
                print(f"\n{case.name}: not stored")
                continue
            show_slice(case, found)
            if args.store:
                store("slices", {case.name: found}, about)
        torsion.show(args.words, again, args.store, about)
        fades.show(args.words, again, args.store, about)
    except (NotInstalledError, FailedError) as error:
        print(error, file=sys.stderr)
        return 3
    print(f"\n{time.perf_counter() - begin:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main())
