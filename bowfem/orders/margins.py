"""What a sized bow keeps to, and how far from it a bow is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Walk
from bowfem.design import limb_text
from bowfem.errors import InputError
from bowfem.findings import Lengths, taken_at_brace
from bowfem.units import both_lengths

Array = NDArray[np.float64]

#: Price of missing the weight, and of breaking a limit, both as shares, against the peak share of
#: yield, which changes a few times as much as the weight at most: limits come before weight.
WEIGHT_PRICE, LIMIT_PRICE = 30.0, 3000.0
#: Relative error within which an order is met and a limit kept.
MET, KEPT = 1e-3, 2e-4
#: Relative distance from a limit within which it counts as active.
ON_LIMIT = 2e-3


@dataclass(frozen=True)
class Margins:
    """Hold what a sized bow keeps to, at full draw (no source: common sense).

    Parameters
    ----------
    yield_share : float
        Most strain over the yield strain.
    fold_share : float
        Most bending over that at which the section folds.
    clearance : float
        Least distance from string to belly on the inner half of the limb, beyond the fade, m.
    sideways : float
        Times the string's pull at brace that would roll a limb over with a tip turned edge-on, at
        least (C); limbs without one are not looked at.
    """

    yield_share: float = 0.95
    fold_share: float = 0.85
    clearance: float = 0.01
    sideways: float = 1.2

    def __post_init__(self) -> None:
        """Check the ranges."""
        for key in ("yield_share", "fold_share"):
            if not 0.0 < getattr(self, key) <= 2.0:
                raise InputError(key, getattr(self, key), "above 0, at most 2")
        if not 0.0 <= self.clearance <= 0.5:
            raise InputError("clearance", self.clearance, "between 0 and 0.5 m")
        if not 1.0 <= self.sideways <= 10.0:
            raise InputError("sideways", self.sideways, "between 1 and 10")


#: Default margins.
USUAL = Margins()


def figures(found: Walk, weight: float) -> Array:
    """Return weight over that ordered, per station shares of yield and of fold, then three more.

    Of all states the worst counts. The three are the share of sideways stiffness that the string
    takes at brace, 0 without a tip turned edge-on; the least clearance on the inner half of the
    limbs beyond the fade, m, and the share of what its parcel may measure, 0 without a limit.
    """
    shares = [np.max(limb.yield_share, axis=0) for _, limb in found.distinct_limbs]
    folds = [np.max(limb.fold_share, axis=0) for _, limb in found.distinct_limbs]
    gaps = [
        np.min(limb.clearance[:, (limb.s >= shape.fade_end) & (limb.s <= 0.5 * limb.s[-1])])
        for limb, shape in zip(found.limbs, found.design.limbs, strict=True)
    ]
    edge_on = any(shape.limb.tip is not None for shape in found.design.limbs)
    taken = [taken_at_brace(found) if edge_on else 0.0]
    last = min(gaps), Lengths.from_walk(found).unstrung.share(found.design.limits)
    return np.concatenate([[found.force[-1] / weight], *shares, *folds, taken, last])


@dataclass(frozen=True, eq=False)
class Judged:
    """The figures of one bow with its limits, ``rows @ values <= most``, all in shares."""

    values: Array
    rows: Array
    most: Array

    @classmethod
    def of(cls, values: Array, margins: Margins) -> Judged:
        """Set the figures of a bow against its margins; those of its parcel are shares."""
        count = (values.size - 4) // 2
        rows = np.zeros((2 * count + 3, 2 * count + 4))
        rows[:, 1:] = np.eye(2 * count + 3)
        most = np.repeat(
            [margins.yield_share, margins.fold_share, 1.0 / margins.sideways, 0.0, 1.0],
            [count, count, 1, 1, 1],
        )
        gap = max(margins.clearance, 1e-3)
        rows[-2, -2], most[-2] = -1.0 / gap, -margins.clearance / gap
        return cls(values, rows, most)

    @property
    def yields(self) -> slice:
        """Where the shares of yield are."""
        return slice(1, 1 + (self.values.size - 4) // 2)

    @property
    def folds(self) -> slice:
        """Where the shares of fold are."""
        return slice(self.yields.stop, self.values.size - 3)

    @property
    def miss(self) -> float:
        """The largest break of a limit, as a share."""
        return float(max(0.0, np.max(self.rows @ self.values - self.most)))

    @property
    def kept(self) -> bool:
        """Whether all limits are kept."""
        return self.miss <= KEPT

    @property
    def met(self) -> bool:
        """Whether the weight is that ordered, within all limits."""
        return bool(abs(self.values[0] - 1.0) <= MET and self.kept)

    @property
    def price(self) -> float:
        """What the bow costs: its peak share of yield, the miss of weight and limits."""
        peak = float(np.max(self.values[self.yields]))
        return peak + WEIGHT_PRICE * abs(self.values[0] - 1.0) + LIMIT_PRICE * self.miss

    def active(self, found: Walk, margins: Margins) -> list[str]:
        """Name the limits a bow lies on or breaks, with what it comes to."""
        places = [
            (float(s), limb_text(side)) for side, limb in found.distinct_limbs for s in limb.s
        ]
        named = []
        for text, part, most in (
            ("margin to yield", self.values[self.yields], margins.yield_share),
            ("margin to folding", self.values[self.folds], margins.fold_share),
        ):
            if np.max(part) >= most * (1.0 - ON_LIMIT):
                s, limb = places[int(np.argmax(part))]
                broken = _broken(float(np.max(part)), most)
                named.append(f"{text}, {both_lengths(s)} from the centre{limb}{broken}")
        taken = float(self.values[-3])
        if taken >= (1.0 - ON_LIMIT) / margins.sideways:
            short = taken * margins.sideways > 1.0 + KEPT
            text = f": {1.0 / taken:.2f} times, limit {margins.sideways:g}" if short else ""
            named.append(f"sideways, the string's pull at brace{text}")
        gap, parcel = float(self.values[-2]), float(self.values[-1])
        if gap <= margins.clearance * (1.0 + ON_LIMIT):
            short = gap < margins.clearance * (1.0 - ON_LIMIT)
            named.append(f"clearance of the string{f': {both_lengths(gap)}' if short else ''}")
        if parcel >= 1.0 - ON_LIMIT:
            named.append(f"limits, the parcel{_broken(parcel, 1.0)}")
        return named


def _broken(share: float, most: float) -> str:
    return f": {100 * share:.1f} %, limit {100 * most:.0f} %" if share > most + KEPT else ""
