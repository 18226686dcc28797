"""What shots cost: one, one with its error, a sweep of arrows; beside bare static solutions."""

from __future__ import annotations

import sys
from typing import Any

from benchmarks.speed.clock import Timing, bare_iterations, kernel_only, medians
from bowfem.bow import Walk, arrow_speed, shoot
from bowfem.bow.moving_bow import STEP
from bowfem.bow.shot import AFTER
from bowfem.rod import Motion

#: The module; the package's name `motion` is its own.
moving: Any = sys.modules["bowfem.rod.motion"]

ARROW, ARROWS = 0.025, 10


def shots(walk: Walk, runs: int) -> tuple[list[Timing], Motion]:
    """Time an arrow, its kernel, as many bare iterations, one with its error and after, a sweep."""
    assert walk.solved is not None
    bow, states = walk.solved
    motion, alone = shoot(walk, ARROW).motion, shoot(walk, ARROW, after=0.0).motion
    count = alone.iterations * len(alone.nodes)  # each of every limb
    times = medians(
        runs,
        lambda: arrow_speed(walk, ARROW, step=STEP),
        kernel_only(lambda: arrow_speed(walk, ARROW, step=STEP), moving, "move"),
        bare_iterations(states.limbs[0], bow.models[0].string, count),
        lambda: shoot(walk, ARROW, after=AFTER),
        lambda: [shoot(walk, ARROW + 1e-3 * i, after=0.0) for i in range(ARROWS)],
    )
    return times, motion
