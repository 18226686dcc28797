"""Trials of learning: ``python -m benchmarks.learning [--trials N] [--wrong N]``.

A bow is invented, held by the real solver, measured with invented errors; what is learned must
hold the truth. Every other bow has its last mark within 1 mm of pressed shut. Counted is how often
the weight lies in its 95 % band. Then files with a wrong unit or a wrong draw: how many are
refused, with the slip named, and how many pass with a misfit beyond what chance allows.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from bowfem.bow import Families
from bowfem.design import Design
from bowfem.errors import BowfemError
from bowfem.orders.calibration import draws_of, learn, predicted
from bowfem.orders.measured import Measurement
from bowfem.orders.slopes import SolvedBow
from bowfem.orders.unknowns import changed, prior, sections_about

DESIGN = Path(__file__).parents[1] / "examples/designs/wagtail.toml"
#: 95 % point of chi-squared with three degrees of freedom (any table).
JOINT = 7.815
#: N in a pound, m in an inch.
POUND, INCH = 4.4482216, 0.0254


def asked(design: Design) -> list[Measurement]:
    """Return what is measured on each bow; values are put in later."""
    full = design.pivot_draw
    return [
        *(Measurement("weight", 1.0, 2.0, draw=share * full) for share in (1.0, 0.7)),
        Measurement("string", 1.0, 2e-3),
        Measurement("along", 1.0, 3e-3),
        Measurement("sag", 1e-3, 0.1e-3, span=0.5, load=30.0),
    ]


def _design(number: int, rng: np.random.Generator) -> Design:
    """Return the bow as meant: every other one with its last mark all but shut."""
    design = Design.from_file(DESIGN)
    if number % 2 == 0:
        return design
    shut = 2.0 * design.pipe.wall
    return design.with_value("limb.marks.2.thickness", shut + 1e-3 * rng.random())


def invented(
    number: int, families: Families, seed: int = 0
) -> tuple[Design, np.ndarray, SolvedBow, list[Measurement]]:
    """Invent a bow and measure it: the design, the truth, the bow held, what was read."""
    rng = np.random.default_rng([seed, number])
    design = _design(number, rng)
    wanted = asked(design)
    while True:
        truth = np.clip(rng.normal(size=3), -2.5, 2.5) * prior(design)[:3]
        try:
            bow = changed(design, truth)
            held = SolvedBow.from_design(bow, draws=draws_of(design, wanted), families=families)
        except BowfemError:
            continue
        exact = predicted(held.walk, wanted, families)
        measured = [
            replace(each, value=float(value + each.error * rng.normal()))
            for each, value in zip(wanted, exact, strict=True)
        ]
        return design, truth, held, measured


def trials(count: int, seed: int = 0) -> tuple[int, int, int]:
    """Return in how many trials truth and weight lie within the 95 % band, and how many refused."""
    families, joint, weight, refused = sections_about(Design.from_file(DESIGN)), 0, 0, 0
    for number in range(count):
        design, truth, held, measured = invented(number, families, seed)
        found = learn(design, measured, families=families)
        off = truth - found.estimate
        joint += bool(off @ np.linalg.solve(found.covariance, off) <= JOINT)
        weight += bool(abs(found.weight - held.walk.force[-1]) <= 1.96 * found.weight_error)
        refused += not found.plausible
    return joint, weight, refused


def spoilt(measured: list[Measurement], way: int) -> list[Measurement]:
    """Return measurements with one slip: a wrong unit of all weights or of a length, or a draw."""
    one, two, string, along, sag = measured
    match way % 5:
        case 0:  # newtons written as pounds
            weights = [replace(each, value=each.value * POUND) for each in (one, two)]
        case 1:  # pounds written as newtons
            weights = [replace(each, value=each.value / POUND) for each in (one, two)]
        case 2:  # drawn 4 in less than written
            weights = [one, replace(two, draw=two.draw + 4 * INCH)]
        case 3:  # inches written as centimetres
            return [one, two, replace(string, value=string.value * 2.54), along, sag]
        case _:  # the weight on the offcut in pounds, written as newtons
            return [one, two, string, along, replace(sag, value=sag.value * POUND)]
    return [*weights, string, along, sag]


def wrong(count: int, seed: int = 1) -> tuple[int, int, int]:
    """Return how many spoilt files are refused, named rightly, and pass beyond chance."""
    families, refused, named, silent = sections_about(Design.from_file(DESIGN)), 0, 0, 0
    words = (
        "newtons, written as pounds",
        "pounds, written as newtons",
        "",
        "centim",
        "",
    )
    for number in range(count):
        design, _, _, measured = invented(number, families, seed)
        try:
            found = learn(design, spoilt(measured, number), families=families)
        except BowfemError:
            refused += 1
            continue
        refused += not found.plausible
        slips = " ".join(each.slip for each in found.suspects)
        named += bool(found.suspects) and words[number % 5] in slips
        silent += found.plausible and found.chance < 0.01
    return refused, named, silent


def main(words: Sequence[str] | None = None) -> None:
    """Print the counts."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.learning", description=__doc__)
    parser.add_argument("--trials", type=int, default=300, help="how many (default 300)")
    parser.add_argument("--wrong", type=int, default=100, help="wrong files (default 100)")
    args = parser.parse_args(words)
    joint, weight, refused = trials(args.trials)
    print(
        f"{joint} of {args.trials} hold the truth, {weight} the weight, in the stated 95 % band; "
        f"{refused} refused, {0.001 * args.trials:.1f} expected by chance"
    )
    refused, named, silent = wrong(args.wrong)
    print(
        f"{refused} of {args.wrong} wrong files refused, {named} with the slip named; {silent} "
        "accepted with a misfit that chance leaves less than once in a hundred"
    )


if __name__ == "__main__":
    main()
