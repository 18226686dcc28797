"""Trials of learning: ``python -m benchmarks.learning [--trials N]``.

A bow is invented, held by the real solver, measured with invented errors; what is learned must
hold the truth. Counted is how often all three numbers lie in the joint 95 % region of the estimate.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from bowfem.design import Design
from bowfem.errors import DesignError
from bowfem.orders.calibration import changed, draws_of, learn, predicted, prior, sections_about
from bowfem.orders.measured import Measurement
from bowfem.orders.slopes import SolvedBow

DESIGN = Path(__file__).parents[1] / "examples/designs/wagtail.toml"
#: 95 % point of chi-squared with three degrees of freedom (any table).
JOINT = 7.815


def asked(design: Design) -> list[Measurement]:
    """Return what is measured on each bow; values are put in later."""
    full = design.pivot_draw
    return [
        *(Measurement("weight", 1.0, 2.0, draw=share * full) for share in (1.0, 0.7)),
        Measurement("string", 1.0, 2e-3),
        Measurement("along", 1.0, 3e-3),
        Measurement("sag", 1e-3, 0.1e-3, span=0.5, load=30.0),
    ]


def _invented(design: Design, rng: np.random.Generator) -> tuple[np.ndarray, Design]:
    """Return a bow of what is known beforehand; one thinner than pressed shut cannot be made."""
    while True:
        truth = np.clip(rng.normal(size=3), -2.5, 2.5) * prior(design)
        try:
            return truth, changed(design, truth)
        except DesignError:
            continue


def trials(count: int, seed: int = 0) -> tuple[int, int]:
    """Return in how many trials the truth, and its weight, lies within the 95 % band."""
    design = Design.from_file(DESIGN)
    families, wanted, joint, weight = sections_about(design), asked(design), 0, 0
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        truth, bow = _invented(design, rng)
        held = SolvedBow.from_design(bow, draws=draws_of(design, wanted), families=families)
        exact = predicted(held.walk, wanted, families)
        measured = [
            replace(each, value=float(value + each.error * rng.normal()))
            for each, value in zip(wanted, exact, strict=True)
        ]
        found = learn(design, measured, families=families)
        off = truth - found.estimate
        joint += bool(off @ np.linalg.solve(found.covariance, off) <= JOINT)
        weight += bool(abs(found.weight - held.walk.force[-1]) <= 1.96 * found.weight_error)
    return joint, weight


def main(words: Sequence[str] | None = None) -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.learning", description=__doc__)
    parser.add_argument("--trials", type=int, default=200, help="how many (default 200)")
    count = parser.parse_args(words).trials
    joint, weight = trials(count)
    print(f"{joint} of {count} hold the truth, {weight} the weight, in the stated 95 % band")


if __name__ == "__main__":
    main()
