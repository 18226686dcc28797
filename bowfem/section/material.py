"""The stress-strain laws a maker can choose from, and rigid PVC."""

import math
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Self, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from bowfem.section._checks import between, positive
from bowfem.section.law import PROVENANCE, Array, Figure, Law
from bowfem.section.tabulated import Tabulated

__all__ = [
    "PROVENANCE",
    "RIGID_PVC",
    "Figure",
    "Law",
    "Linear",
    "RambergOsgood",
    "Saturating",
    "Tabulated",
]

#: Share of its saturation stress at which a saturating law is said to yield. It never reaches
#: the stress itself, so a mark is needed; this one is a convention of this package (D).
SATURATING_YIELD_SHARE = 0.95

L = TypeVar("L", bound=Law)

_TENSION = PROVENANCE["yield_tension"].value
_COMPRESSION = PROVENANCE["yield_compression"].value


@dataclass(frozen=True)
class Linear(Law):
    """Keep stress proportional to strain; for comparison, too stiff at working strain.

    Parameters
    ----------
    modulus : float
        Modulus, Pa.
    yield_tension, yield_compression : float, optional
        Stresses against which the limb is judged, Pa; default those of rigid PVC pipe (S).
        They do not bend the curve.

    Examples
    --------
    >>> float(Linear(2.9e9).stress(0.01))
    29000000.0
    """

    modulus: float
    yield_tension: float = _TENSION
    yield_compression: float = _COMPRESSION

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        super().__post_init__()
        for key in ("modulus", "yield_tension", "yield_compression"):
            positive(key, getattr(self, key))

    def stress_and_tangent(self, strain: ArrayLike) -> tuple[Array, Array]:
        """Return stress and slope, Pa, shaped as the strain."""
        strain = np.asarray(strain, dtype=float)
        return self.modulus * strain, np.full(strain.shape, float(self.modulus))

    def energy(self, strain: ArrayLike) -> Array:
        """Return ``E strain^2 / 2``, J/m3, shaped as the strain."""
        return 0.5 * self.modulus * np.square(np.asarray(strain, dtype=float))

    def scaled(self, factor: float) -> Self:
        """Copy the law with every stress multiplied by a factor."""
        return _scaled(self, factor, "modulus", "yield_tension", "yield_compression")

    def yields(self) -> tuple[float, float]:
        """Return the yield stresses in tension and compression, Pa."""
        return self.yield_tension, self.yield_compression

    def yield_strains(self) -> tuple[float, float]:
        """Return yield stress over modulus, in tension and compression."""
        return self.yield_tension / self.modulus, self.yield_compression / self.modulus


@dataclass(frozen=True)
class Saturating(Law):
    """Let the stress level off smoothly at the yield stress of its side.

    Parameters
    ----------
    modulus : float
        Slope at rest, Pa.
    yield_tension, yield_compression : float
        Stresses approached in tension and in compression, Pa.

    Notes
    -----
    ``stress = Y tanh(E strain / Y)`` with ``Y`` the yield stress of the side. Stress, slope and
    second derivative are continuous through zero. Yield is counted from 95 per cent of ``Y``.

    Examples
    --------
    >>> round(float(Saturating(2.9e9, 51.4e6, 66.2e6).stress(-0.02)) / 1e6, 2)
    -46.64
    """

    modulus: float
    yield_tension: float
    yield_compression: float

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        super().__post_init__()
        for key in ("modulus", "yield_tension", "yield_compression"):
            positive(key, getattr(self, key))

    def stress_and_tangent(self, strain: ArrayLike) -> tuple[Array, Array]:
        """Return stress and slope, Pa, shaped as the strain."""
        strain = np.asarray(strain, dtype=float)
        level = np.where(strain >= 0.0, self.yield_tension, self.yield_compression)
        share = np.tanh(self.modulus * strain / level)
        return level * share, self.modulus * (1.0 - share) * (1.0 + share)

    def energy(self, strain: ArrayLike) -> Array:
        """Return ``Y^2 / E ln cosh(E strain / Y)``, J/m3, shaped as the strain."""
        strain = np.asarray(strain, dtype=float)
        level = np.where(strain >= 0.0, self.yield_tension, self.yield_compression)
        z = np.abs(self.modulus * strain / level)
        # ln cosh: one form keeps its digits at small strain, the other cannot overflow
        small = np.log1p(2.0 * np.sinh(0.5 * np.minimum(z, 20.0)) ** 2)
        return level**2 / self.modulus * np.where(z < 20.0, small, z - math.log(2.0))

    def scaled(self, factor: float) -> Self:
        """Copy the law with every stress multiplied by a factor."""
        return _scaled(self, factor, "modulus", "yield_tension", "yield_compression")

    def yields(self) -> tuple[float, float]:
        """Return the stresses approached in tension and compression, Pa."""
        return self.yield_tension, self.yield_compression

    def yield_strains(self) -> tuple[float, float]:
        """Return the strains where 95 per cent of the yield stress is reached."""
        reach = math.atanh(SATURATING_YIELD_SHARE) / self.modulus
        return self.yield_tension * reach, self.yield_compression * reach


@dataclass(frozen=True)
class RambergOsgood(Law):
    """Add a power of the stress to the elastic strain.

    Parameters
    ----------
    modulus : float
        Slope at rest, Pa.
    reference_stress : float
        Tensile stress at which the power term equals ``offset_strain``, Pa.
    offset_strain : float
        That strain.
    exponent : float
        Exponent of the stress, above 1.
    compression_ratio : float, optional
        Reference stress in compression over that in tension; default 1.
    yield_tension : float, optional
        Tensile yield stress, Pa; default that of rigid PVC pipe (S). In compression it is larger
        by the compression ratio.

    Notes
    -----
    ``strain = s / E + offset (|s| / ref)^n``, inverted to full precision: with ``s`` scaled so
    that the curve reads ``v + v^n = w``, a table gives ``v`` and two Newton steps finish it.

    Examples
    --------
    >>> [round(float(stress) / 1e6, 2) for stress in RIGID_PVC.stress([-0.02, 0.02])]
    [-49.93, 43.25]
    """

    modulus: float
    reference_stress: float
    offset_strain: float
    exponent: float
    compression_ratio: float = 1.0
    yield_tension: float = _TENSION

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        super().__post_init__()
        for key in (
            "modulus",
            "reference_stress",
            "offset_strain",
            "compression_ratio",
            "yield_tension",
        ):
            positive(key, getattr(self, key))
        between("exponent", self.exponent, 1.01, 100.0)

    @cached_property
    def _scales(self) -> tuple[float, float]:
        """Stress scale ``c ref``, Pa, and strain scale of ``v + v^n = w``, in tension."""
        elastic = self.reference_stress / self.modulus
        stress = self.reference_stress * (elastic / self.offset_strain) ** (
            1.0 / (self.exponent - 1.0)
        )
        return stress, stress / self.modulus

    def _compression_scale(self) -> float:
        """Scale of both stress and strain in compression over those in tension."""
        return self.compression_ratio ** (self.exponent / (self.exponent - 1.0))

    def stress_and_tangent(self, strain: ArrayLike) -> tuple[Array, Array]:
        """Return stress and slope, Pa, shaped as the strain."""
        strain = np.asarray(strain, dtype=float)
        stress_scale, strain_scale = self._scales
        side = np.where(strain >= 0.0, 1.0, self._compression_scale())
        w = np.abs(strain) / (strain_scale * side)
        v = _solve_power_sum(w, self.exponent)
        # v^(n-1) without another power; at w = 0 it is 0
        power = (w - v) / np.where(v > 0.0, v, 1.0)
        slope = self.modulus / (1.0 + self.exponent * np.maximum(power, 0.0))
        return np.copysign(stress_scale * side * v, strain), slope

    def strain(self, stress: ArrayLike) -> Array:
        """Return the strain under a stress, Pa: the law as it is written, shaped as the stress."""
        stress = np.asarray(stress, dtype=float)
        reference = self.reference_stress * np.where(stress >= 0.0, 1.0, self.compression_ratio)
        power = self.offset_strain * (np.abs(stress) / reference) ** self.exponent
        return stress / self.modulus + np.copysign(power, stress)

    def energy(self, strain: ArrayLike) -> Array:
        """Return ``s^2 / 2E + n / (n+1) |s| offset (|s| / ref)^n``, J/m3, shaped as the strain."""
        strain = np.asarray(strain, dtype=float)
        stress = self.stress(strain)
        plastic = np.abs(strain - stress / self.modulus)
        n = self.exponent
        return 0.5 * stress**2 / self.modulus + n / (n + 1.0) * np.abs(stress) * plastic

    def scaled(self, factor: float) -> Self:
        """Copy the law with every stress multiplied by a factor."""
        return _scaled(self, factor, "modulus", "reference_stress", "yield_tension")

    @property
    def yield_compression(self) -> float:
        """Compressive yield stress, Pa."""
        return self.yield_tension * self.compression_ratio

    def yields(self) -> tuple[float, float]:
        """Return the yield stresses in tension and compression, Pa."""
        return self.yield_tension, self.yield_compression

    def yield_strains(self) -> tuple[float, float]:
        """Return the strains under the yield stresses, in tension and compression."""
        tension, compression = self.yields()
        return float(self.strain(tension)), -float(self.strain(-compression))


def _scaled(law: L, factor: float, *stresses: str) -> L:
    """Copy a law with the named stresses multiplied by a factor."""
    positive("factor", factor)
    return replace(law, **{key: factor * getattr(law, key) for key in stresses})


@lru_cache(maxsize=32)
def _power_sum_table(n: float) -> tuple[Array, Array]:
    """Tabulate ``w = v + v^n`` up to about w = 100, where strains of a limb never are.

    So fine that one Newton step, hence one power, mostly ends at round-off.
    """
    v = np.linspace(0.0, 100.0 ** (1.0 / n), 16000)
    return v + v**n, v


def _solve_power_sum(w: Array, n: float) -> Array:
    """Solve ``v + v^n = w`` for v, with w >= 0, to round-off."""
    table_w, table_v = _power_sum_table(n)
    v = np.interp(w, table_w, table_v)
    # the sum is convex: from beyond the table's end the first step overshoots, then Newton descends
    for _ in range(200):
        power = v ** (n - 1.0)
        step = (v * (1.0 + power) - w) / (1.0 + n * power)
        v = np.maximum(v - step, 0.0)
        if not np.any(np.abs(step) > 3e-8 * v):  # quadratic: the error left is about 1e-15
            break
    return v


#: Rigid PVC pipe at 23 C, short term. Modulus and yields are published; the curve is a guess
#: that yields near 3 per cent (see `PROVENANCE`): replace it by a test of your own pipe.
RIGID_PVC = RambergOsgood(
    modulus=PROVENANCE["modulus"].value,
    reference_stress=PROVENANCE["reference_stress"].value,
    offset_strain=PROVENANCE["offset_strain"].value,
    exponent=PROVENANCE["exponent"].value,
    compression_ratio=PROVENANCE["compression_ratio"].value,
    yield_tension=PROVENANCE["yield_tension"].value,
)
