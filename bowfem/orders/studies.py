"""Many bows made alike: what their weight and margins come to, and which cause counts most.

Each bow is found from the one in the middle, brace and full draw by a few iterations of Newton's
method, on sections interpolated between a few that are solved. One that is not found so is braced
and drawn from scratch, which also says why where it cannot be.
"""

from __future__ import annotations

import os
import pickle
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor, as_completed
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Families, Walk, arrow_speed
from bowfem.cards import card
from bowfem.errors import BowfemError, ConvergenceError, DesignError, InputError
from bowfem.findings import taken_at_brace
from bowfem.orders.kept_bows import KeptBows
from bowfem.orders.slopes import SolvedBow
from bowfem.orders.tolerances import Plan
from bowfem.processes import leave_with
from bowfem.section import FamilyRange, family_of

Array = NDArray[np.float64]
Progress = Callable[[int, int], None]

#: What is kept of each bow at full draw, and its dimension.
FIGURES = {
    "weight": "force",
    "energy": "energy",
    "yield_share": "share",
    "fold_share": "share",
    "sideways_share": "share",
    "clearance": "length",
    "string_length": "length",
    "brace_height": "length",
    "arrow_speed": "speed",
}
#: Bows in a batch at most, batches a study is cut into at least.
BATCH, BATCHES = 50, 40
#: Times that bows of a lost worker are tried.
TRIES = 3
#: Bows solved again from scratch to measure the error of interpolation.
AGAIN = 3


@dataclass(frozen=True, eq=False, repr=False)
class Study:
    """Hold the bows of a study, n of them.

    Attributes
    ----------
    plan : Plan
        What was made.
    values : ndarray, shape (n, d)
        What each bow has of what varies, SI units.
    figures : ndarray, shape (n, m)
        What it comes to, in the order of `FIGURES`, SI units; nan where it failed.
    reasons : tuple of str
        Why a bow failed; empty where it did not.
    middle : ndarray, shape (m,)
        Figures of the design itself; nan where it cannot be braced or drawn.
    error : float
        Largest difference of weight from bows made again from scratch, as a share.
    """

    plan: Plan
    values: Array
    figures: Array
    reasons: tuple[str, ...]
    middle: Array
    error: float

    @property
    def solved(self) -> NDArray[np.bool_]:
        """Which bows did not fail, shape (n,)."""
        return np.array([not reason for reason in self.reasons])

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        solved = f"{int(np.sum(self.solved))} of {len(self.reasons)} bows drawn"
        return f"Study({self.plan.design.name!r}, {solved})"

    def _repr_html_(self) -> str:
        """Return a table for notebooks."""
        rows: dict[str, object] = {"bows": len(self.reasons), "drawn": int(np.sum(self.solved))}
        if np.any(self.solved):
            weight = self.figure("weight")
            rows |= {"weight, N": f"{weight.mean():.4g} +- {weight.std():.2g}"}
        rows |= {"varied": ", ".join(self.plan.keys)}
        return card(f"Study of {self.plan.design.name}", rows)

    def figure(self, name: str) -> Array:
        """Return a figure of the bows that did not fail."""
        return self.figures[self.solved, list(FIGURES).index(name)]

    def share_within(self, low: float, high: float) -> float:
        """Return the share of all bows whose weight lies between two, N; a failure does not."""
        weight = self.figure("weight")
        return float(np.sum((weight >= low) & (weight <= high))) / len(self.reasons)

    def variance_shares(self, name: str = "weight") -> Array:
        """Return the share of a figure's variance that each cause explains, shape (d,).

        Notes
        -----
        Linear regression on ranks (Iman and Conover, Technometrics 21, 1979, M): each standardised
        coefficient times the cause's correlation with the figure. The causes vary by themselves,
        so that is the coefficient's square, but for the scatter of few bows; the sum is exactly the
        share explained (R2). The rest is bending of the ranks and play of causes with each other.
        With fewer bows than twice the causes it is nan.
        """
        y = self.figure(name)
        if y.size < 2 * len(self.plan.keys) + 2 or np.ptp(y) <= 1e-9 * np.max(np.abs(y)):
            return np.full(len(self.plan.keys), np.nan)
        ranks = [_ranks(column) for column in (*self.values[self.solved].T, y)]
        *causes, effect = [(one - one.mean()) / (one.std() or 1.0) for one in ranks]
        found = np.linalg.lstsq(np.stack(causes, axis=1), effect, rcond=None)[0]
        return found * np.array([float(np.mean(cause * effect)) for cause in causes])

    def columns(self) -> dict[str, NDArray[Any]]:
        """Return the bows as named columns, SI units: number, what varies, figures, reason."""
        return {
            "number": np.arange(len(self.reasons)),
            **dict(zip(self.plan.keys, self.values.T, strict=True)),
            **dict(zip(FIGURES, self.figures.T, strict=True)),
            "failure": np.array(self.reasons, dtype=np.str_),
        }


def _ranks(values: Array) -> Array:
    """Return ranks, of equal values their mean."""
    _, which, counts = np.unique(values, return_inverse=True, return_counts=True)
    return (np.cumsum(counts) - 0.5 * (counts - 1))[which]


def figures_of(found: Walk, arrow: float | None = None) -> Array:
    """Return what a study keeps of a bow at brace and full draw, in the order of `FIGURES`.

    The speed is that of an arrow of a mass, kg; not a number without one, or where it cannot be
    shot.
    """
    speed = np.nan
    if arrow is not None:
        with suppress(ConvergenceError):
            speed = arrow_speed(found, arrow)
    gaps = [
        np.min(limb.clearance[:, (limb.s >= shape.fade_end) & (limb.s <= 0.5 * limb.s[-1])])
        for limb, shape in zip(found.limbs, found.design.limbs, strict=True)
    ]
    folds = [np.max(limb.fold_share) for limb in found.limbs]
    return np.array(
        [
            found.force[-1],
            found.energy[-1],
            np.max(found.yield_share),
            max(folds),
            taken_at_brace(found),
            min(gaps),
            found.string_length,
            found.brace_height,
            speed,
        ]
    )


@dataclass(frozen=True, eq=False)
class _Centre:
    """What each worker needs: the plan, the bow in the middle if it can be, and the sections."""

    plan: Plan
    solved: SolvedBow | None
    families: Families

    def figures(self, index: int) -> tuple[Array, str]:
        """Make a bow; return its figures, or why it failed. Nothing is raised."""
        try:
            design = self.plan.made(self.plan.values(index))
            if self.solved is not None:
                try:
                    found = figures_of(
                        self.solved.neighbour(design, tight=False).walk, self.plan.arrow
                    )
                    if found[0] > 0.0:
                        return found, ""
                except (ConvergenceError, InputError):
                    pass  # from scratch, then
            solved = SolvedBow.from_design(design, not design.is_symmetric, families=self.families)
            return figures_of(solved.walk, self.plan.arrow), ""
        except DesignError as error:
            fault = error.faults[0]
            reason = f"not a valid design: {fault.key} = {fault.value}, allowed: {fault.allowed}"
        except BowfemError as error:
            reason = str(error).removeprefix(f"{self.plan.written.name}: ")
        except Exception as error:  # whatever it is, the other bows go on
            reason = f"unexpected {type(error).__name__}: {error}"
        return np.full(len(FIGURES), np.nan), reason


def _batch(packed: bytes, numbers: range) -> tuple[Array, list[str]]:
    """Make some bows; a function of the module, so that it can be sent to another process."""
    centre: _Centre = pickle.loads(packed)
    found = [centre.figures(index) for index in numbers]
    return np.stack([one for one, _ in found]), [reason for _, reason in found]


def study(
    plan: Plan,
    executor: Executor | None = None,
    *,
    workers: int | None = None,
    progress: Progress | None = None,
    keep: str | os.PathLike[str] | None = None,
) -> Study:
    """Make the bows of a plan.

    Parameters
    ----------
    plan : Plan
        What to make.
    executor : concurrent.futures.Executor, optional
        Where: a pool, ``Client.get_executor()`` of a Dask cluster, an MPI pool. It is left open.
    workers : int, optional
        Without an executor: processes of this computer, by default one a core; 1 stays in this
        process.
    progress : callable, optional
        Told after each batch: ``progress(done, total)``.
    keep : str or path, optional
        File that each batch is added to; those that the same study has left there are not made
        again, and the result is the same to the last bit.

    Returns
    -------
    Study
        All bows in the order of their numbers; the same for any number of workers.

    Raises
    ------
    InputError
        `workers` is below 1; `keep` is of another study, or cannot be written.
    """
    if workers is not None and workers < 1:
        raise InputError("workers", workers, "at least 1")
    values = np.stack([plan.values(index) for index in range(plan.size)])
    figures = np.full((plan.size, len(FIGURES)), np.nan)
    reasons, left, done = ["not made"] * plan.size, _batches(plan.size), 0

    def put(first: int, found: Array | float, why: Sequence[str]) -> None:
        nonlocal done
        figures[first : first + len(why)] = found
        reasons[first : first + len(why)] = why
        done += len(why)
        if progress is not None:
            progress(done, plan.size)

    kept = None if keep is None else KeptBows(keep, repr((plan, list(FIGURES))))
    for record in [] if kept is None else kept.records:
        batch = range(record[0], record[0] + len(record[2]))
        if batch in left:  # else it is there twice
            left.remove(batch)
            put(*record)
    with _pool(executor, workers, plan.size) as makers:
        centre = _centre(plan, makers.pool)
        for batch, found, why in _made(pickle.dumps(centre), left, makers):
            put(batch.start, found, why)
            if kept is not None and isinstance(found, np.ndarray):
                kept.add(batch.start, found, why)
    solved = centre.solved
    middle = np.full(len(FIGURES), np.nan)
    if solved is not None:
        middle = figures_of(solved.walk, plan.arrow)
    return Study(plan, values, figures, tuple(reasons), middle, _error(plan, figures))


def _batches(size: int) -> list[range]:
    length = max(1, min(BATCH, size // BATCHES))
    return [range(first, min(first + length, size)) for first in range(0, size, length)]


@contextmanager
def _pool(executor: Executor | None, workers: int | None, size: int) -> Iterator[_Makers]:
    """Give what makes batches; close its pool if that is our own."""
    workers = min(workers or os.cpu_count() or 1, len(_batches(size)))
    makers = _Makers(executor, 0 if executor is not None or workers == 1 else workers)
    try:
        yield makers
    except BaseException:
        makers.end(at_once=True)
        raise
    makers.end()


class _Makers:
    """A process, a pool of the caller's, or one of our own that is made anew when it breaks."""

    def __init__(self, given: Executor | None, workers: int) -> None:
        self.given, self.workers = given, workers
        self._own: ProcessPoolExecutor | None = None

    @property
    def pool(self) -> Executor | None:
        """The pool to use, None for this process alone."""
        if self.given is not None or not self.workers:
            return self.given
        if self._own is None:
            self._own = ProcessPoolExecutor(
                self.workers, initializer=leave_with, initargs=(os.getpid(),)
            )
        return self._own

    def broken(self) -> None:
        """Leave a pool of our own that has lost a worker."""
        if self._own is not None:
            self._own.shutdown(wait=False, cancel_futures=True)
            self._own = None

    def end(self, at_once: bool = False) -> None:
        """Close a pool of our own; at once without waiting for what is being made."""
        pool, self._own = self._own, None
        if pool is None:
            return
        working = list((getattr(pool, "_processes", None) or {}).values()) if at_once else []
        pool.shutdown(wait=not at_once, cancel_futures=True)
        for process in working:
            process.terminate()


def _made(
    packed: bytes, numbers: Sequence[range], makers: _Makers
) -> Iterator[tuple[range, Array | float, list[str]]]:
    """Yield batches as they are made; those of a worker that is lost are made again."""
    left, tries = list(numbers), dict.fromkeys(numbers, 0)
    while left:
        pool = makers.pool
        if pool is None:
            for batch in left:
                yield batch, *_batch(packed, batch)
            return
        again: list[range] = []
        try:
            waiting = {pool.submit(_batch, packed, batch): batch for batch in left}
        except BrokenExecutor:  # lost while it was idle
            makers.broken()
            continue
        for future in as_completed(waiting):
            batch = waiting[future]
            try:
                yield batch, *future.result()
            except Exception as error:
                tries[batch] += 1
                if tries[batch] < TRIES:
                    again.append(batch)
                    continue
                lost = f"its worker was lost {TRIES} times: {type(error).__name__}: {error}"
                yield batch, np.nan, [lost] * len(batch)
        if again:
            makers.broken()
        left = again


def _centre(plan: Plan, pool: Executor | None) -> _Centre:
    """Solve the sections and the bow in the middle."""
    design = plan.written
    families: Families = family_of
    try:  # where it does not work out, each bow tells of its own sections
        extremes, between = plan.extremes()
        if len(extremes) > 1:
            families = (
                FamilyRange.from_pairs(
                    [plan.pair(values) for values in extremes],
                    between=between,
                    turned=any(limb.limb.tip is not None for limb in design.limbs),
                    mapping=map if pool is None else pool.map,
                )
                or families
            )
    except (BowfemError, TypeError):  # of a table of test points, a row has no field of its own
        pass
    both = not (design.is_symmetric and _stays_symmetric(plan))
    try:
        return _Centre(plan, SolvedBow.from_design(design, both, families=families), families)
    except BowfemError:  # the bows about it may be braced and drawn all the same
        return _Centre(plan, None, families)


def _stays_symmetric(plan: Plan) -> bool:
    for index in range(min(plan.size, 3)):
        try:
            if not plan.made(plan.values(index)).is_symmetric:
                return False
        except DesignError:
            continue
    return True


def _error(plan: Plan, figures: Array) -> float:
    """Make a few bows again from scratch, every section solved; compare weights."""
    solved = np.flatnonzero(np.isfinite(figures[:, 0]))
    if solved.size == 0:
        return float("nan")
    worst = 0.0
    for index in solved[:: max(1, solved.size // AGAIN)][:AGAIN]:
        design = plan.made(plan.values(int(index)))
        weight = SolvedBow.from_design(design, not design.is_symmetric).walk.force[-1]
        worst = max(worst, abs(float(weight) / figures[index, 0] - 1.0))
    return worst
