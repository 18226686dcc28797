"""From a design to weight and string: Wagtail, against an integration of its limb from the handle.

The integration shares the limb's sections with the package and nothing else: Runge and Kutta's
fourth order along the pipe, the string a straight elastic line, force and its direction found by
SciPy's `root`. The limb bends by its tabulated law, stretches and shears by its stiffness at rest.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.optimize import brentq, root

from benchmarks.cases import HERE, Array, Case
from bowfem.bow import sections_at, walk
from bowfem.design import Design

FILE = Path(HERE).parent / "examples" / "designs" / "wagtail.toml"
#: Steps in each stretch between corners, and draws on the way to the last.
STEPS, ON_THE_WAY = 30, 6


@dataclass(frozen=True)
class Limb:
    """What is integrated, at starts, middles and ends of the steps of each stretch."""

    s: Array
    angle: Array
    laws: list[tuple[Array, Array, Array]]
    EA: Array
    GA: Array
    offset: float
    EA_string: float

    @classmethod
    def from_design(cls, design: Design) -> "Limb":
        """Tabulate the upper limb."""
        shape = design.limbs[0]
        ends = [
            0.0,
            *(b for b in shape.breaks if b < shape.nock_station - 1e-6),
            shape.nock_station,
        ]
        s = np.concatenate([np.linspace(a, b, 2 * STEPS + 1) for a, b in pairwise(ends)])
        inside = s.copy()  # a corner belongs to the stretch that ends and to the one that begins
        inside[:: 2 * STEPS + 1] += 1e-10
        inside[2 * STEPS :: 2 * STEPS + 1] -= 1e-10
        made = sections_at(design, shape, inside)
        laws = list(zip(made.curvature, made.moment, made.tangent, strict=True))
        offset = 0.5 * float(made.thickness[-1] + design.string.thickness)
        stretch, shear = made.axial_stiffness, made.shear_stiffness
        angle = shape.natural_angle(s)
        return cls(s, angle, laws, stretch, shear, offset, design.string.stiffness)

    def bending(self, at: int, moment: float) -> float:
        """Return the change of curvature under a moment: a root of the table's cubic."""
        k, m, t = self.laws[at]
        i = k.size // 2
        while m[i + 1] < moment:
            i += 1
        while m[i] > moment:
            i -= 1
        if not 0 < i < k.size - 1:
            raise ValueError("beyond the law")
        h = k[1] - k[0]
        u = (moment - m[i]) / (m[i + 1] - m[i])
        for _ in range(4):
            v, rise = 1.0 - u, m[i + 1] - m[i]
            value = m[i] + rise * u * u * (3.0 - 2.0 * u) + h * u * v * (t[i] * v - t[i + 1] * u)
            slope = 6.0 * rise * u * v + h * (
                t[i] * v * (1.0 - 3.0 * u) - t[i + 1] * u * (2.0 - 3.0 * u)
            )
            u += (moment - value) / slope
        return float(k[i] + h * u)

    def end(self, nock: float, tension: float, lean: float) -> Array:
        """Return the groove's place: the string pulls toward a nock point, leaning from the bow."""
        fx, fy = -tension * np.cos(lean), tension * np.sin(lean)

        def rate(at: int, state: Array) -> Array:
            x, y, bent = state
            angle = self.angle[at] + bent
            along, across = np.cos(angle), np.sin(angle)
            longer = 1.0 + (fx * along + fy * across) / self.EA[at]
            slid = (fy * along - fx * across) / self.GA[at]
            k = self.bending(at, -x * fy - (nock - y) * fx)
            return np.array([longer * along - slid * across, longer * across + slid * along, k])

        state = np.zeros(3)
        for first in range(0, self.s.size, 2 * STEPS + 1):
            for at in range(first, first + 2 * STEPS, 2):
                h = self.s[at + 2] - self.s[at]
                one = rate(at, state)
                two = rate(at + 1, state + 0.5 * h * one)
                three = rate(at + 1, state + 0.5 * h * two)
                four = rate(at + 2, state + h * three)
                state = state + h / 6.0 * (one + 2.0 * two + 2.0 * three + four)
        angle = self.angle[-1] + state[2]
        return state[:2] + self.offset * np.array([-np.sin(angle), np.cos(angle)])


@cache
def shot_through() -> dict[str, float]:
    """Brace the bow, then draw it."""
    design = Design.from_file(FILE)
    limb, pivot, height = (
        Limb.from_design(design),
        design.pivot_distance,
        design.string.brace_height,
    )
    assert height is not None
    nock = pivot + height
    low = high = 10.0
    while limb.end(nock, high, 0.0)[1] < nock:
        low, high = high, 1.1 * high
    braced = brentq(lambda t: limb.end(nock, t, 0.0)[1] - nock, low, high, xtol=1e-11)
    half = limb.end(nock, braced, 0.0)[0] / (1.0 + braced / limb.EA_string)
    guess = np.array([braced, 0.0])
    for at in np.linspace(nock, pivot + design.pivot_draw, ON_THE_WAY + 1)[1:]:

        def apart(unknown: Array, at: float = float(at)) -> Array:
            tension, lean = unknown
            x, y = limb.end(at, tension, lean)
            length = half * (1.0 + tension / limb.EA_string)
            return np.array(
                [np.hypot(x, at - y) - length, (at - y) * np.cos(lean) - x * np.sin(lean)]
            )

        found = root(apart, guess, tol=1e-13)
        guess = found.x
    tension, lean = guess
    return {
        "tension at brace": braced,
        "string between grooves": 2.0 * half,
        "tension drawn": float(tension),
        "weight": float(2.0 * tension * np.sin(lean)),
    }


def run(refine: int) -> Mapping[str, float]:
    """Walk the bow."""
    found = walk(Design.from_file(FILE), refine=refine)
    return {
        "tension at brace": found.brace_tension,
        "string between grooves": found.string_length,
        "tension drawn": float(found.tension[-1]),
        "weight": float(found.force[-1]),
    }


CASE = Case(
    title="a bow from its design to full draw (Wagtail)",
    source="integration of the limb's equations, SciPy's root and brentq",
    kind="recomputed digits (shooting, on the package's sections)",
    expected=shot_through(),
    run=run,
    tolerance=5e-7,
    reason="corners of the limb; the integration's own steps",
    n_elements=2,
)
