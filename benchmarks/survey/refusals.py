"""Bows that are refused, looked at by shooting: is there a braced bow below the fold after all?

    python -m benchmarks.survey.refusals [--refused N] [--seed N] [--wild]

None of the rod's code: the limb is integrated from the handle (Runge and Kutta's fourth order) as a
beam that bends, stretches and shears, on its laws of moment as tabulated. At brace the string runs
straight along the bow at the brace height, so that each tension gives one limb, and a braced bow is
a tension at which the tip's groove lies on the string, or the belly where it first runs along it.
On the belly it has to press all the way to the groove: one that would lift off again and span from
curl to curl is named and not followed.
All tensions are looked at, up to where a section passes its limit. A braced bow stays so, and a
stringer that bends the limbs first can reach it, where a higher brace takes a shorter string.

Looked at are bows of two limbs alike, given by their brace height; not whether one limb gives way
to the other.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchmarks.survey import maker, takes_wild
from bowfem.bow import Ending, walk
from bowfem.bow.bracing import BraceError
from bowfem.bow.limb_model import sections_at
from bowfem.design import Design
from bowfem.errors import BowfemError
from bowfem.section import SectionResponse

Array = NDArray[np.float64]

#: Steps along the limb, parts of a cell of its tables, tensions looked at, and halvings of a root.
STEPS, PARTS, TENSIONS, HALVINGS = 200, 16, 400, 30
#: Share of a section's largest moment from which on a root is too near to it to speak against a
#: refusal: the string's bend at the groove and the steps leave so much open.
NEAR = 0.995
#: Rise of the belly's angle, rad, by which a string on it still counts as pressing.
PRESSES = 1e-3
#: Change of brace height by which the string's length is compared, and the most that this changes
#: by, m.
NUDGE, LIKE = 2e-4, 2e-3
NOT, NONE, FOUND = "not looked at", "none below the fold", "one below the fold"
FOLDS, STAYS_NOT = "one at the fold", "one that does not stay so"
LIFTS = "one whose string would lift off the belly again"


@dataclass(frozen=True)
class Laws:
    """The limb as it is integrated, at the ends and middles of the steps, (n,).

    Places, angles unstrung; moments up to the limits and the change of curvature that they make;
    from the axis to a string on the belly; stiffness against stretch and shear, N.
    """

    s: Array
    angle: Array
    moment: tuple[Array, ...]
    curvature: tuple[Array, ...]
    offset: Array
    stretch: Array
    shear: Array

    @classmethod
    def from_design(cls, design: Design) -> Laws:
        """Tabulate a limb."""
        shape = design.limbs[0]
        s = np.linspace(0.0, shape.nock_station, 2 * STEPS + 1)
        inside = np.clip(s, 1e-9, shape.nock_station - 1e-9)
        sections = sections_at(design, shape, inside)
        share = np.linspace(-1.0, 1.0, (sections.curvature.shape[1] - 1) * PARTS + 1)
        k = share * sections.curvature[:, -1:]
        moment = _cubic(sections)
        up = np.where(np.isnan(sections.limit), np.inf, sections.limit)[:, None]
        back = sections.mirrored().limit
        down = -np.where(np.isnan(back), np.inf, back)[:, None]
        good = (k <= up) & (k >= down)  # moments rise so far: each belongs to one curvature
        rows = range(s.size)
        offset = 0.5 * (sections.thickness + design.string.thickness)
        return cls(
            s,
            shape.natural_angle(s),
            tuple(np.maximum.accumulate(moment[i][good[i]]) for i in rows),
            tuple(k[i][good[i]] for i in rows),
            offset,
            sections.axial_stiffness,
            sections.shear_stiffness,
        )

    def bending(self, at: int, moment: Array) -> Array:
        """Return the change of curvature under moments; not a number beyond the limit."""
        return np.interp(moment, self.moment[at], self.curvature[at], np.nan, np.nan)


def _cubic(sections: SectionResponse) -> Array:
    """Read moments between their knots by the cubic of values and slopes."""
    m, t, k = sections.moment, sections.tangent, sections.curvature
    h, u = (k[:, 1:] - k[:, :-1])[..., None], np.arange(PARTS) / PARTS
    a, b = m[:, :-1, None], m[:, 1:, None]
    va, vb = h * t[:, :-1, None], h * t[:, 1:, None]
    cell = (
        a * (1.0 + 2.0 * u) * (1.0 - u) ** 2
        + va * u * (1.0 - u) ** 2
        + b * u**2 * (3.0 - 2.0 * u)
        - vb * u**2 * (1.0 - u)
    )
    return np.concatenate([cell.reshape(len(m), -1), m[:, -1:]], axis=1)


@dataclass(frozen=True)
class Limbs:
    """Limbs under some tensions, (n,).

    How far groove or belly is above the string, the string's half length, the largest share of the
    moment that a section bears; and how far above the limb the string stays, or how firmly on it.
    """

    gap: Array
    half: Array
    share: Array
    clear: Array

    def which(self, of: Array) -> Limbs:
        """Pick some."""
        return Limbs(self.gap[of], self.half[of], self.share[of], self.clear[of])


def limbs(laws: Laws, tension: Array, height: float, on_belly: bool) -> Limbs:
    """Integrate limbs, each under a tension, the string at a height above the bow's centre, m.

    It runs free from groove to groove, or comes to lie on the belly where that first runs along
    the bow, and stays there up to the groove.
    """
    n, step, length = tension.size, float(laws.s[2]), float(laws.s[-1])
    x, y, bent, before, share = (np.zeros(n) for _ in range(5))
    lies, clear, lowest = np.full(n, False), np.full(n, np.inf), np.zeros(n)
    gap, half = np.full(n, np.nan), np.full(n, np.nan)

    def rates(at: int, y: Array, bent: Array) -> tuple[Array, Array, Array]:
        angle = laws.angle[at] + bent
        moment = tension * np.where(lies, laws.offset[at], height - y)
        along = 1.0 - np.where(lies, 1.0, np.cos(angle)) * tension / laws.stretch[at]
        across = np.where(lies, 0.0, np.sin(angle)) * tension / laws.shear[at]
        c, s = np.cos(angle), np.sin(angle)
        return along * c - across * s, along * s + across * c, laws.bending(at, moment)

    for i in range(STEPS):
        at = 2 * i
        one = rates(at, y, bent)
        two = rates(at + 1, y + 0.5 * step * one[1], bent + 0.5 * step * one[2])
        three = rates(at + 1, y + 0.5 * step * two[1], bent + 0.5 * step * two[2])
        four = rates(at + 2, y + step * three[1], bent + step * three[2])
        x, y, bent = (
            z + step / 6.0 * (a + 2.0 * b + 2.0 * c + d)
            for z, a, b, c, d in zip((x, y, bent), one, two, three, four, strict=True)
        )
        angle = laws.angle[at + 2] + bent
        moment = tension * np.where(lies, laws.offset[at + 2], height - y)
        most = np.where(moment > 0.0, laws.moment[at + 2][-1], -laws.moment[at + 2][0])
        share = np.maximum(share, np.abs(moment) / most)
        if on_belly:
            new = ~lies & (before > 0.0) & (angle <= 0.0)
            back = np.where(new, step * angle / (angle - before), 0.0)  # where the angle is nought
            gap = np.where(new, y + laws.offset[at + 2] - height, gap)
            half = np.where(new, x - back + length - (laws.s[at + 2] - back), half)
            lowest = np.where(lies, np.fmin(lowest, angle), angle)
            clear = np.where(lies, np.fmin(clear, PRESSES - (angle - lowest)), clear)
            lies, before = lies | new, angle
        elif i < STEPS - 3:
            clear = np.fmin(clear, height - y - laws.offset[at + 2] * np.cos(angle))
    if not on_belly:
        angle = laws.angle[-1] + bent
        gap = y + laws.offset[-1] * np.cos(angle) - height
        half = x - laws.offset[-1] * np.sin(angle)
    return Limbs(np.where(np.isnan(share), np.nan, gap), half, share, clear)


def braced(laws: Laws, height: float) -> list[Limbs]:
    """Find all braced limbs below their limits, of a free string and of one on the belly.

    A free string that runs through the limb makes none; one that does not press stays listed.
    """
    most = max(float(moment[-1]) for moment in laws.moment) / 1e-3
    found = []
    for on_belly in (False, True):
        tension = np.geomspace(1e-3, most, TENSIONS)
        each = limbs(laws, tension, height, on_belly)
        ends = np.flatnonzero(np.isnan(each.gap[:-1]) != np.isnan(each.gap[1:]))
        open_low = np.isnan(each.gap[ends])  # up to the last tension that a limb bears
        borne, not_borne = (
            np.where(way, tension[ends + 1], tension[ends]) for way in (open_low, ~open_low)
        )
        for _ in range(HALVINGS if ends.size else 0):
            middle = 0.5 * (borne + not_borne)
            bears = ~np.isnan(limbs(laws, middle, height, on_belly).gap)
            borne, not_borne = (
                np.where(bears, middle, borne),
                np.where(bears, not_borne, middle),
            )
        tension = np.unique(np.concatenate([tension, borne]))
        each = limbs(laws, tension, height, on_belly)
        here = np.flatnonzero(each.gap[:-1] * each.gap[1:] < 0.0)
        low, high, sign = tension[here], tension[here + 1], np.sign(each.gap[here])
        for _ in range(HALVINGS if here.size else 0):
            middle = 0.5 * (low + high)
            same = np.sign(limbs(laws, middle, height, on_belly).gap) == sign
            low, high = np.where(same, middle, low), np.where(same, high, middle)
        one = limbs(laws, low, height, on_belly)
        found.append(one if on_belly else one.which(one.clear >= -1e-9))
    return found


def verdict(design: Design) -> str:
    """Say what shooting makes of a bow."""
    height = design.string.brace_height
    if height is None or not design.is_symmetric:
        return NOT
    laws, above = Laws.from_design(design), design.pivot_distance + height
    found, higher, said = braced(laws, above), braced(laws, above + NUDGE), NONE
    for here, there in zip(found, higher, strict=True):
        for half, share, clear in zip(here.half, here.share, here.clear, strict=True):
            if share > NEAR:
                said = FOLDS
            elif clear < 0.0:
                said = LIFTS
            elif not np.any((there.half < half) & (there.half > half - LIKE)):
                said = STAYS_NOT
            else:
                return FOUND
    return said


def main(argv: list[str] | None = None) -> int:
    """Look at refused bows and print; return how many verdicts shooting speaks against."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--refused", type=int, default=100, help="bows refused (100)")
    parser.add_argument("--seed", type=int, default=0, help="another seed, other bows (0)")
    parser.add_argument(
        "--braced", action="store_true", help="look at bows that are braced: a check"
    )
    takes_wild(parser)
    given = parser.parse_args(argv)
    make, number, looked = maker(given), -1, 0
    count: Counter[tuple[str, str]] = Counter()
    wrong = []
    while looked < given.refused:
        number += 1
        design = make(given.seed, number)
        try:
            walk(design, accuracy=None)
            told = "braced"
        except BraceError:
            try:
                walk(design)  # a refusal stands where a finer mesh gives it, too
                continue
            except BraceError as error:
                if error.ending is Ending.TURNS_OVER:
                    continue
                told = error.ending.text.partition(":")[0]
        except BowfemError:
            continue
        if (told == "braced") != given.braced:
            continue
        found = verdict(design)
        if found == NOT:
            continue
        looked += 1
        count[told, found] += 1
        if found == (NONE if given.braced else FOUND):
            wrong.append(f"bow {number}: {told}; by shooting: {found}")
    for (told, found), many in count.most_common():
        print(f"{many:6d}  {told}; braced bows by shooting: {found}")
    for text in wrong:
        print(text)
    print(f"{looked} bows of {number + 1}, {len(wrong)} verdicts spoken against")
    return len(wrong)


if __name__ == "__main__":
    sys.exit(min(main(), 1))
