"""Walk random bows and count how each ends: ``python -m benchmarks.survey --number 300``.

Every bow is made from the seed and its own number alone, so that one can be walked again:
``--only 57``. A bow that cannot be braced or that gives way in the draw is a result; a walk that
ends without a physical reason is a failure, listed with its number.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from benchmarks.__main__ import show
from benchmarks.survey import Maker, maker, takes_wild
from benchmarks.survey.outcome import SOLVED, Outcome, Tally, walked

#: Seconds between lines of progress.
TELL = 2.0


def outcomes(make: Maker, seed: int, numbers: Sequence[int], workers: int) -> Iterator[Outcome]:
    """Walk the bows of these numbers, in order."""
    one = partial(walked, make, seed)
    if workers == 1:
        yield from map(one, numbers)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(one, numbers, chunksize=8)


def followed(found: Iterator[Outcome], total: int) -> Iterator[Outcome]:
    """Return how far a survey is and how long it will take, on a terminal."""
    begin = told = time.monotonic()
    for count, outcome in enumerate(found, 1):
        yield outcome
        now = time.monotonic()
        if sys.stderr.isatty() and (now - told > TELL or count == total):
            told = now
            left = (now - begin) / count * (total - count)
            print(
                f"\r{count} of {total}, {left / 60:.1f} min left ",
                end="" if count < total else "\n",
                file=sys.stderr,
                flush=True,
            )


def tell(tally: Tally, seed: int) -> None:
    """Print the tables."""
    show(("bows", "%", "how the walk ends", "kind"), tally.rows())
    median, slowest = tally.median, tally.slowest
    print(
        f"\n{tally.total} bows of seed {seed}: {tally.share(SOLVED):.1f} % walked to full draw, "
        f"{len(tally.failed)} failed to converge. Median {median * 1e3:.0f} ms, slowest "
        f"{slowest.seconds:.2f} s (bow {slowest.number})."
    )
    for failure in tally.failed:
        print(f"failed: --seed {seed} --only {failure.number}: {failure.message}")


def main(words: Sequence[str] = ()) -> int:
    """Walk and tabulate; return how many bows failed to converge."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.survey", description=__doc__)
    parser.add_argument("--number", type=int, default=300, help="bows to walk (default 300)")
    parser.add_argument("--first", type=int, default=0, help="number of the first (default 0)")
    parser.add_argument("--seed", type=int, default=0, help="another survey (default 0)")
    parser.add_argument("--only", type=int, metavar="K", help="walk bow K alone, show its design")
    parser.add_argument("--workers", type=int, choices=(1, 2), default=1, help="processes")
    takes_wild(parser)
    asked = parser.parse_args(words)
    make = maker(asked)
    if asked.number < 1 or asked.first < 0 or asked.seed < 0:
        parser.error("--number must be at least 1, --first and --seed at least 0")
    if asked.only is not None:
        if asked.only < 0:
            parser.error("--only must be at least 0")
        outcome = walked(make, asked.seed, asked.only)
        print(make(asked.seed, asked.only).to_toml())
        print(f"{outcome.kind}: {outcome.reason} ({outcome.seconds:.2f} s)")
        if outcome.message:
            print(outcome.message)
        return int(outcome.is_failure)
    numbers = range(asked.first, asked.first + asked.number)
    tally = Tally(tuple(followed(outcomes(make, asked.seed, numbers, asked.workers), asked.number)))
    tell(tally, asked.seed)
    return len(tally.failed)


if __name__ == "__main__":
    sys.exit(min(main(sys.argv[1:]), 1))
