"""What every stress-strain law offers, and where the figures of rigid PVC come from.

Strain and stress are positive in tension. Every law works on arrays of any shape.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.section._checks import between, positive

Array = NDArray[np.float64]


class Figure(NamedTuple):
    """Say where a number comes from; status S seen, M from memory, D derived, C practice."""

    value: float
    unit: str
    status: str
    source: str


#: Every number of the default material, and where it comes from.
PROVENANCE = MappingProxyType(
    {
        "modulus": Figure(
            2.9e9, "Pa", "S", "tensile modulus on pipe data sheets; six sources 2.5-3.7"
        ),
        "poisson": Figure(0.40, "", "S", "pipe data sheets, 0.35-0.41"),
        "density": Figure(1400.0, "kg/m3", "S", "pipe data sheets, +-20; range 1370-1500"),
        "yield_tension": Figure(51.4e6, "Pa", "S", "7450 psi, pipe data sheet"),
        "yield_compression": Figure(66.2e6, "Pa", "S", "9600 psi, pipe data sheet"),
        "compression_ratio": Figure(66.2 / 51.4, "", "D", "ratio of the two yields above"),
        "reference_stress": Figure(52.0e6, "Pa", "M", "a guess: no law fitted to pipe was found"),
        "offset_strain": Figure(
            0.014, "", "M", "a guess, gives yield near 3 %: replace it by a test"
        ),
        "exponent": Figure(5.5, "", "M", "a guess, 5-6: replace it by a test"),
        "temperature_slope": Figure(-0.01, "1/K", "M", "of the modulus at 23 C, for 23 to 60 C"),
    }
)


@dataclass(frozen=True)
class Law(ABC):
    """Hold what all uniaxial laws share; a law adds its curve and its yield stresses.

    Parameters
    ----------
    poisson : float
        Poisson's ratio, keyword only; default 0.40 (S).
    density : float
        Density, kg/m3, keyword only; default 1400 (S).
    """

    poisson: float = field(default=PROVENANCE["poisson"].value, kw_only=True)
    density: float = field(default=PROVENANCE["density"].value, kw_only=True)

    def __post_init__(self) -> None:
        """Refuse impossible figures."""
        between("poisson", self.poisson, 0.0, 0.5)
        positive("density", self.density)

    @property
    def initial_modulus(self) -> float:
        """Slope of the curve at rest, Pa."""
        return float(self.tangent(0.0))

    @abstractmethod
    def stress_and_tangent(self, strain: ArrayLike) -> tuple[Array, Array]:
        """Return stress and its slope, Pa, in one evaluation, shaped as the strain."""

    @abstractmethod
    def energy(self, strain: ArrayLike) -> Array:
        """Return the work per volume done up to a strain, J/m3, shaped as the strain."""

    @abstractmethod
    def scaled(self, factor: float) -> Self:
        """Copy the law with every stress multiplied by a factor."""

    @abstractmethod
    def yields(self) -> tuple[float, float]:
        """Return the yield stress in tension and in compression, both positive, Pa."""

    @abstractmethod
    def yield_strains(self) -> tuple[float, float]:
        """Return the strains, both positive, where yield begins in tension and compression."""

    def stress(self, strain: ArrayLike) -> Array:
        """Return the stress, Pa, shaped as the strain."""
        return self.stress_and_tangent(strain)[0]

    def tangent(self, strain: ArrayLike) -> Array:
        """Return the slope of the curve, Pa, shaped as the strain."""
        return self.stress_and_tangent(strain)[1]

    @property
    def shear_modulus(self) -> float:
        """Initial shear modulus, Pa: ``E / (2 (1 + nu))``."""
        return 0.5 * self.initial_modulus / (1.0 + self.poisson)

    @property
    def yield_strain_tension(self) -> float:
        """Strain where yield begins in tension."""
        return self.yield_strains()[0]

    @property
    def yield_strain_compression(self) -> float:
        """Strain, positive, where yield begins in compression."""
        return self.yield_strains()[1]
