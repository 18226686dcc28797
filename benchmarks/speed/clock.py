"""Median times, and the bare cost of the numerical work a walk consists of."""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from bowfem._kernels.assembly import assemble
from bowfem._kernels.compiled import entry
from bowfem._kernels.kinematics import kinematics
from bowfem._kernels.records import new_mesh, new_work, share_loads, share_model, share_string
from bowfem._kernels.solve import correct
from bowfem._kernels.state import load_state
from bowfem.rod import Path, Settings, TautString, clamp

#: The module; the package's name `follow` is its function.
solver: Any = sys.modules["bowfem.rod.engine"]

BAND = 7  # half bandwidth of the rod's equations, five a node


class Timing(float):
    """A median of wall times, s, with the least CPU time of the same runs, s."""

    cpu: float

    @classmethod
    def of(cls, wall: Sequence[float], cpu: Sequence[float]) -> Timing:
        """Take both from the times of some runs."""
        made = cls(statistics.median(wall))
        made.cpu = min(cpu)
        return made


def medians(runs: int, *whats: Callable[[], Any]) -> list[Timing]:
    """Time `runs` calls of each; one uncounted call first.

    In turns, so that a machine that slows down slows all of them: ratios stay what they are.
    """
    wall: list[list[float]] = [[] for _ in whats]
    cpu: list[list[float]] = [[] for _ in whats]
    for what in whats:
        what()
    for _ in range(runs):
        for i, what in enumerate(whats):
            begin, used = time.perf_counter(), time.process_time()
            what()
            cpu[i].append(time.process_time() - used)
            wall[i].append(time.perf_counter() - begin)
    return [Timing.of(*both) for both in zip(wall, cpu, strict=True)]


def kernel_only(
    what: Callable[[], Any], module: Any = solver, name: str = "walk"
) -> Callable[[], Any]:
    """Record the call of the compiled kernel that `what` makes; return that call alone."""
    kernel, calls = getattr(module, name), []

    def record(*args: Any) -> Any:
        calls.append(args)
        return kernel(*args)

    setattr(module, name, record)
    try:
        what()
    finally:
        setattr(module, name, kernel)
    (args,) = calls
    return lambda: kernel(*args)


@entry
def _bare(model_, loads_, string_, state, c, dc, ctrl, times):
    """Assemble and solve `times` times at one state; return the sum of all steps' entries."""
    model, loads, string = share_model(model_), share_loads(loads_), share_string(string_)
    mesh, work = new_mesh(model.h.shape[0]), new_work(model.reference)
    load_state(model, mesh, state)
    total, held = 0.0, times < 0  # of the very types that the solver's own call has
    for _ in range(times):
        kinematics(loads, mesh, c[0])
        m = assemble(model, loads, string, mesh, work, c, dc)
        correct(mesh, work, m, held, ctrl, c[0], c[0])
        for i in range(5 * mesh.active + 3):
            total += abs(work.rhs[i, 0])
    return total


def bare_iterations(path: Path, string: TautString, times: int, at: int = -1) -> Callable[[], Any]:
    """Return a call of so many assemblies and banded solutions at the end of a walk.

    No search for contact, no cut elements, no copies, no Python. `at` picks another state's nock.
    """
    engine = solver._Engine(path.rod, [clamp(0)], [], string, Settings())
    nock = (path.nock[at] - path.rod.origin) / path.rod.length
    c = np.array([1.0, *nock, path.string_length[at] / path.rod.length])
    dc = np.array([0.0, 0.0, 1.0, 0.0])
    model, loads, line, ctrl = engine.model, engine.loads, engine.string, engine.no_control
    return lambda: _bare(model, loads, line, path.raw[-1], c, dc, ctrl, times)


def banded_solves(n_elements: int, times: int) -> Callable[[], Any]:
    """Return a call of so many banded solutions of the rod's size by scipy's LAPACK."""
    from scipy.linalg.lapack import dgbsv  # pyright: ignore[reportAttributeAccessIssue]

    n = 5 * n_elements + 3
    rng = np.random.default_rng(1)
    band = rng.standard_normal((3 * BAND + 1, n))
    band[2 * BAND] += 20.0
    right = rng.standard_normal((n, 3))

    def run() -> None:
        for _ in range(times):
            dgbsv(BAND, BAND, band, right)

    return run
