"""Where a limb folds: the draw at which a section first passes the peak of its moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.ending import Ending, GivesWay
from bowfem.bow.limb_model import LimbModel
from bowfem.rod import Path, Rod, Settings, Stop, clamp, ends, relax

Array = NDArray[np.float64]

#: Draw is followed toward the fold in steps from COARSE down to FINE, m.
COARSE, FINE = 0.0125, 1e-4
#: Share of the whole reach of limb and string taken as full stretch.
STRETCHED = 0.99
#: Share of the fold's bending that counts as folding when no further state is found.
NEARLY_FOLDED = 0.9
#: Move of the limb, over its length, within one fine step that counts as a jump: a hundred times
#: what the step itself moves.
JUMP = 0.02
#: Share of its stiffness left with which a balance counts as about to be lost: near there it falls
#: with the root of the distance.
UNSTEADY = 0.3
#: Share of a step's work that may be missing from the energy before it counts as lost in a snap.
LOSS = 0.05
#: Angle by which a string may seem to pull past the end of a limb, rad: the belly there is sheared
#: by less.
SHEARED = 1e-3


def bending_share(model: LimbModel, bending: Array) -> Array:
    """Return bending over that at which each section folds (or its law ends).

    Parameters
    ----------
    model : LimbModel
        The limb.
    bending : ndarray, shape (n, n_elements, 4)
        Change of curvature at the stations, 1/m.
    """
    if model.rod.table is None:  # a linear law has no end
        return np.zeros_like(bending)
    reach = model.rod.table.reach
    return np.maximum(bending / reach[..., 1], -bending / reach[..., 0])


def moment_share(model: LimbModel, moment: Array) -> Array:
    """Return moment over the most that each section carries, before it folds or its law ends.

    Parameters
    ----------
    model : LimbModel
        The limb.
    moment : ndarray, shape (n, n_elements, 4)
        At the stations, N m.
    """
    most = model.sections.moment_limit.reshape(*moment.shape[1:], 2)
    return np.maximum(moment / most[..., 1], -moment / most[..., 0])


def worst_station(model: LimbModel, path: Path) -> tuple[float, float, Ending]:
    """Return share, station, m, and how it gives way, of the section nearest to doing so."""
    share = bending_share(model, path.bending[-1:])[0].ravel()
    worst = int(np.argmax(share))
    how = Ending.FOLD if model.folds[worst] else Ending.OVERBENT
    return float(share[worst]), float(model.rod.stations.ravel()[worst]), how


def end_of_belly(rod: Rod, angle: Array, bending: Array | float = 0.0) -> Array:
    """Return which way the belly runs at the end of limbs, rad, shape (n,).

    `angle` of the sections at their stations, (n, n_elements, 4), and their `bending`. A tip on
    edge may grow wider outward: a string along it then runs below the line of the axis, the more
    so where the belly is the shorter side of a curl.
    """
    curvature = ends(rod.curvature0 + bending + np.zeros_like(angle))[1]
    slope = rod.belly_slope[-1, -1]
    return ends(angle)[1] + np.arctan2(slope, 1.0 - rod.end_belly * curvature)


def slipped(path: Path) -> NDArray[np.bool_]:
    """Tell at which states the string pulls past the end of the limb on to its back."""
    last = end_of_belly(path.rod, path.angle, path.bending)
    pieces = path.contact
    touch = np.isnan(pieces[:, 1, 0]) & (pieces[:, 0, 0] == pieces[:, 0, 1])
    way = path.nock - path.leaves
    past = np.cos(last) * way[:, 1] - np.sin(last) * way[:, 0]
    return touch & (past < -SHEARED * np.hypot(*way.T))


def lost(draw: Array, force: Array, energy: Array) -> NDArray[np.bool_]:
    """Tell in which steps between n states energy was lost, as it is in a snap; shape (n - 1,).

    Notes
    -----
    The solver may step over a snap unawares. First law, the work by the trapezoidal rule.
    """
    work = 0.5 * np.diff(draw) * (force[1:] + force[:-1])
    return work - np.diff(energy) > LOSS * np.abs(work) + 1e-9 * np.abs(energy[1:])


def jumped(model: LimbModel, before: Path, after: Path) -> bool:
    """Return whether the limb has moved much further than a fine step moves it."""
    moved = np.max(np.abs(after.nodes[-1] - before.nodes[-1])) / model.rod.length
    return bool(moved > JUMP)


def most_changed(model: LimbModel, before: Path, after: Path) -> float:
    """Return the station whose bending changed most, m."""
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
    gives_way: GivesWay | None


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
        length = float(last.string_length[-1])
        drawn = model.pulled(nock[at:], length, settings, start=last)
        sound = _sound(last, drawn)
        complete = drawn.stop is Stop.COMPLETE and sound == len(drawn)
        if 0 < sound < len(drawn):
            drawn = model.pulled(nock[at : at + sound], length, settings, start=last)
        if sound:
            paths.append(drawn)
            last, at = drawn, at + sound
        if complete:
            return Drawn(paths, True, None)
        approached = approach(model, last, float(nock[at, 1]), pivot, settings)
        if approached.paths:
            paths.append(approached.paths[-1])
        if not approached.complete:
            return Drawn(paths, False, approached.gives_way)
        at += 1
        if at == len(nock):
            return Drawn(paths, True, None)


def _sound(start: Path, drawn: Path) -> int:
    """Return how many states of a draw come before one that slipped or lost energy in a snap."""
    bad = lost(
        np.append(start.nock[-1, 1], drawn.nock[:, 1]),
        np.append(start.pull[-1, 1], drawn.pull[:, 1]),
        np.append(np.sum(start.energy[-1]), np.sum(drawn.energy, axis=1)),
    )
    where = np.flatnonzero(bad | slipped(drawn))
    return int(where[0]) if where.size else len(drawn)


def approach(model: LimbModel, start: Path, goal: float, pivot: float, settings: Settings) -> Drawn:
    """Draw to one position in steps cut down to FINE; tell what stands in the way."""
    last, found = start, []
    step = goal - float(start.nock[-1, 1])
    while True:
        here = float(last.nock[-1, 1])
        nock = min(here + step, goal)
        ahead = _step(model, last, (0.0, nock), settings)
        if ahead.stop is not Stop.COMPLETE or _sound(last, ahead) == 0:
            step *= 0.25
            if step > FINE:
                continue
            ahead = beyond(model, last, (0.0, nock), settings)
            if not isinstance(ahead, Path):
                return Drawn(found, False, ahead and GivesWay(here - pivot, *ahead))
            step = COARSE
        last, found = ahead, [ahead]
        if nock >= goal:
            return Drawn(found, True, None)


def _step(model: LimbModel, last: Path, nock: tuple[float, float], settings: Settings) -> Path:
    return model.pulled([nock], float(last.string_length[-1]), settings, start=last)


def beyond(
    model: LimbModel, last: Path, nock: tuple[float, float], settings: Settings
) -> Path | tuple[float, Ending] | None:
    """Tell what a limb does at a place of the nock point very near to that of its last state.

    Returns
    -------
    Path or tuple or None
        A state there, near to the last one; or station, m, and how the limb gives way; or None
        when none of that is found.
    """
    share, s, how = worst_station(model, last)
    if share >= NEARLY_FOLDED:
        return s, how
    ahead = _step(model, last, nock, settings)
    if len(ahead) and slipped(ahead)[-1]:
        return model.rod.length, Ending.SLIP
    snapped = ahead.stop is Stop.COMPLETE and _sound(last, ahead) == 0
    if ahead.stop is not Stop.COMPLETE:
        ahead = relax(
            last,
            [clamp(0)],
            model.string,
            nock,
            float(last.string_length[-1]),
            settings=settings,
            limit=1.0,
        )
    if ahead.stop is Stop.LIMIT:  # no state is left before a section gives way
        return worst_station(model, ahead)[1:]
    if snapped or jumped(model, last, ahead):
        return most_changed(model, last, ahead), Ending.SNAP
    return ahead if ahead.stop is Stop.COMPLETE else None
