"""Shallow sine arch on fixed hinges under a sine load: both limits of its snap-through.

One half of the arch, its crown on a guide: the symmetric branch. Shallow theory neglects the square
of the slope, so arches of two rises are extrapolated to none.
"""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case
from bowfem.rod import LineLoad, Rod, follow_arc_length, guide, pin

#: Rise over the section's radius of gyration; snap-through begins above 2.
SLENDER = np.array([3.0, 4.0, 6.0])
RISES = (2e-3, 1e-3)  # over the span


def limits() -> dict[str, Array]:
    """Find the limits of ``q = 1 - z + (m^2/4) (1 - z^2) z`` in the crown's height ``z``.

    Heights are over the rise, loads over ``EI rise (pi / span)^4``, ``m`` is rise over radius of
    gyration: one sine wave satisfies ``EI (y - y0)'''' + H y'' = -q`` exactly, with the thrust
    ``H = EA (pi / 2 span)^2 (rise^2 - height^2)``.
    """
    half = np.sqrt((1.0 - 4.0 / SLENDER**2) / 3.0)
    z = {"up": half, "down": -half}
    load = {f"q, {k}": 1.0 - x + SLENDER**2 / 4.0 * (1.0 - x**2) * x for k, x in z.items()}
    return load | {f"z, {k}": x for k, x in z.items()}


def slope(x: Array, rise: float) -> Array:
    """Slope of a sine of unit span."""
    return np.pi * rise * np.cos(np.pi * x)


def arc(x: Array, rise: float) -> Array:
    """Arc length from its left end."""
    t, w = np.polynomial.legendre.leggauss(40)
    at = 0.5 * x[..., None] * (t + 1.0)
    return 0.5 * x * (np.hypot(1.0, slope(at, rise)) @ w)


def place(s: Array, rise: float) -> Array:
    """Place along the span of an arc length."""
    x = s.copy()
    for _ in range(20):
        x = x - (arc(x, rise) - s) / np.hypot(1.0, slope(x, rise))
    return x


def bend(s: Array, rise: float) -> Array:
    """Curvature at an arc length."""
    x = place(s, rise)
    return -(np.pi**2) * rise * np.sin(np.pi * x) / (1.0 + slope(x, rise) ** 2) ** 1.5


def with_rise(n_elements: int, rise: float) -> Array:
    """Trace arches of this rise; loads and heights at the limits, (4, n)."""
    nodes = arc(np.linspace(0.0, 0.5, n_elements + 1), rise)
    load = LineLoad(y=lambda s: -rise * np.pi**4 * np.sin(np.pi * place(s, rise)))
    found = []
    for slender in SLENDER:
        arch = Rod.from_curvature(
            nodes,
            EI=1.0,
            EA=(slender / rise) ** 2,
            curvature0=lambda s: bend(s, rise),
            angle=np.arctan(np.pi * rise),
        )
        path = follow_arc_length(
            arch,
            [pin(0), guide(-1, along="y")],
            [load],
            step=0.2,
            states=200,
            until=lambda new: new.tip[-1, 1] < -rise,
        )
        at = list(path.limits[:2])
        found.append([*path.factor[at], *(path.tip[at, 1] / rise)])
    return np.array(found).T


def run(n_elements: int) -> Mapping[str, Array]:
    """Extrapolate to a shallow arch: what is left out goes with the square of the rise."""
    tall, low = (with_rise(n_elements, rise) for rise in RISES)
    names = ("q, up", "q, down", "z, up", "z, down")
    return dict(zip(names, (4.0 * low - tall) / 3.0, strict=True))


CASE = Case(
    title="shallow sine arch, both limits",
    source="Fung, Kaplan, NACA TN 2840, 1952 (from memory); closed form of one sine wave",
    kind="closed form",
    expected=limits(),
    run=run,
    tolerance=1e-5,
    reason="heights are over a rise of 1/1000: a limit's place is good to 1e-8 of the span",
    n_elements=4,
    floor=1.0,
)
