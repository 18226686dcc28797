"""Where a limb folds: the draw at which a section first passes the peak of its moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.limb import LimbModel
from bowfem.rod import Path, Settings, Stop, clamp, pull

Array = NDArray[np.float64]

#: Draw is followed toward the fold in steps from COARSE down to FINE, m.
COARSE, FINE = 0.0125, 1e-4
#: Share of the whole reach of limb and string taken as full stretch.
STRETCHED = 0.99
#: Share of the fold's bending that counts as folding when no further state is found.
NEARLY = 0.9


@dataclass(frozen=True)
class Fold:
    """The fold of a limb, or the end of what its sections' laws say.

    Parameters
    ----------
    draw : float
        Nock point to pivot, m, to the nearest 0.1 mm below.
    s : float
        Station, m along the pipe from the bow's centre.
    folds : bool
        Whether the section's moment peaks there; else its law ends without a peak.
    """

    draw: float
    s: float
    folds: bool


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


def follow_to_fold(
    model: LimbModel, start: Path, pivot: float, settings: Settings
) -> tuple[Path, Fold | None]:
    """Draw on from the last state of a path until the limb folds or is stretched out.

    Returns
    -------
    last : Path
        Ends with the last state found.
    fold : Fold or None
        None when limb and string come to stand in one line, or Newton's method fails, first.
    """
    last, step = start, COARSE
    while step > FINE:
        nock = float(last.nock[-1, 1]) + step
        if nock > STRETCHED * (model.rod.length + float(last.string_length[-1])):
            return last, None
        ahead = pull(
            model.rod, [clamp(0)], model.string, [[0.0, nock]], last.string_length[-1],
            begin=(0.0, 0.0, 0.0), start=last, settings=settings, limit=1.0, strict=False,
        )  # fmt: skip
        if ahead.stop is Stop.COMPLETE:
            last = ahead
        else:
            step *= 0.25
    share = bending_share(model, last.bending[-1:])[0].ravel()
    worst = int(np.argmax(share))
    if share[worst] < NEARLY:
        return last, None
    s = float(model.rod.stations.ravel()[worst])
    return last, Fold(float(last.nock[-1, 1]) - pivot, s, bool(model.folds[worst]))
