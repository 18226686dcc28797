"""A limb with a curl under the string and a law that softens, its numbers our own."""

from __future__ import annotations

import numpy as np

from bowfem.rod import MomentTable, Path, Rod, TautString, clamp, pull, rest_length

LENGTH, CURL = 0.66, 0.50  # m, the curl is the rest
BRACE, FULL, DRAWS = 0.16, 0.60, 40  # nock from the handle's plane, m
KNOTS, SOFT = 61, 2.5  # the law's slope has halved at about this change of curvature, 1/m


def law(rod: Rod) -> MomentTable:
    """``M = EI k / sqrt(1 + (k / c)^2)``, to four times ``c``."""
    k = np.broadcast_to(np.linspace(-4 * SOFT, 4 * SOFT, KNOTS), (*rod.EI.shape, KNOTS)).copy()
    root = np.sqrt(1.0 + (k / SOFT) ** 2)
    EI = rod.EI[..., None]
    return MomentTable(k, EI * k / root, EI / root**3)


def curled_limb(*, curl: bool) -> tuple[Rod, TautString, float]:
    """Build limb and string; the natural length is 15 mm short of lying taut at rest.

    Without the curl the same limb, mesh and law: its string touches nowhere.
    """
    nodes = np.concatenate([np.linspace(0.0, CURL, 7), np.linspace(CURL, LENGTH, 5)[1:]])
    rod = Rod.from_curvature(
        nodes,
        EI=lambda s: 45.0 - 50.0 * s,
        curvature0=lambda s: np.where(s > CURL, -9.0 if curl else 0.0, 0.0),
        EA=1e6,
        GA=2e5,
        belly=0.008,
    )
    rod = rod.with_table(law(rod))
    return rod, TautString(EA=1e5), rest_length(rod, (0.0, BRACE))


def walk_limb(limb: tuple[Rod, TautString, float]) -> Path:
    """Brace, then draw."""
    rod, string, rest = limb
    y = np.linspace(BRACE, FULL, DRAWS + 1)
    nock = np.column_stack([np.zeros(y.size), y])
    return pull(rod, [clamp(0)], string, nock, rest - 0.015, begin=(0.0, BRACE, rest))
