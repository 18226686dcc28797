"""Thousands of random bows, walked: see ``python -m benchmarks.survey --help``.

Two generators, each bow made from a seed and a number alone: `makers` makes them as makers do,
`wild` for the solver's sake.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable

from benchmarks.survey import makers, wild
from bowfem.design import Design

Maker = Callable[[int, int], Design]


def takes_wild(parser: argparse.ArgumentParser) -> None:
    """Let a command choose between the generators."""
    text = "bows for the solver's sake instead of those that makers make"
    parser.add_argument("--wild", action="store_true", help=text)


def maker(asked: argparse.Namespace) -> Maker:
    """Return the generator that was chosen: a function of seed and number."""
    return wild.bow if asked.wild else makers.bow
