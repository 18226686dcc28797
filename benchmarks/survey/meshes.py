"""What the mesh leaves unknown: the walk's own word, against a mesh eight times as fine.

    python -m benchmarks.survey.meshes [--bows N] [--seed N] [--wild] [--workers 2]

A bow whose weight is off by more than 1e-5 and more than it says, or whose walk ends otherwise
without saying so, is listed. Draws of the finer walk are three times as close.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from benchmarks.survey import Maker, maker, takes_wild
from bowfem.bow import Ending, Walk, walk
from bowfem.bow.walking import STATE
from bowfem.design import Design
from bowfem.errors import BowfemError

FINER, GOAL = 8, 1e-5


@dataclass(frozen=True)
class Compared:
    """What a bow's walks came to: how, what is wrong with it or "", shares off, times as long."""

    how: str
    wrong: str
    before: float
    after: float
    slower: float


def told(design: Design, **how: float | None) -> Walk | str:
    """Walk a bow, or say why it cannot be braced."""
    try:
        return walk(design, **how)  # type: ignore[arg-type]
    except BowfemError as error:
        return getattr(getattr(error, "ending", None), "key", type(error).__name__)


def ending(found: Walk | str) -> str:
    """Say in a word how a bow ended."""
    return found if isinstance(found, str) else found.ending.key


def compared(make: Maker, seed: int, number: int) -> Compared:
    """Walk a bow on its default mesh, on that which fits, and on a finer one."""
    design, spent = make(seed, number), []
    found: list[Walk | str] = []
    told(design, accuracy=None)  # sections are kept from then on
    for how in ({"accuracy": None}, {}, {"refine": FINER, "step": STATE / 3.0}):
        begun = time.process_time()
        found.append(told(design, **how))
        spent.append(time.process_time() - begun)
    plain, own, fine = found
    slower, off = spent[1] / spent[0], np.nan
    error = None if isinstance(own, str) else own.mesh_error
    if ending(own) != ending(fine):
        says = error is not None and (error.verdict is not None or np.isnan(error.force))
        wrong = f"bow {number}: {ending(own)}, on the finer mesh {ending(fine)}"
        how = "ends otherwise, and says so" if says else "ends otherwise"
        return Compared(how, "" if says else wrong, off, off, slower)
    if isinstance(own, str) or isinstance(fine, str) or own.ending is not Ending.COMPLETE:
        return Compared("refused or given way alike", "", off, off, slower)
    assert error is not None
    after = abs(float(own.force[-1] / fine.force[-1]) - 1.0)
    if not isinstance(plain, str):
        off = abs(float(plain.force[-1] / fine.force[-1]) - 1.0)
    wrong = ""
    if after > max(GOAL, error.weight):
        wrong = f"bow {number}: weight off by {after:.1e}, told {error.weight:.1e}"
    return Compared("drawn in full", wrong, off, after, slower)


def main(argv: list[str] | None = None) -> int:
    """Compare, count and print; 1 where a walk is wrong without saying so."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--bows", type=int, default=200, help="random bows (200)")
    parser.add_argument("--seed", type=int, default=555, help="another seed, other bows (555)")
    parser.add_argument("--workers", type=int, choices=(1, 2), default=1, help="processes")
    takes_wild(parser)
    given = parser.parse_args(argv)
    one = partial(compared, maker(given), given.seed)
    if given.workers == 1:
        found = [one(number) for number in range(given.bows)]
    else:
        with ProcessPoolExecutor(given.workers) as pool:
            found = list(pool.map(one, range(given.bows), chunksize=8))
    print(f"{given.bows} bows of seed {given.seed}, against {FINER} times the default mesh")
    for name, many in Counter(each.how for each in found).most_common():
        print(f"{many:6d}  {name}")
    for name in ("before", "after"):
        errors = np.array([getattr(each, name) for each in found])
        half, most, worst = np.quantile(errors[~np.isnan(errors)], [0.5, 0.9, 1.0])
        mesh = "default mesh" if name == "before" else "fitted mesh"
        print(f"{mesh}: weight off by {half:.1e} in half, 90 %: {most:.1e}, at most {worst:.1e}")
    times = np.median([each.slower for each in found])
    print(f"walk takes {times:.2f} times as long in the median")
    wrong = [each.wrong for each in found if each.wrong]
    for text in wrong:
        print(text)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
