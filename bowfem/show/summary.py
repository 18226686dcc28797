"""What a walk comes to: the few numbers a maker asks for, and what to be warned of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.design_check import AMO_ALLOWANCE
from bowfem.bow.findings import Hinge, hinge
from bowfem.bow.lengths import Lengths
from bowfem.bow.smooth import SmoothCurve
from bowfem.bow.string_follow import StringFollow
from bowfem.bow.tuning import Tuning
from bowfem.bow.walk import Walk, WalkStop
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow.findings import HotSpot
    from bowfem.bow.limb_states import LimbStates

Array = NDArray[np.float64]

#: Contact shorter than this is the loop in its groove, m: below the width of a pencil mark.
MARK = 1e-4
#: A gap below this share of one further out is worth telling.
NEARER = 0.5
#: Least strength of a string over the weight of the bow (C).
STRING_RESERVE = 4.0
#: Draw left before a fold below which a bow is warned of, m (no source: a hand's width).
FOLD_RESERVE = 0.1
#: Bending against the neighbourhood from which a place counts as a hinge (no source).
HINGE = 1.5


class Contact(NamedTuple):
    """A piece of limb the string lies on: outer and inner station, m, and the limb's name."""

    outer: float
    inner: float
    limb: str


@dataclass(frozen=True)
class Narrow:
    """A place where the string comes near a limb: clearance, station and draw to pivot, m."""

    clearance: float
    s: float
    draw: float
    limb: str = ""


@dataclass(frozen=True)
class Summary:
    """Hold the figures of a walk.

    Parameters
    ----------
    draw : float
        Last draw reached, nock point to pivot, m.
    weight : float
        Force there, N.
    energy : float
        Energy gained from brace to there, J.
    energy_ratio : float
        Energy over weight times stroke (draw less that at brace); 0.5 is a straight draw curve.
    stack : float
        Stiffest rise of weight in the last quarter of the draw, N/m.
    contact_at_brace : tuple of Contact
        Each piece of limb the string lies on at brace.
    lift_off : float or None
        First draw walked at which the string lies on no limb, m to the pivot; None if never.
    clearance_middle : float
        Distance of the string from the belly in the middle of the limb at brace, m; the smaller
        of the two limbs'.
    narrow : Narrow or None
        Where the string comes to less than half the clearance it has further out, at worst;
        None when it does so at no draw.
    string_reserve : float
        Breaking strength of the string over the largest weight.
    hot_spots : tuple of HotSpot
        Where the limb is worked hardest, hardest first.
    fold_share : float
        Largest bending over that at which its section folds, at the last draw.
    hinge : Hinge
        Where the limb bends most against its neighbourhood, at the last draw.
    follow : StringFollow or None
        The bow after its first full draw; None when it did not get there.
    tuning : Tuning or None
        How the limbs work together; None where they are alike.
    lengths : Lengths
        How long the bow is.
    """

    draw: float
    weight: float
    energy: float
    energy_ratio: float
    stack: float
    contact_at_brace: tuple[Contact, ...]
    lift_off: float | None
    clearance_middle: float
    narrow: Narrow | None
    string_reserve: float
    hot_spots: tuple[HotSpot, ...]
    fold_share: float
    hinge: Hinge
    follow: StringFollow | None
    tuning: Tuning | None
    lengths: Lengths


@dataclass(frozen=True, eq=False)
class DrawTable:
    """Hold a walk at even draw lengths: k rows from brace to the last draw reached.

    Parameters
    ----------
    draw : ndarray, shape (k,)
        Nock point to pivot, m.
    force, tension : ndarray, shape (k,)
        Weight and string tension, N.
    energy : ndarray, shape (k,)
        Energy gained since brace, J.
    yield_share : ndarray, shape (k,)
        Largest strain over yield strain anywhere on the limb.
    """

    draw: Array
    force: Array
    tension: Array
    energy: Array
    yield_share: Array


def allowance(walk: Walk) -> float:
    """Return what the design's draw-length convention adds to the draw to the pivot, m."""
    return AMO_ALLOWANCE if walk.design.draw.measure == "amo" else 0.0


def place_text(s: float, system: System) -> str:
    """Write a station as a maker marks it, to a tenth of an inch or a millimetre.

    Examples
    --------
    >>> place_text(0.11837, "us"), place_text(0.11837, "metric")
    ('4.7 in', '118 mm')
    """
    return f"{convert(s, 'length', system):.{1 if system == 'us' else 0}f} " + shown_unit(
        "length", system
    )


def spot_text(s: float, limb: str, system: System) -> str:
    """Say where a station is, with the limb where there are two.

    Examples
    --------
    >>> spot_text(0.11837, "", "us"), spot_text(0.11837, "lower", "us")
    ('4.7 in from the centre', '4.7 in from the centre on the lower limb')
    """
    return f"{place_text(s, system)} from the centre{f' on the {limb} limb' if limb else ''}"


def contact_pieces(walk: Walk, state: int) -> tuple[Contact, ...]:
    """Return each piece of contact at a state, the loop in its groove left out."""
    found = []
    for name, limb in walk.named_limbs:
        pieces = limb.contact[state]
        long = np.isfinite(pieces[:, 0]) & (pieces[:, 0] - pieces[:, 1] > MARK)
        found += [Contact(float(outer), float(inner), name) for outer, inner in pieces[long]]
    return tuple(found)


def _narrow(walk: Walk, limb: LimbStates, name: str) -> Narrow | None:
    """Find where the string is free, but much nearer to the limb than somewhere further out."""
    gap = limb.clearance
    further = np.maximum.accumulate(gap[:, ::-1], axis=1)[:, ::-1]
    inside = gap[:, 1:-1]
    lowest = (inside <= gap[:, :-2]) & (inside <= gap[:, 2:])  # the brace height minds the middle
    told = lowest & (inside > MARK) & (inside < NEARER * further[:, 1:-1])
    nearer = np.where(told, inside, np.inf)
    state, station = np.unravel_index(int(np.argmin(nearer)), nearer.shape)
    if not np.isfinite(nearer[state, station]):
        return None
    found = float(inside[state, station])
    return Narrow(found, float(limb.s[station + 1]), float(walk.draw[state]), name)


def summarize(walk: Walk) -> Summary:
    """Return the figures of a walk."""
    weight, draw = float(walk.force[-1]), float(walk.draw[-1])
    several = walk.draw.size > 1
    energy = walk.energy_at(draw) if several else 0.0
    free = [i for i in range(walk.draw.size) if not contact_pieces(walk, i)]
    work = weight * (draw - float(walk.draw[0]))
    narrow = [found for name, limb in walk.named_limbs if (found := _narrow(walk, limb, name))]
    return Summary(
        draw=draw,
        weight=weight,
        energy=energy,
        energy_ratio=energy / work if work > 0.0 else 0.0,
        stack=walk.stack() if several else 0.0,
        contact_at_brace=contact_pieces(walk, 0),
        lift_off=float(walk.draw[free[0]]) if free else None,
        clearance_middle=min(
            float(np.interp(0.5 * limb.s[-1], limb.s, limb.clearance[0])) for limb in walk.limbs
        ),
        narrow=min(narrow, key=lambda one: one.clearance, default=None),
        string_reserve=walk.design.string.strength / max(float(np.max(walk.force)), 1e-9),
        hot_spots=tuple(walk.hot_spots()),
        fold_share=max(float(np.max(limb.fold_share[-1])) for limb in walk.limbs),
        hinge=hinge(walk),
        follow=StringFollow.after(walk) if walk.stop is WalkStop.COMPLETE else None,
        tuning=None if walk.is_symmetric else Tuning.from_walk(walk),
        lengths=Lengths.from_walk(walk),
    )


def even_draws(walk: Walk, system: System) -> DrawTable:
    """Return a walk at each whole inch, or each 25 mm, of the design's draw-length convention.

    Parameters
    ----------
    walk : Walk
        The walk.
    system : {"us", "metric"}
        Inches or millimetres.

    Returns
    -------
    DrawTable
        The brace and the last draw reached are its first and last row.

    Notes
    -----
    Between states, force and tension follow a cubic spline, energy its integral; the share of
    yield is interpolated linearly.
    """
    if walk.draw.size < 2:
        return DrawTable(walk.draw, walk.force, walk.tension, walk.energy, walk.yield_share)

    step = 0.0254 if system == "us" else 0.025
    first, last = float(walk.draw[0]), float(walk.draw[-1])
    add = allowance(walk)
    whole = step * np.arange(np.ceil((first + add) / step), (last + add) / step) - add
    near = 0.01 * step  # rows closer than this would print alike
    inside = whole[(whole - first > near) & (last - whole > near)]
    draw = np.concatenate([[first], inside, [last]])
    return DrawTable(
        draw=draw,
        force=np.array([walk.weight_at(d) for d in draw]),
        tension=SmoothCurve.through(walk.draw, walk.tension).at(draw),
        energy=np.array([walk.energy_at(d) for d in draw]),
        yield_share=np.interp(draw, walk.draw, walk.yield_share),
    )


def warnings(walk: Walk, summary: Summary, system: System) -> tuple[str, ...]:
    """Return what a maker must not overlook, a sentence or two each."""
    found = []
    if walk.message:
        found.append(f"The walk stopped early. {walk.message}.")
    if summary.hot_spots and summary.hot_spots[0].yield_share >= 1.0:
        spot = summary.hot_spots[0]
        found.append(
            f"Strained past yield {spot_text(spot.s, spot.limb, system)} "
            f"({convert(spot.yield_share, 'share', system):.0f} % of the yield strain): the limb "
            "takes a set there and may fold or break. Draw less, or make the bow longer or thinner."
        )
    near = walk.fold is not None and walk.fold.draw - summary.draw < FOLD_RESERVE
    if walk.fold is not None and near and not walk.message:
        left = show(walk.fold.draw - summary.draw, "length", system, 2)
        found.append(
            f"The limb {walk.fold.words} {left} beyond this draw, "
            f"{spot_text(walk.fold.s, walk.fold.limb, system)}: a small slip of the hand."
        )
    if summary.hinge.index >= HINGE:
        found.append(
            f"A hinge: {spot_text(summary.hinge.s, summary.hinge.limb, system)} the limb bends "
            f"{summary.hinge.index:.1f} times as much as around it. Spread the change of thickness."
        )
    if summary.string_reserve < STRING_RESERVE:
        found.append(
            f"The new string breaks at {summary.string_reserve:.1f} times the weight; common "
            f"practice asks for {STRING_RESERVE:.0f} at least. Use more strands."
        )
    longest, side = walk.design.limits.longest, summary.lengths.unstrung.longest
    if longest is not None and side > longest:
        found.append(
            f"Unstrung the bow needs a box {show(side, 'length', system)} long, "
            f"{show(side - longest, 'length', system, 2)} more than the "
            f"{show(longest, 'length', system)} of limits.longest."
        )
    half = {name: 0.5 * limb.s[-1] for name, limb in walk.named_limbs}
    inside = [piece for piece in summary.contact_at_brace if piece.inner < half[piece.limb]]
    if inside:
        least = min(inside, key=lambda piece: piece.inner)
        found.append(
            "At brace the string lies on the inner half of the limb, "
            f"{spot_text(least.inner, least.limb, system)}."
        )
    return tuple(found)
