"""Thin tube of a plastic stiffer in compression, in bending: where it is neutral."""

from collections.abc import Mapping

import numpy as np
from scipy.optimize import brentq

from benchmarks.cases import Array, Case
from bowfem.section import Pipe, Tabulated, circle, section_response

TENSION, COMPRESSION = 2e9, 3e9
PIPE = Pipe(0.1, 1e-4)
RADIUS = 0.5 * PIPE.mid_diameter


def force(c: float) -> float:
    """Return the axial force of a ring bent about a line c R from its middle, to a scale."""
    a = np.arccos(c)
    return TENSION * (np.sin(a) - c * a) - COMPRESSION * (np.sin(a) + c * (np.pi - a))


def stiffness(c: float) -> float:
    """Return the bending stiffness about that line over that of one modulus, `TENSION`."""

    def moment(first: float, last: float) -> float:
        square = 0.5 * (last - first) + 0.25 * (np.sin(2.0 * last) - np.sin(2.0 * first))
        return square - c * (np.sin(last) - np.sin(first))

    a = np.arccos(c)
    return 2.0 * (moment(0.0, a) + COMPRESSION / TENSION * moment(a, np.pi)) / np.pi


NEUTRAL = brentq(force, -0.9, 0.9, xtol=1e-15)


def run(_: int) -> Mapping[str, Array]:
    """Bend a tube whose law has two slopes."""
    strain = np.concatenate([np.linspace(-0.05, 0.0, 6)[:-1], [-1e-3, 1e-3], np.arange(1, 6) / 100])
    law = Tabulated(strain, np.where(strain > 0.0, TENSION, COMPRESSION) * strain)
    found = section_response(circle(PIPE), law)
    k, m, e = found.curvature[-3], found.moment[-3], found.axial_strain[-3]
    scale = TENSION * np.pi * RADIUS**3 * PIPE.wall
    return {"EI": np.array([m / k / scale]), "neutral axis": np.array([abs(e) / k / RADIUS])}


CASE = Case(
    title="thin tube of two moduli in bending",
    source="closed form; no force on a ring with a modulus for each sign",
    kind="closed form",
    expected={"EI": stiffness(NEUTRAL), "neutral axis": abs(NEUTRAL)},
    run=run,
    tolerance=1e-4,
    reason="the law has a corner where it is neutral",
    floor=1.0,
)
