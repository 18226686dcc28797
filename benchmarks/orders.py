"""Orders answered: ``python -m benchmarks.orders [--orders N] [--infeasible N] [--starts N]``.

Feasible orders are made so: dimensions of an example drawn over wide ranges until its walk keeps
all limits, its weight taken as the order, the dimensions hidden; the search starts from another
drawing. Counted is how many are met within 0.2 % with every limit kept; each miss is listed.
Orders out of reach ask such a bow for two to four times as much; the answer is held against the
best of many random starts.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from bowfem.bow import Ending, walk
from bowfem.design import Design
from bowfem.errors import BowfemError
from bowfem.orders.freedom import Freedom
from bowfem.orders.margins import USUAL, Judged, figures
from bowfem.orders.sizing import _Search, size
from bowfem.orders.unknowns import sections_between

FOLDER = Path(__file__).parents[1] / "examples/designs"
Free = dict[str, tuple[float, float]]


def _ranges(design: Design, rng: np.random.Generator) -> Free:
    """Return ranges for the thicknesses, and by chance for cut length, a mark, brace and set."""
    pipe, free = design.pipe, {}
    for number, mark in enumerate(design.limb.marks, 1):
        if mark.thickness != "round":
            key = f"limb.marks.{number}.thickness"
            free[key] = 2.02 * pipe.wall, 0.95 * pipe.outer_diameter
    cut, last = design.pipe_choice.cut_length, len(design.limb.marks)
    may = {
        "pipe.cut_length": (0.9 * cut, 1.2 * cut),
        f"limb.marks.{last}.at": (0.3 * cut, 0.48 * cut),
        "string.brace_height": (0.13, 0.19),
        "handle.set": (-0.1, 0.1),
    }
    return free | {key: bounds for key, bounds in may.items() if rng.random() < 0.4}


def _drawn(freedom: Freedom, rng: np.random.Generator) -> np.ndarray:
    u = rng.random(freedom.span.size)
    return freedom.nearest(freedom.low + u * freedom.span)


def order(number: int, seed: int = 0) -> tuple[Design, float, Free]:
    """Return a design to begin with, a weight that can be met, N, and what is free."""
    rng = np.random.default_rng([seed, number])
    name = ("wagtail", "curlew", "dunlin")[number % 3]
    design = Design.from_file(FOLDER / f"{name}.toml")
    free = _ranges(design, rng)
    freedom = Freedom(design, free)
    truth = None
    while truth is None:
        try:
            found = walk(freedom.made(_drawn(freedom, rng)))
        except BowfemError:
            continue
        if found.ending is Ending.COMPLETE:
            now = Judged.of(figures(found, 1.0), found.design, USUAL)
            truth = found if now.kept else None
    while True:
        try:
            return freedom.made(_drawn(freedom, rng)), float(truth.force[-1]), free
        except BowfemError:
            continue


def feasible(count: int, seed: int = 0) -> tuple[int, list[str], list[float]]:
    """Return how many orders are met within 0.2 %, the misses, and the times, s."""
    met, missed, times = 0, [], []
    for number in range(count):
        design, weight, free = order(number, seed)
        begin = time.perf_counter()
        try:
            found = size(design, weight, free)
        except BowfemError as error:
            missed.append(f"{number}: {design.name}, {weight:.1f} N, {sorted(free)}: {error}")
            continue
        times.append(time.perf_counter() - begin)
        off = float(found.walk.force[-1]) / weight - 1.0
        if abs(off) <= 2e-3 and found.kept:
            met += 1
        else:
            text = f"{number}: {design.name}, {weight:.1f} N, {sorted(free)}: {100 * off:+.2f} %"
            missed.append(f"{text}, limits {'kept' if found.kept else 'broken'}: {found.binding}")
    return met, missed, times


def infeasible(count: int, starts: int, seed: int = 1) -> Iterator[float]:
    """Give by how much each answer's weight falls short of the best of random starts, a share."""
    for number in range(count):
        design, weight, free = order(number, seed)
        rng = np.random.default_rng([seed, 7, number])
        weight *= float(rng.uniform(2.0, 4.0))
        try:
            found = size(design, weight, free)
        except BowfemError:
            yield 1.0
            continue
        freedom = Freedom(design, free)
        search = _Search(freedom, weight, USUAL, sections_between(design))
        best = float(found.walk.force[-1]) / weight
        for _ in range(starts):
            try:
                other = search.descend(search.at(_drawn(freedom, rng))).now
            except BowfemError:
                continue
            if other.kept or not found.kept:
                best = max(best, min(float(other.values[0]), 1.0))
        yield best / (float(found.walk.force[-1]) / weight) - 1.0


def main(words: Sequence[str] | None = None) -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.orders", description=__doc__)
    parser.add_argument("--orders", type=int, default=300, help="feasible ones (default 300)")
    parser.add_argument("--infeasible", type=int, default=100, help="others (default 100)")
    parser.add_argument("--starts", type=int, default=50, help="random starts of these")
    args = parser.parse_args(words)
    met, missed, times = feasible(args.orders)
    print(f"{met} of {args.orders} orders met within 0.2 % with all limits kept")
    if times:
        half, late = np.quantile(times, [0.5, 0.95])
        print(f"time an order, s: median {half:.2f}, 95 % below {late:.2f}, most {max(times):.2f}")
    print(*missed, sep="\n", flush=True)
    found = []
    for number, each in enumerate(infeasible(args.infeasible, args.starts)):
        found.append(each)
        if each > 0.01:
            print(f"{number}: {100.0 * each:.1f} % short")
        print(f"{number + 1} of {args.infeasible}", end="\r", file=sys.stderr, flush=True)
    short = np.array(found)
    print(
        f"{np.sum(short <= 0.01)} of {short.size} orders out of reach answered within 1 % of the "
        f"best of {args.starts} random starts; worst {100 * short.max(initial=0.0):.1f} % short"
    )


if __name__ == "__main__":
    main()
