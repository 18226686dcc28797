"""What every stress-strain law offers, and where the figures of rigid PVC come from.

Strain and stress are positive in tension. Every law works on arrays of any shape.
"""

from abc import ABC, abstractmethod
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError
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


def check_law(law: Law, strain: float = 0.06) -> None:
    """Try a law of one's own: that its parts belong together and a wall can be made of it.

    Parameters
    ----------
    law : Law
        The law.
    strain : float
        Up to which it is tried, in tension and compression.

    Raises
    ------
    InputError
        It does not keep the shape of its argument, a value is not finite, stress at rest is not
        zero or falls, the slope or the energy is not that of the stress, `scaled` does not scale,
        or a yield is not positive.

    Notes
    -----
    Slopes by central differences over 1e-5 of the range, stress as the slope of the energy alike;
    kinks between the 201 places that are tried may pass.
    """
    positive("strain", strain)
    e, h = np.linspace(-strain, strain, 201), 1e-5 * strain
    name = type(law).__name__
    stress, tangent = (np.asarray(part) for part in law.stress_and_tangent(e))
    energy = np.asarray(law.energy(e))
    if not stress.shape == tangent.shape == energy.shape == e.shape:
        raise InputError(
            name, stress.shape, f"stress, slope and energy of the strain's shape {e.shape}"
        )
    if not np.all(np.isfinite([stress, tangent, energy])):
        raise InputError(name, "not finite", f"finite within strains of +-{strain:g}")
    most = float(np.max(np.abs(stress)))
    if not abs(float(law.stress(0.0))) <= 1e-9 * most or not most > 0.0:
        raise InputError(
            name, float(law.stress(0.0)), "without stress at rest, and with some beyond"
        )
    if np.any(np.diff(stress) < -1e-9 * most):
        raise InputError(name, "stress falls", "a stress that never falls as the strain grows")
    rise = (law.stress(e + h) - law.stress(e - h)) / (2.0 * h)
    work = (law.energy(e + h) - law.energy(e - h)) / (2.0 * h)
    for what, told, found, scale in (
        ("slope", tangent, rise, law.initial_modulus),
        ("energy", stress, work, most),
    ):
        off = float(np.max(np.abs(told - found))) / scale
        if not off <= 1e-4:
            raise InputError(name, f"{what} off by {off:.1e}", f"the {what} of its own stress")
    twice = law.scaled(2.0)
    if not np.allclose(twice.stress(e), 2.0 * stress, rtol=1e-9, atol=1e-9 * most):
        raise InputError(name, "scaled", "every stress doubled by scaled(2)")
    for what, pair in (("yields", law.yields()), ("yield_strains", law.yield_strains())):
        if len(pair) != 2 or not all(np.isfinite(pair)) or not min(pair) > 0.0:
            raise InputError(f"{name}.{what}", pair, "two positive numbers")
