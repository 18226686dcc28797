"""Sizing: from an order to dimensions. The mildest bow that meets a weight and keeps its margins.

A sequence of linear programmes: the figures of the bow are linear in its free quantities over a
small enough box, and their slopes are those of the equilibria (see `sensitivity`). Weight and
limits are elastic at a price, so that an order out of reach ends at the nearest bow there is.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Ending, Walk, walk
from bowfem.design import Design, limb_text, number_of, spelled_out
from bowfem.errors import BowfemError, ConvergenceError, DesignError, InputError
from bowfem.findings import Lengths
from bowfem.orders.slopes import Lever, SolvedBow, sensitivities
from bowfem.units import both_lengths

Array = NDArray[np.float64]

#: Price of missing the weight, and of breaking a limit, both as shares, against the peak share of
#: yield, which changes a few times as much as the weight at most: limits come before weight.
WEIGHT_PRICE, LIMIT_PRICE = 30.0, 3000.0
#: Trust region at first and at least, as fractions of the free ranges; programmes allowed.
BOX, FINEST, ITERATIONS = 0.1, 1e-7, 60
#: Stop when the predicted improvement (fraction of yield) is below this.
GAIN = 1e-5
#: Relative error of the weight within which an order is met.
MET = 1e-3
#: Relative distance from a limit within which it counts as active.
ON_LIMIT = 2e-3
#: Digits kept of the free quantities, m or rad: a thousandth of a millimetre.
DIGITS = 6


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
    """

    yield_share: float = 0.95
    fold_share: float = 0.85
    clearance: float = 0.01

    def __post_init__(self) -> None:
        """Check the ranges."""
        for key in ("yield_share", "fold_share"):
            if not 0.0 < getattr(self, key) <= 2.0:
                raise InputError(key, getattr(self, key), "above 0, at most 2")
        if not 0.0 <= self.clearance <= 0.5:
            raise InputError("clearance", self.clearance, "between 0 and 0.5 m")


#: Default margins.
USUAL = Margins()


@dataclass(frozen=True, eq=False)
class Sizing:
    """Hold the answer to an order.

    Attributes
    ----------
    design : Design
        The bow found.
    walk : Walk
        Its walk.
    first : Walk
        Brace and full draw of the bow begun with.
    weight : float
        Weight ordered, N.
    free : tuple of tuple
        Of each free quantity: key, lower and upper bound, value before, value found; SI units.
    met : bool
        Whether the weight is that of the order, to 0.1 %, within all limits.
    binding : tuple of str
        Active limits, and ends of ranges reached.
    programmes : int
        Linear programmes solved.
    """

    design: Design
    walk: Walk
    first: Walk
    weight: float
    free: tuple[tuple[str, float, float, float, float], ...]
    met: bool
    binding: tuple[str, ...]
    programmes: int


def usual_free(design: Design) -> dict[str, tuple[float, float]]:
    """Return the default free quantities: the thickness at each mark.

    From pressed shut to 5 % less than round, m. Round marks stay round.
    """
    pipe, found = design.pipe, {}
    for side in design.written_sides:
        for number in range(1, len(design.shape(side).limb.marks) + 1):
            key = f"{side.table}.marks.{number}.thickness"
            if isinstance(design.value(key), float):
                found[key] = 2.02 * pipe.wall, 0.95 * pipe.outer_diameter
    return found


def _rows(design: Design, key: str) -> int:
    try:
        return int(design.value(key) or 0)
    except InputError:
        return 0


def figures(found: Walk, weight: float) -> Array:
    """Return weight over that ordered, then per station shares of yield and of fold, then lengths.

    Of all states the worst counts. The lengths are the least clearance on the inner half
    of the limbs beyond the fade, and the longest side of the unstrung bow, m.
    """
    shares = [np.max(limb.yield_share, axis=0) for _, limb in found.distinct_limbs]
    folds = [np.max(limb.fold_share, axis=0) for _, limb in found.distinct_limbs]
    gaps = [
        np.min(limb.clearance[:, (limb.s >= shape.fade_end) & (limb.s <= 0.5 * limb.s[-1])])
        for limb, shape in zip(found.limbs, found.design.limbs, strict=True)
    ]
    lengths = min(gaps), Lengths.from_walk(found).unstrung.longest
    return np.concatenate([[found.force[-1] / weight], *shares, *folds, lengths])


@dataclass(frozen=True, eq=False)
class _Figures:
    """The figures of one bow with its limits, ``rows @ values <= most``, all in shares."""

    values: Array
    rows: Array
    most: Array

    @classmethod
    def of(cls, values: Array, design: Design, margins: Margins) -> _Figures:
        count, longest = (values.size - 3) // 2, design.limits.longest
        rows = np.zeros((2 * count + 2, 2 * count + 3))
        rows[:, 1:] = np.eye(2 * count + 2)
        most = np.repeat([margins.yield_share, margins.fold_share, 0.0], [count, count, 2])
        gap = max(margins.clearance, 1e-3)
        rows[-2, -2], most[-2] = -1.0 / gap, -margins.clearance / gap
        rows[-1, -1], most[-1] = (1.0 / longest, 1.0) if longest else (0.0, 1.0)
        return cls(values, rows, most)

    @property
    def yields(self) -> slice:
        """Where the shares of yield are."""
        return slice(1, 1 + (self.values.size - 3) // 2)

    @property
    def folds(self) -> slice:
        """Where the shares of fold are."""
        return slice(self.yields.stop, self.values.size - 2)

    @property
    def miss(self) -> float:
        """The largest break of a limit, as a share."""
        return float(max(0.0, np.max(self.rows @ self.values - self.most)))

    @property
    def price(self) -> float:
        """What the bow costs: its peak share of yield, the miss of weight and limits."""
        peak = float(np.max(self.values[self.yields]))
        return peak + WEIGHT_PRICE * abs(self.values[0] - 1.0) + LIMIT_PRICE * self.miss


def _programme(
    now: _Figures, slopes: Array, order: tuple[Array, Array], box: tuple[Array, Array]
) -> tuple[Array, float]:
    """Solve one linear programme; return the step in shares of the ranges and its price.

    Unknown are the step, the peak share of yield, the weight's miss either way, the limits' miss.
    """
    from scipy.optimize import linprog

    peak, n = slopes[now.yields], slopes.shape[1]
    cost = np.concatenate([np.zeros(n), [1.0, WEIGHT_PRICE, WEIGHT_PRICE, LIMIT_PRICE]])
    peaks = np.hstack([peak, np.tile([-1.0, 0, 0, 0], (len(peak), 1))])
    limits = np.hstack([now.rows @ slopes, np.tile([0, 0, 0, -1.0], (len(now.rows), 1))])
    taper = np.hstack([order[0], np.zeros((len(order[0]), 4))])
    left = [-now.values[now.yields], now.most - now.rows @ now.values, order[1]]
    found = linprog(
        cost,
        np.vstack([peaks, limits, taper]),
        np.concatenate(left),
        np.concatenate([slopes[0], [0, -1, 1, 0]])[None],
        [1.0 - now.values[0]],
        [*zip(*box, strict=True), *[(0, None)] * 4],
    )
    if found.x is None:
        raise ConvergenceError(f"sizing: the linear programme failed ({found.message})")
    return found.x[:n], float(found.fun)


def _taper(design: Design, keys: list[str], span: Array, now: Array) -> tuple[Array, Array]:
    """Let no mark become thicker than the one before it: rows on the step, and what they allow."""
    rows: list[Array] = []
    allowed: list[float] = []
    place = {key: i for i, key in enumerate(keys)}
    for key in keys:
        parts = re.fullmatch(r"(limb|lower)\.marks\.(\d+)\.thickness", key)
        for other in (0, 1) if parts else ():  # the mark itself after its inner, before its outer
            assert parts is not None
            outer = f"{parts[1]}.marks.{int(parts[2]) + other}.thickness"
            inner = f"{parts[1]}.marks.{int(parts[2]) + other - 1}.thickness"
            if (other and outer in place) or int(parts[2]) + other < 2:
                continue
            if int(parts[2]) + other > _rows(design, f"{parts[1]}.marks"):
                continue
            both = [now[place[k]] if k in place else design.value(k) for k in (inner, outer)]
            value = [float(each) for each in both if isinstance(each, float)]
            if len(value) < 2:  # round
                continue
            row = np.zeros(len(keys))
            for k, sign in ((inner, -1.0), (outer, 1.0)):
                if k in place:
                    row[place[k]] = sign * span[place[k]]
            rows.append(row)
            allowed.append(max(0.0, value[0] - value[1]))
    return np.array(rows).reshape(-1, len(keys)), np.array(allowed)


def _checked(design: Design, free: Mapping[str, tuple[float, float]]) -> None:
    if not free:
        raise InputError("free", "nothing", "at least one key of the design with its bounds")
    for key, (low, high) in free.items():
        number_of(design, key)
        if not -1e3 < low < high < 1e13:
            raise InputError(key, f"{low:g} .. {high:g}", "bounds of which the lower comes first")


def size(
    design: Design,
    weight: float,
    free: Mapping[str, tuple[float, float]] | None = None,
    margins: Margins = USUAL,
) -> Sizing:
    """Find the mildest bow that draws a weight at the design's draw length.

    Parameters
    ----------
    design : Design
        The bow to begin with; it must brace and draw.
    weight : float
        Weight ordered at its full draw, N.
    free : mapping of str to (float, float), optional
        What may change: key of the design file, lower and upper bound in SI units. By default the
        thickness at the marks.
    margins : Margins, optional
        What the bow keeps to, with `limits` of the design.

    Returns
    -------
    Sizing
        The bow, and its active limits. An order out of reach gets the nearest bow found.

    Raises
    ------
    InputError
        An argument cannot be used.
    ConvergenceError
        The bow to begin with cannot be braced or drawn.

    Notes
    -----
    Least over the free quantities is the largest share of yield on the limbs, brace and full draw,
    under weight, margins and a thickness that does not grow outward. The elastic price of weight
    and limits is exact: it moves no bow that can meet them.
    """
    if not (np.isfinite(weight) and weight > 0.0):
        raise InputError("weight", f"{weight:g} N", "above 0")
    free = usual_free(design) if free is None else dict(free)
    _checked(design, free)
    keys = list(free)
    low, high = (np.array([free[key][i] for key in keys]) for i in (0, 1))
    span = high - low
    before = np.array([number_of(design, key) for key in keys])
    design = spelled_out(design, keys)
    x = np.clip(before, low, high)

    def made(x: Array) -> Design:
        return design.with_values(dict(zip(keys, map(float, x), strict=True)))

    def read(found: Walk) -> Array:
        return figures(found, weight)

    def judged(found: Walk) -> _Figures:
        return _Figures.of(read(found), found.design, margins)

    solved = SolvedBow.from_design(made(x), not design.is_symmetric)
    first, now = solved.walk, judged(solved.walk)
    box, programmes, refused = BOX, 0, ""
    slopes: Array | None = None
    while programmes < ITERATIONS and box > FINEST:
        last = solved.bow.design
        if slopes is None:
            _, slopes = sensitivities(last, [Lever.from_key(last, k) for k in keys], read, solved)
            slopes = slopes * span
        u = (x - low) / span
        sides = np.maximum(-box, -u), np.minimum(box, 1.0 - u)
        step, promised = _programme(now, slopes, _taper(last, keys, span, x), sides)
        programmes += 1
        if now.price - promised < GAIN:
            break
        wanted = np.clip(x + step * span, low, high)
        try:
            tried = _next(solved, made(wanted))
            new = judged(tried.walk)
        except BowfemError as error:  # no such design, or it cannot be braced or drawn
            refused = str(error.faults[0] if isinstance(error, DesignError) else error)
            box *= 0.25
            continue
        gained = (now.price - new.price) / (now.price - promised)
        if gained < 0.05:
            box *= 0.25
            continue
        x, solved, now, slopes = wanted, tried, new, None
        box = min(2.0 * box, 1.0) if gained > 0.7 else box
        refused = ""
    x = np.clip(np.round(x, DIGITS), low, high)
    walked = walk(made(x))
    if walked.ending is not Ending.COMPLETE:
        raise ConvergenceError(f"sizing: the bow found does not reach its draw: {walked.message}")
    now = judged(walked)
    leaning = _binding(walked, now, margins, keys, (x - low) / span)
    return Sizing(
        walked.design,
        walked,
        first,
        weight,
        tuple((k, *free[k], float(a), float(b)) for k, a, b in zip(keys, before, x, strict=True)),
        abs(now.values[0] - 1.0) <= MET and now.miss <= ON_LIMIT,
        leaning + ((f"the design itself: {refused}",) if refused else ()),
        programmes,
    )


def _next(solved: SolvedBow, design: Design) -> SolvedBow:
    """Solve the next bow, starting from the last one if possible."""
    try:
        return solved.neighbour(design)
    except (ConvergenceError, InputError):
        return SolvedBow.from_design(design, not solved.bow.symmetric)


def _binding(
    found: Walk, now: _Figures, margins: Margins, keys: list[str], u: Array
) -> tuple[str, ...]:
    """Name the active limits."""
    places = [(float(s), limb_text(side)) for side, limb in found.distinct_limbs for s in limb.s]
    named = []
    for text, part, most in (
        ("margin to yield", now.values[now.yields], margins.yield_share),
        ("margin to folding", now.values[now.folds], margins.fold_share),
    ):
        if np.max(part) >= most * (1.0 - ON_LIMIT):
            s, limb = places[int(np.argmax(part))]
            named.append(f"{text}, {both_lengths(s)} from the centre{limb}")
    if now.values[-2] <= margins.clearance * (1.0 + ON_LIMIT):
        named.append("clearance of the string")
    longest = found.design.limits.longest
    if longest is not None and now.values[-1] >= longest * (1.0 - ON_LIMIT):
        named.append("limits.longest, the parcel")
    for key, at in zip(keys, u, strict=True):
        if not ON_LIMIT < at < 1.0 - ON_LIMIT:
            named.append(f"{key} at its {'lower' if at <= ON_LIMIT else 'upper'} bound")
    return tuple(named)
