"""A stress-strain law through the points of a maker's own test."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from bowfem.errors import InputError
from bowfem.section._checks import finite, positive
from bowfem.section.law import Array, Law


@dataclass(frozen=True)
class Tabulated(Law):
    """Run a smooth monotone curve through the points of a test.

    Parameters
    ----------
    strains : sequence of float, shape (n_points,)
        Strains of the test, increasing; negative ones are compression. Zero may be left out.
    stresses : sequence of float, shape (n_points,)
        Stresses, Pa, never falling. Without compression points the curve is mirrored.

    Raises
    ------
    InputError
        When there are fewer than two points in tension, when the strains do not increase, when
        a stress falls or has the sign opposite to its strain.

    Notes
    -----
    Piecewise cubic with slopes limited to keep it monotone: weighted harmonic means of the
    neighbouring secants (F. N. Fritsch and J. Butland 1984, M). Beyond the last point it runs on
    with the last slope; `limit_strain` says how far the test reaches. Yield is the last point.

    Examples
    --------
    >>> law = Tabulated((0.01, 0.02, 0.03), (27e6, 43e6, 50e6))
    >>> round(float(law.stress(0.015)) / 1e6, 2), law.limit_strain
    (36.29, 0.03)
    """

    strains: Sequence[float]
    stresses: Sequence[float]

    def __post_init__(self) -> None:
        """Refuse what is no monotone curve; keep plain tuples, so that laws can be hashed."""
        super().__post_init__()
        strains = tuple(finite("strains", value) for value in np.atleast_1d(self.strains).tolist())
        stresses = tuple(
            finite("stresses", value) for value in np.atleast_1d(self.stresses).tolist()
        )
        if len(stresses) != len(strains):
            raise InputError("stresses", f"{len(stresses)} values", f"{len(strains)}, as strains")
        if sum(strain > 0.0 for strain in strains) < 2:
            raise InputError("strains", strains, "at least two points in tension, above 0")
        pairs = list(zip(strains, stresses, strict=True))
        for (before, low), (after, high) in pairwise(pairs):
            if after <= before:
                raise InputError("strains", after, f"increasing: above {before:.6g}")
            if high < low:
                raise InputError("stresses", high, f"never falling: at least {low:.6g} Pa")
        for strain, stress in pairs:
            if (strain == 0.0) != (stress == 0.0) or strain * stress < 0.0:
                raise InputError("stresses", stress, f"of the sign of the strain, {strain:.6g}")
        object.__setattr__(self, "strains", strains)
        object.__setattr__(self, "stresses", stresses)

    @cached_property
    def _curve(self) -> tuple[Array, Array, Array, Array]:
        """Knots: strain, stress, slope, and energy from rest, with the origin put in."""
        x, y = np.array(self.strains), np.array(self.stresses)
        if x[0] >= 0.0:
            keep = x > 0.0
            x = np.concatenate([-x[keep][::-1], [0.0], x[keep]])
            y = np.concatenate([-y[keep][::-1], [0.0], y[keep]])
        elif not np.any(x == 0.0):
            at = int(np.searchsorted(x, 0.0))
            x, y = np.insert(x, at, 0.0), np.insert(y, at, 0.0)
        slope = _monotone_slopes(x, y)
        h = np.diff(x)
        work = h * (y[1:] + y[:-1]) / 2.0 - h**2 * np.diff(slope) / 12.0
        energy = np.concatenate([[0.0], np.cumsum(work)])
        return x, y, slope, energy - energy[np.searchsorted(x, 0.0)]

    def _cell(self, strain: ArrayLike) -> tuple[Array, Array, tuple[Array, ...]]:
        """Return the strain past the cell's left knot, held inside and left over, and the cubic."""
        x, y, slope, energy = self._curve
        strain = np.asarray(strain, dtype=float)
        inside = np.clip(strain, x[0], x[-1])
        i = np.clip(np.searchsorted(x, inside, side="right") - 1, 0, len(x) - 2)
        h = x[i + 1] - x[i]
        secant = (y[i + 1] - y[i]) / h
        cubic = (slope[i] + slope[i + 1] - 2.0 * secant) / h**2
        square = (3.0 * secant - 2.0 * slope[i] - slope[i + 1]) / h
        return inside - x[i], strain - inside, (energy[i], y[i], slope[i], square, cubic)

    def stress_and_tangent(self, strain: ArrayLike) -> tuple[Array, Array]:
        """Return stress and slope, Pa, shaped as the strain."""
        u, beyond, (_, value, slope, square, cubic) = self._cell(strain)
        tangent = slope + u * (2.0 * square + 3.0 * u * cubic)
        return value + u * (slope + u * (square + u * cubic)) + tangent * beyond, tangent

    def energy(self, strain: ArrayLike) -> Array:
        """Return the area under the curve from rest, J/m3, shaped as the strain."""
        u, beyond, (work, value, slope, square, cubic) = self._cell(strain)
        stress = value + u * (slope + u * (square + u * cubic))
        tangent = slope + u * (2.0 * square + 3.0 * u * cubic)
        inner = u * (value + u * (slope / 2.0 + u * (square / 3.0 + u * cubic / 4.0)))
        return work + inner + beyond * (stress + 0.5 * beyond * tangent)

    def scaled(self, factor: float) -> Self:
        """Copy the law with every stress multiplied by a factor."""
        positive("factor", factor)
        return replace(self, stresses=tuple(factor * stress for stress in self.stresses))

    @property
    def limit_strain(self) -> float:
        """Strain up to which both sides rest on test points."""
        return min(self.yield_strains())

    @property
    def yield_tension(self) -> float:
        """Last tensile stress of the test, Pa."""
        return self.yields()[0]

    @property
    def yield_compression(self) -> float:
        """Last compressive stress of the test, positive, Pa."""
        return self.yields()[1]

    def yields(self) -> tuple[float, float]:
        """Return the last stresses of the test in tension and compression, Pa."""
        _, stress, _, _ = self._curve
        return float(stress[-1]), float(-stress[0])

    def yield_strains(self) -> tuple[float, float]:
        """Return the last strains of the test in tension and compression."""
        strain, _, _, _ = self._curve
        return float(strain[-1]), float(-strain[0])


def _monotone_slopes(x: Array, y: Array) -> Array:
    """Return slopes at the knots that keep the cubic monotone."""
    h, secant = np.diff(x), np.diff(y) / np.diff(x)
    before, after = 2.0 * h[1:] + h[:-1], h[1:] + 2.0 * h[:-1]
    with np.errstate(divide="ignore"):
        inner = (before + after) / (before / secant[:-1] + after / secant[1:])
    ends = []
    for h0, h1, s0, s1 in (
        (h[0], h[1], secant[0], secant[1]),
        (h[-1], h[-2], secant[-1], secant[-2]),
    ):
        slope = ((2.0 * h0 + h1) * s0 - h0 * s1) / (h0 + h1)
        ends.append(min(max(slope, 0.0), 3.0 * s0))
    return np.concatenate([[ends[0]], inner, [ends[1]]])
