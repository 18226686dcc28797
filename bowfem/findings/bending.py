"""Where the limbs are worked hardest, and where they bend more than around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk

Array = NDArray[np.float64]

#: Neighbourhood of a hinge to either side, as a share of the limb.
NEAR = 0.1
#: Two hot spots lie at least this share of the limb apart.
APART = 0.08


@dataclass(frozen=True)
class HotSpot:
    """One of the places a limb is worked hardest, at the draw where it is.

    Parameters
    ----------
    s : float
        Station, m along the pipe from the bow's centre.
    draw : float
        Nock point to pivot, m.
    side : str
        "belly" (facing the archer) or "back".
    strain, stress : float
        Of the outer fibre along the limb, tension positive; stress in Pa.
    yield_share : float
        Strain over the yield strain of its sign.
    limb : str
        "upper" or "lower"; empty where both are alike.
    """

    s: float
    draw: float
    side: str
    strain: float
    stress: float
    yield_share: float
    limb: str = ""


def hot_spots(walk: Walk, count: int = 3) -> list[HotSpot]:
    """Pick the local peaks of the share of yield along the limbs, hardest first."""
    found = [spot for name, limb in walk.named_limbs for spot in _spots(walk, limb, name, count)]
    return sorted(found, key=lambda spot: -spot.yield_share)[:count]


def _spots(walk: Walk, limb: LimbStates, name: str, count: int) -> list[HotSpot]:
    worst = np.max(limb.yield_share, axis=0)
    padded = np.concatenate([[-np.inf], worst, [-np.inf]])
    peaks = np.flatnonzero((worst >= padded[:-2]) & (worst >= padded[2:]))
    found: list[HotSpot] = []
    for j in peaks[np.argsort(-worst[peaks])]:
        s = float(limb.s[j])
        if len(found) == count:
            break
        if any(abs(s - other.s) < APART * limb.s[-1] for other in found):
            continue
        i = int(np.argmax(limb.yield_share[:, j]))
        tension, compression = walk.design.material.yield_strains()
        belly, back = limb.strain_belly[i, j], limb.strain_back[i, j]
        shares = [e / tension if e >= 0 else -e / compression for e in (belly, back)]
        side = "belly" if shares[0] >= shares[1] else "back"
        strain, stress = (
            (belly, limb.stress_belly[i, j]) if side == "belly" else (back, limb.stress_back[i, j])
        )
        found.append(
            HotSpot(
                s, float(walk.draw[i]), side, float(strain), float(stress), float(worst[j]), name
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
        Bending there over the mean bending for `NEAR` inward or outward, whichever is more; 1 is an
        even bend. So the end of the working limb, before a stiff tip, is no hinge.
    limb : str
        "upper" or "lower"; empty where both are alike.
    """

    s: float
    index: float
    limb: str = ""


def hinge(walk: Walk) -> Hinge:
    """Find the sharpest local peak of bending at the last state.

    Notes
    -----
    Only where the limb bends at least half as much as anywhere: a peak of little bending does no
    harm. The mean is over a straight line between stations.
    """
    return max((_hinge(limb, name) for name, limb in walk.named_limbs), key=lambda h: h.index)


def _hinge(limb: LimbStates, name: str) -> Hinge:
    k, s = np.abs(limb.curvature_change[-1]), limb.s
    area = np.concatenate([[0.0], np.cumsum(0.5 * (k[1:] + k[:-1]) * np.diff(s))])
    reach = NEAR * s[-1]
    inward = (area - np.interp(s - reach, s, area)) / np.minimum(s, reach).clip(1e-9)
    outward = (np.interp(s + reach, s, area) - area) / np.minimum(s[-1] - s, reach).clip(1e-9)
    index = np.where(k >= 0.5 * np.max(k), k, 0.0) / np.maximum(inward, outward).clip(1e-9)
    at = int(np.argmax(index))
    return Hinge(float(s[at]), float(index[at]), name)
