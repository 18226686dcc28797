"""How cost grows: with elements, draws and designs, as slopes of log time over log size."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import count
from typing import NamedTuple

import numpy as np

from benchmarks.cases import c14_reference_walk as case
from benchmarks.speed.clock import medians
from benchmarks.speed.cold import DESIGN
from bowfem import Design, Pipe, walk
from bowfem.orders.sizing import size
from bowfem.orders.studies import study
from bowfem.orders.tolerances import Plan, usual_spreads
from bowfem.rod import clamp, pull
from bowfem.section import SectionFamily

ELEMENTS, DRAWS, DESIGNS = (8, 16, 32, 64, 128), (10, 20, 40, 80, 160), (1, 2, 4, 8)
ORDER, MANY = 155.7, 50
BOW, PIPE = Design.from_file(DESIGN), Pipe.from_size("3/4 in Sch 40")
_fresh = count(1)


class Job(NamedTuple):
    """Something a user waits for: what, how to do it once, and a remark."""

    what: str
    run: Callable[[], object]
    remark: str


def new_table() -> object:
    """Solve a section table never asked for: the pipe's wall differs in its ninth digit."""
    wall = PIPE.wall * (1.0 + 1e-9 * next(_fresh))
    return SectionFamily.from_pipe(Pipe(PIPE.outer_diameter, wall))


def some_bows() -> object:
    """Make bows with the usual spreads, in one process."""
    return study(Plan(BOW, usual_spreads(BOW), MANY), workers=1)


#: What a user waits for, once the process runs.
JOBS = [
    Job("section table of a pipe", new_table, "solved once a pipe and process, then kept"),
    Job("walk of an example", lambda: walk(BOW), "its section table is kept"),
    Job("sizing to an order", lambda: size(BOW, ORDER), "two thicknesses for 35 lbf"),
    Job(f"study of {MANY} bows", some_bows, "one worker; 10 000: benchmarks.speed.many"),
]


def draws(number: int) -> object:
    """Draw the limb of case 14 from brace to full draw in so many steps."""
    rod, string = case.limb("D0", 8)
    places = case.WALKS["D0"].nock
    begin = (float(places[0, 0]), float(places[0, 1]), case.STRING)
    y = np.linspace(places[10, 1], places[-1, 1], number + 1)
    nock = np.concatenate([places[1:11], np.column_stack([np.zeros(number), y[1:]])])
    return pull(rod, [clamp(0)], string, nock, case.STRING, begin=begin)


def designs(number: int) -> object:
    """Walk so many bows of one pipe that differ in the thickness of a mark."""
    found = []
    for k in range(number):
        mark = BOW.limb.marks[-1].thickness
        found.append(
            walk(
                BOW.with_value(
                    f"limb.marks.{len(BOW.limb.marks)}.thickness", float(mark) * (1.0 + 1e-3 * k)
                )
            )
        )
    return found


def slope(sizes: Sequence[int], times: Sequence[float]) -> float:
    """Slope of log time over log size."""
    return float(np.polyfit(np.log(sizes), np.log(times), 1)[0])


def growths(runs: int) -> list[tuple[str, tuple[int, ...], list[float]]]:
    """Time each kind of growth; return its name, sizes and median times, s."""
    kinds: dict[str, tuple[tuple[int, ...], Callable[[int], object]]] = {
        "elements of the reference walk": (ELEMENTS, lambda n: case.draw("D0", n)),
        "draws of the reference limb": (DRAWS, draws),
        "designs of one pipe": (DESIGNS, designs),
    }
    return [
        (name, sizes, medians(runs, *(lambda n=n, run=run: run(n) for n in sizes)))
        for name, (sizes, run) in kinds.items()
    ]
