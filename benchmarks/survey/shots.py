"""Shots of random bows: how many end without a speed, and why.

    python -m benchmarks.survey.shots [--bows N] [--seed N] [--wild]

Bows of the survey that are drawn in full shoot three arrows each: 5, 9 and 15 grains a pound. A
shot without a speed must have a physical reason: a limb that folds on the way.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter

import numpy as np

from benchmarks.survey import maker, takes_wild
from bowfem.bow import LIGHTEST_ARROW, USUAL_ARROW_MASS, Ending, Walk, shoot, walk
from bowfem.design import Design
from bowfem.errors import BowfemError, ConvergenceError
from bowfem.rod import Stop

ARROWS = (5.0, 9.0, 15.0)


def drawn(design: Design) -> Walk | None:
    """Draw a bow on the mesh of shots, as `bowfem shoot` does; None where it stops on the way."""
    try:
        if walk(design, accuracy=None).ending is Ending.COMPLETE:
            found = walk(design, refine=2)
            return found if found.ending is Ending.COMPLETE else None
    except BowfemError:
        pass
    return None


def main(argv: list[str] | None = None) -> int:
    """Shoot, count and print; 1 where a shot ended without a reason."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--bows", type=int, default=50, help="bows drawn in full (50)")
    parser.add_argument("--seed", type=int, default=2026, help="another seed, other bows (2026)")
    takes_wild(parser)
    given = parser.parse_args(argv)
    make = maker(given)
    ends: Counter[str] = Counter()
    drifts, number, shot = [], 0, 0
    lost = []
    while shot < given.bows:
        number += 1
        found = drawn(make(given.seed, number - 1))
        if found is None:
            continue
        shot += 1
        for grains in ARROWS:
            arrow = grains / 9.0 * USUAL_ARROW_MASS * float(found.force[-1])
            try:
                one = shoot(found, max(arrow, LIGHTEST_ARROW))
            except ConvergenceError as error:
                folds = "folds" in str(error)
                ends["a limb folds on the way" if folds else "no reason"] += 1
                lost += [] if folds else [(number - 1, grains, str(error))]
                continue
            after = one.after
            how = {
                Stop.COMPLETE: "followed to the end",
                Stop.LIMIT: "a limb folds after the arrow has left",
                Stop.NO_CONVERGENCE: "speed found, lost after the arrow has left",
            }
            ends[how[Stop.COMPLETE if after is None else after.stop]] += 1
            on = one.motion.time <= one.time
            total = (3 - len(one.motion.nodes)) * np.sum(one.motion.energy[on], axis=1)
            drifts.append(float(np.max(np.abs(total - total[0]))) / one.work)
    print(f"{shot} bows of {number} drawn in full, {len(ARROWS)} arrows each")
    for name, count in ends.most_common():
        print(f"{count:6d}  {name}")
    for each in lost:
        print("no reason: bow {}, {} grains a pound: {}".format(*each))
    half, most, worst = np.quantile(drifts, [0.5, 0.99, 1.0])
    print(f"energy kept to {half:.1e} of the work in half of them, 99 %: {most:.1e}, {worst:.1e}")
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
