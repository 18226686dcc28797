"""Where the limbs are worked hardest, and where they bend more than around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.design import Side
from bowfem.findings.line import (
    Column,
    DrawLength,
    Figure,
    Line,
    Place,
    Table,
    Warned,
    side_figure,
)

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk

Array = NDArray[np.float64]

#: Neighbourhood of a hinge to either side, as a share of the limb.
NEIGHBOURHOOD = 0.1
#: Bending against the neighbourhood from which a place counts as a hinge (no source).
HINGE = 1.5
#: Two hot spots lie at least this share of the limb apart.
SPOTS_APART = 0.08


@dataclass(frozen=True)
class HotSpot:
    """One of the places a limb is worked hardest, at the draw where it is.

    Parameters
    ----------
    s : float
        Station, m along the pipe from the bow's centre.
    draw : float
        Nock point to pivot, m.
    face : str
        "belly" (facing the archer) or "back".
    strain, stress : float
        Of the outer fibre along the limb, tension positive; stress in Pa.
    yield_share : float
        Strain over the yield strain of its sign.
    side : Side or None
        Which limb; None where both are alike.
    """

    s: float
    draw: float
    face: str
    strain: float
    stress: float
    yield_share: float
    side: Side | None = None


def hot_spots(walk: Walk, count: int = 3) -> list[HotSpot]:
    """Pick the local peaks of the share of yield along the limbs, hardest first."""
    found = [spot for side, limb in walk.distinct_limbs for spot in _spots(walk, limb, side, count)]
    return sorted(found, key=lambda spot: -spot.yield_share)[:count]


def _spots(walk: Walk, limb: LimbStates, side: Side | None, count: int) -> list[HotSpot]:
    worst = np.max(limb.yield_share, axis=0)
    padded = np.concatenate([[-np.inf], worst, [-np.inf]])
    peaks = np.flatnonzero((worst >= padded[:-2]) & (worst >= padded[2:]))
    found: list[HotSpot] = []
    for j in peaks[np.argsort(-worst[peaks])]:
        s = float(limb.s[j])
        if len(found) == count:
            break
        if any(abs(s - other.s) < SPOTS_APART * limb.s[-1] for other in found):
            continue
        i = int(np.argmax(limb.yield_share[:, j]))
        tension, compression = walk.design.material.yield_strains()
        belly, back = limb.strain_belly[i, j], limb.strain_back[i, j]
        shares = [e / tension if e >= 0 else -e / compression for e in (belly, back)]
        face = "belly" if shares[0] >= shares[1] else "back"
        strain, stress = (
            (belly, limb.stress_belly[i, j]) if face == "belly" else (back, limb.stress_back[i, j])
        )
        found.append(
            HotSpot(
                s, float(walk.draw[i]), face, float(strain), float(stress), float(worst[j]), side
            )
        )
    return found


@dataclass(frozen=True)
class Hinge:
    """The place that bends most against its neighbourhood.

    Parameters
    ----------
    s : float
        Station, m along the pipe from the bow's centre.
    index : float
        Bending there over the mean bending for `NEIGHBOURHOOD` inward or outward, whichever is
        more; 1 is an even bend. So the end of the working limb, before a stiff tip, is no hinge.
    side : Side or None
        Which limb; None where both are alike.
    """

    s: float
    index: float
    side: Side | None = None


def hinge(walk: Walk) -> Hinge:
    """Find the sharpest local peak of bending at the last state.

    Notes
    -----
    Only where the limb bends at least half as much as anywhere: a peak of little bending does no
    harm. The mean is over a straight line between stations.
    """
    return max((_hinge(limb, side) for side, limb in walk.distinct_limbs), key=lambda h: h.index)


def _hinge(limb: LimbStates, side: Side | None) -> Hinge:
    k, s = np.abs(limb.curvature_change[-1]), limb.s
    area = np.concatenate([[0.0], np.cumsum(0.5 * (k[1:] + k[:-1]) * np.diff(s))])
    reach = NEIGHBOURHOOD * s[-1]
    inward = (area - np.interp(s - reach, s, area)) / np.minimum(s, reach).clip(1e-9)
    outward = (np.interp(s + reach, s, area) - area) / np.minimum(s[-1] - s, reach).clip(1e-9)
    index = np.where(k >= 0.5 * np.max(k), k, 0.0) / np.maximum(inward, outward).clip(1e-9)
    at = int(np.argmax(index))
    return Hinge(float(s[at]), float(index[at]), side)


def hinge_line(found: Hinge) -> Line:
    """Say how evenly the limbs bend."""
    figures = (
        Figure("hinge_index", found.index),
        Place("hinge_s", found.s, side=found.side),
        side_figure(found.side, "hinge_limb"),
    )
    words = "bends at most {hinge_index:.2f} times as much as around it, {hinge_s}"
    return Line("evenness", words, figures, 100)


def hinge_warning(found: Hinge) -> list[Warned]:
    """Warn of a place that bends much more than its neighbourhood."""
    if found.index < HINGE:
        return []
    words = (
        "A hinge: {hinge_s} the limb bends {hinge_index:.1f} times as much as around it. Spread "
        "the change of thickness."
    )
    return [Warned(words, hinge_line(found).figures)]


def yield_warning(walk: Walk, spots: Sequence[HotSpot]) -> list[Warned]:
    """Warn of a place strained past yield."""
    if not spots or spots[0].yield_share < 1.0:
        return []
    spot = spots[0]
    words = (
        "Strained past yield {s} ({yield_share:.0} of the yield strain): the limb takes a set "
        "there and may fold or break. Draw less; `bowfem report` lists what else helps."
    )
    figures = (
        Place("s", spot.s, side=spot.side),
        Figure("yield_share", spot.yield_share, "share"),
    )
    return [Warned(words, figures)]


def hot_spot_table(walk: Walk, spots: Sequence[HotSpot]) -> Table:
    """Lay out the places worked hardest, by distance from the bow's centre as marks are."""

    def each(name: str) -> list[Any]:
        return [getattr(spot, name) for spot in spots]

    def values(name: str) -> Array:
        return np.array(each(name), dtype=float)

    names = [
        f"{spot.side.value} {spot.face}" if spot.side is not None else spot.face for spot in spots
    ]
    return Table(
        "Worked hardest (stress along the limb, tension positive)",
        (
            Column("face", Figure("face", names)),
            Column("from centre", Figure("s", values("s"), "length"), (1, 0)),
            Column("at draw", DrawLength.of(walk, values("draw")), (2, 1)),
            Column("strain", Figure("strain", values("strain"), "share"), (2, 2)),
            Column("stress", Figure("stress", values("stress"), "stress"), (0, 1)),
            Column("of yield", Figure("yield_share", values("yield_share"), "share")),
        ),
    )


def hot_spot_lines(walk: Walk, spots: Sequence[HotSpot]) -> list[Line]:
    """Return the places worked hardest as files hold them."""
    return [
        Line(
            "",
            "",
            (
                side_figure(spot.side),
                Figure("s", spot.s, "length"),
                DrawLength.of(walk, spot.draw),
                Figure("face", spot.face),
                Figure("strain", spot.strain, "share"),
                Figure("stress", spot.stress, "stress"),
                Figure("yield_share", spot.yield_share, "share"),
            ),
            105,
            "summary.hot_spots[]",
        )
        for spot in spots
    ]
