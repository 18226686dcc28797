"""Where a limb folds: the draw at which a section first passes the peak of its moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.balance import Balance, Ended, States
from bowfem.bow.limb import LimbModel

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
    limb : str
        "upper" or "lower"; empty where both are alike.
    """

    draw: float
    s: float
    folds: bool
    limb: str = ""


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


def follow_to_fold(bow: Balance, start: States) -> tuple[States, Fold | None]:
    """Draw on from the last of some states until a limb folds or is stretched out.

    Returns
    -------
    last : States
        The last state found, alone.
    fold : Fold or None
        None when limb and string come to stand in one line, or Newton's method fails, first.
    """
    last, step = start.last(), COARSE
    while step > FINE:
        reach = last.nock[0] - bow.pivot
        draw = float(np.hypot(*reach))
        ahead = draw + step
        if bow.stretched(last, bow.pivot + reach * (ahead / draw)) > STRETCHED:
            return last, None
        found, ended = bow.draw_to(last, [ahead])
        if found is not None and ended is Ended.COMPLETE:
            last = found.last()
        else:
            step *= 0.25
    shares = [bending_share(m, p.bending[-1:])[0].ravel()
              for m, p in zip(bow.models, last.limbs, strict=True)]  # fmt: skip
    side = int(np.argmax([np.max(share) for share in shares]))
    model, worst = bow.models[side], int(np.argmax(shares[side]))
    if shares[side][worst] < NEARLY:
        return last, None
    limb = "" if bow.symmetric else ("upper", "lower")[side]
    s = float(model.rod.stations.ravel()[worst])
    return last, Fold(float(bow.draw(last)[0]), s, bool(model.folds[worst]), limb)
