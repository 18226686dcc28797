"""Where a limb folds: the draw at which a section first passes the peak of its moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.limb import LimbModel
from bowfem.rod import Path, Settings, Stop, clamp
from bowfem.rod.settle import settle

Array = NDArray[np.float64]

#: Draw is followed toward the fold in steps from COARSE down to FINE, m.
COARSE, FINE = 0.0125, 1e-4
#: Share of the whole reach of limb and string taken as full stretch.
STRETCHED = 0.99
#: Share of the fold's bending that counts as folding when no further state is found.
NEARLY = 0.9
#: Move of the limb, over its length, within one fine step that counts as a jump: a hundred times
#: what the step itself moves.
JUMP = 0.02


@dataclass(frozen=True)
class Fold:
    """The draw at which a limb gives way: it folds, its sections' laws end, or it snaps through.

    Parameters
    ----------
    draw : float
        Nock point to pivot, m, to the nearest 0.1 mm below.
    s : float
        Station, m along the pipe from the bow's centre: where the section gives way, or where the
        bending changes most as the limb snaps through.
    folds : bool
        Whether the section's moment peaks there; else its law ends without a peak.
    limb : str
        "upper" or "lower"; empty where both are alike.
    snaps : bool
        Whether the limb jumps to a shape far away, with no section giving way before.
    """

    draw: float
    s: float
    folds: bool
    limb: str = ""
    snaps: bool = False

    @property
    def words(self) -> str:
        """What the limb does, to follow "the limb"."""
        if self.snaps:
            return "snaps through"
        return "folds" if self.folds else "leaves the range of the material's law"


def bending_share(model: LimbModel, bending: Array) -> Array:
    """Return bending over that at which each section folds (or its law ends).

    Parameters
    ----------
    model : LimbModel
        The limb.
    bending : ndarray, shape (n, n_elements, 4)
        Change of curvature at the stations, 1/m.
    """
    assert model.rod.table is not None
    reach = model.rod.table.reach
    return np.maximum(bending / reach[..., 1], -bending / reach[..., 0])


def worst_station(model: LimbModel, path: Path) -> tuple[float, float, bool]:
    """Return share, station and whether it folds, of the section nearest to giving way."""
    share = bending_share(model, path.bending[-1:])[0].ravel()
    worst = int(np.argmax(share))
    return float(share[worst]), float(model.rod.stations.ravel()[worst]), bool(model.folds[worst])


def jump(model: LimbModel, before: Path, after: Path) -> float | None:
    """Return the station whose bending changed most, m, if the limb jumped; else None."""
    moved = np.max(np.abs(after.nodes[-1] - before.nodes[-1])) / model.rod.length
    if moved < JUMP:
        return None
    change = np.abs(after.bending[-1] - before.bending[-1])
    return float(model.rod.stations.ravel()[int(np.argmax(change))])


@dataclass(frozen=True, eq=False)
class Drawn:
    """States of a limb drawn through given positions of the nock point, as far as it went.

    Parameters
    ----------
    paths : list of Path
        The states, in pieces; the last one ends with the last state found.
    complete : bool
        Whether the last position was reached.
    fold : Fold or None
        How the limb gave way; None when it did not, or limb and string are stretched out, or the
        solver failed.
    """

    paths: list[Path]
    complete: bool
    fold: Fold | None


def draw_limb(
    model: LimbModel, braced: Path, nock: Array, pivot: float, settings: Settings
) -> Drawn:
    """Draw a braced limb through positions of the nock point, in steps as fine as it takes.

    Parameters
    ----------
    nock : ndarray, shape (n, 2)
        Positions of the nock point, m.
    """
    paths: list[Path] = []
    at = 0
    while True:
        last = paths[-1] if paths else braced
        drawn = model.pulled(nock[at:], float(last.string_length[-1]), settings, start=last)
        if len(drawn):
            paths.append(drawn)
            last, at = drawn, at + len(drawn)
        if drawn.stop is Stop.COMPLETE:
            return Drawn(paths, True, None)
        crept = creep(model, last, float(nock[at, 1]), pivot, settings)
        if crept.paths:
            paths.append(crept.paths[-1])
        if not crept.complete:
            return Drawn(paths, False, crept.fold)
        at += 1
        if at == len(nock):
            return Drawn(paths, True, None)


def creep(model: LimbModel, start: Path, goal: float, pivot: float, settings: Settings) -> Drawn:
    """Draw to one position in steps cut down to FINE; tell what stands in the way."""
    last, found = start, []
    length = float(start.string_length[-1])
    step = goal - float(start.nock[-1, 1])
    while True:
        here = float(last.nock[-1, 1])
        nock = min(here + step, goal)
        ahead = model.pulled([[0.0, nock]], length, settings, start=last)
        if ahead.stop is not Stop.COMPLETE:
            step *= 0.25
            if step > FINE:
                continue
            share, s, folds = worst_station(model, last)
            if share >= NEARLY:
                return Drawn(found, False, Fold(here - pivot, s, folds))
            ahead = settle(
                last, [clamp(0)], model.string, (0.0, nock), length, settings=settings, limit=1.0
            )  # fmt: skip
            if ahead.stop is Stop.LIMIT:  # no state is left before a section gives way
                _, s, folds = worst_station(model, ahead)
                return Drawn(found, False, Fold(here - pivot, s, folds))
            at = jump(model, last, ahead)
            if at is not None:
                return Drawn(found, False, Fold(here - pivot, at, folds=False, snaps=True))
            if ahead.stop is not Stop.COMPLETE:
                return Drawn(found, False, None)
            step = COARSE
        last, found = ahead, [ahead]
        if nock >= goal:
            return Drawn(found, True, None)
