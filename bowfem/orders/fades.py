"""Moves on the handle and its fade to the flat limb, each walked."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bowfem.bow import Walk, walk
from bowfem.design import Design
from bowfem.errors import BowfemError
from bowfem.findings import Crease
from bowfem.orders.advice import inner_rod

#: How much longer a fade is made, m.
LONGER = 10e-3
BUMPS = {
    "middle": "bump on both sides",
    "back": "bump on the back",
    "belly": "bump on the belly",
}


@dataclass(frozen=True)
class FadeMove:
    """What one way to make the fade changes.

    Parameters
    ----------
    name : str
        What is done.
    weight : float
        Change at full draw, N.
    yield_share : float
        Change of peak strain over yield strain, of the sections by themselves.
    crease_share : float
        Strain over yield strain where the fade runs into the flat, with the move.
    amount : float or None
        By how much the fade is made longer, m; None of moves that are made or not.
    """

    name: str
    weight: float
    yield_share: float
    crease_share: float
    amount: float | None = None


def fade_moves(design: Design) -> tuple[float, tuple[FadeMove, ...]]:
    """Walk a bow with a longer fade, an inner rod, rounded ends and each side of the bump.

    Returns
    -------
    crease_share : float
        Strain over yield strain at the end of the fade as it is.
    moves : tuple of FadeMove
        Those that the design allows and that reach full draw.

    Raises
    ------
    BowfemError
        The bow itself cannot be walked.
    """
    handle = design.handle
    if handle.fade is None:  # it runs to the first mark
        longer = {
            f"{side.table}.marks.1.at": design.shape(side).limb.marks[0].at + LONGER
            for side in design.written_sides
        }
    else:
        longer = {"handle.fade": handle.fade + LONGER}
    ways: list[tuple[str, dict[str, float | str] | None, float | None]]
    ways = [("longer fade", {**longer}, LONGER), ("inner rod in the handle", None, None)]
    if handle.fade_shape != "rounded":
        ways.append(("rounded ends of the fade", {"handle.fade_shape": "rounded"}, None))
    for bump, name in BUMPS.items():
        if bump != handle.bump:
            ways.append((name, {"handle.bump": bump}, None))
    now = walk(design)
    weight, peak, crease = _read(now)
    found = []
    for name, values, amount in ways:
        try:
            made = inner_rod(design) if values is None else design.with_values(values)
            changed = walk(made)
        except BowfemError:  # it does not fit, or cannot be braced
            continue
        if changed.draw[-1] < now.draw[-1] - 1e-9:
            continue
        new_weight, new_peak, new_crease = _read(changed)
        found.append(FadeMove(name, new_weight - weight, new_peak - peak, new_crease, amount))
    return crease, tuple(found)


def _read(found: Walk) -> tuple[float, float, float]:
    peak = float(np.max(found.yield_share))
    return float(found.force[-1]), peak, Crease.from_walk(found).yield_share
