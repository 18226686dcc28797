"""What a walk comes to: the few numbers a maker asks for, and what to be warned of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import BraceError, SmoothCurve, Walk, WalkStop
from bowfem.design import AMO_ALLOWANCE
from bowfem.findings.bending import Hinge, hinge, hot_spots
from bowfem.findings.lengths import Lengths
from bowfem.findings.string_cut import StringCut, brace_per_turn
from bowfem.findings.string_fit import Bridge, Loop, bridges, least_loops
from bowfem.findings.string_follow import StringFollow
from bowfem.findings.string_run import StringRun
from bowfem.findings.tuning import Tuning
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.findings.bending import HotSpot

Array = NDArray[np.float64]

#: Least strength of a string over the weight of the bow (C).
STRING_RESERVE = 4.0
#: Draw left before a fold below which a bow is warned of, m (no source: a hand's width).
FOLD_RESERVE = 0.1
#: Bending against the neighbourhood from which a place counts as a hinge (no source).
HINGE = 1.5


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
    run : StringRun
        Where the string runs.
    loops : tuple of Loop
        The least loops, one for each limb that differs.
    bridges : tuple of Bridge
        What must keep the string off a limb.
    cut : StringCut or None
        How to cut a string with the least loops; None when they are longer than the string.
    brace_per_turn : float
        Rise of the brace height by one full turn of twist more, m; nan when not known.
    clearance_middle : float
        Distance of the string from the belly in the middle of the limb at brace, m; the smaller
        of the two limbs'.
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
    run: StringRun
    loops: tuple[Loop, ...]
    bridges: tuple[Bridge, ...]
    cut: StringCut | None
    brace_per_turn: float
    clearance_middle: float
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


def draw_text(walk: Walk, draw: float, system: System) -> str:
    """Write a draw, given to the pivot in m, in the design's convention.

    The convention is named with it, as in "28 in AMO" or "26.25 in to the pivot".
    """
    convention = "AMO" if walk.design.draw.measure == "amo" else "to the pivot"
    return f"{show(draw + allowance(walk), 'length', system)} {convention}"


def _brace_per_turn(walk: Walk, cut: StringCut | None) -> float:
    if cut is None:
        return np.nan
    try:
        return brace_per_turn(walk, cut)
    except BraceError:  # a millimetre higher or lower the bow cannot be braced
        return np.nan


def summarize(walk: Walk) -> Summary:
    """Return the figures of a walk."""
    weight, draw = float(walk.force[-1]), float(walk.draw[-1])
    several = walk.draw.size > 1
    energy = walk.energy_at(draw) if several else 0.0
    work = weight * (draw - float(walk.draw[0]))
    loops = least_loops(walk)
    fits = loops[0].reach + loops[-1].reach < walk.string_length
    cut = StringCut.from_walk(walk, loops) if fits else None
    return Summary(
        draw=draw,
        weight=weight,
        energy=energy,
        energy_ratio=energy / work if work > 0.0 else 0.0,
        stack=walk.stack() if several else 0.0,
        run=StringRun.from_walk(walk),
        loops=loops,
        bridges=bridges(walk),
        cut=cut,
        brace_per_turn=_brace_per_turn(walk, cut),
        clearance_middle=min(
            float(np.interp(0.5 * limb.s[-1], limb.s, limb.clearance[0])) for limb in walk.limbs
        ),
        string_reserve=walk.design.string.strength / max(float(np.max(walk.force)), 1e-9),
        hot_spots=tuple(hot_spots(walk)),
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
    at_brace = [piece for piece in summary.run.contacts if piece.first <= walk.draw[0]]
    inside = [piece for piece in at_brace if piece.inner < half[piece.limb]]
    if inside:
        least = min(inside, key=lambda piece: piece.inner)
        found.append(
            "At brace the string lies on the inner half of the limb, "
            f"{spot_text(least.inner, least.limb, system)}."
        )
    return tuple(found)
