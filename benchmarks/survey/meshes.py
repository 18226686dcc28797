"""What the mesh leaves unknown: the walk's own word, against a mesh eight times as fine.

    python -m benchmarks.survey.meshes [--bows N] [--seed N]

A bow whose weight is off by more than 1e-5 and more than it says, or whose walk ends otherwise
without saying so, is listed.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter

import numpy as np

from benchmarks.survey.bows import bow
from bowfem.bow import Ending, Walk, walk
from bowfem.design import Design
from bowfem.errors import BowfemError

FINER, GOAL = 8, 1e-5


def told(design: Design, **how: float | None) -> Walk | str:
    """Walk a bow, or say why it cannot be braced."""
    try:
        return walk(design, **how)  # type: ignore[arg-type]
    except BowfemError as error:
        return getattr(getattr(error, "ending", None), "key", type(error).__name__)


def ending(found: Walk | str) -> str:
    """Say in a word how a bow ended."""
    return found if isinstance(found, str) else found.ending.key


def main(argv: list[str] | None = None) -> int:
    """Compare, count and print; 1 where a walk is wrong without saying so."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--bows", type=int, default=200, help="random bows (200)")
    parser.add_argument("--seed", type=int, default=555, help="another seed, other bows (555)")
    given = parser.parse_args(argv)
    count: Counter[str] = Counter()
    before, after, slower, wrong = [], [], [], []
    for number in range(given.bows):
        design = bow(given.seed, number)
        spent = []
        found: list[Walk | str] = []
        told(design, accuracy=None)  # sections are kept from then on
        for how in ({"accuracy": None}, {}, {"refine": FINER}):
            begun = time.process_time()
            found.append(told(design, **how))
            spent.append(time.process_time() - begun)
        plain, own, fine = found
        slower.append(spent[1] / spent[0])
        error = None if isinstance(own, str) else own.mesh_error
        if ending(own) != ending(fine):
            says = error is not None and (error.verdict is not None or np.isnan(error.force))
            count["ends otherwise, and says so" if says else "ends otherwise"] += 1
            if not says:
                wrong.append(f"bow {number}: {ending(own)}, on the finer mesh {ending(fine)}")
            continue
        if isinstance(own, str) or isinstance(fine, str) or own.ending is not Ending.COMPLETE:
            count["refused or given way alike"] += 1
            continue
        count["drawn in full"] += 1
        assert error is not None
        off = abs(float(own.force[-1] / fine.force[-1]) - 1.0)
        after.append(off)
        if not isinstance(plain, str):
            before.append(abs(float(plain.force[-1] / fine.force[-1]) - 1.0))
        if off > max(GOAL, error.weight):
            wrong.append(f"bow {number}: weight off by {off:.1e}, told {error.weight:.1e}")
    print(f"{given.bows} bows of seed {given.seed}, against {FINER} times the default mesh")
    for name, many in count.most_common():
        print(f"{many:6d}  {name}")
    for name, errors in (("default mesh", before), ("fitted mesh", after)):
        half, most, worst = np.quantile(errors, [0.5, 0.9, 1.0])
        print(f"{name}: weight off by {half:.1e} in half, 90 %: {most:.1e}, at most {worst:.1e}")
    print(f"walk takes {np.median(slower):.2f} times as long in the median")
    for each in wrong:
        print(each)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
