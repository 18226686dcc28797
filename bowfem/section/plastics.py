"""Plastics by name: law, source of each figure, effect of warmth, spread, dangers."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from bowfem.errors import InputError
from bowfem.section._checks import between
from bowfem.section.dangers import PVC_DANGERS
from bowfem.section.law import PROVENANCE, Figure, Law
from bowfem.section.material import RIGID_PVC


@dataclass(frozen=True, eq=False)
class Plastic:
    """Hold what is known of one plastic.

    Parameters
    ----------
    name : str
        Name in design files and on paper.
    law : Law
        Short-term stress-strain law at room temperature.
    provenance : mapping of str to Figure
        Where each figure comes from.
    stiffness_deviation : float
        Standard deviation of the stiffness from pipe to pipe, as a share, about that of the law:
        the one spread that bands, studies and estimates take.
    stiffness_range : tuple of float
        Least and greatest modulus that a source gives, Pa.
    temperature_slope : float
        Change of all stresses with temperature, over those at room temperature, 1/K.
    coldest, room, warmest : float
        Temperatures between which a limb may be used, and that of the law, K.
    forming : tuple of float
        Temperatures between which it is formed, K.
    cautions : tuple of str
        Dangers of heating it, and of heat and cold in use.
    """

    name: str
    law: Law
    provenance: Mapping[str, Figure]
    stiffness_deviation: float
    stiffness_range: tuple[float, float]
    temperature_slope: float
    coldest: float
    room: float
    warmest: float
    forming: tuple[float, float]
    cautions: tuple[str, ...]

    def temperature_factor(self, temperature: float) -> float:
        """Say what is left of the stiffness at a temperature.

        Parameters
        ----------
        temperature : float
            Temperature of the limb, K.

        Raises
        ------
        InputError
            Outside the range in which a limb may be used.

        Notes
        -----
        Short-term stiffness only; creep and the pressure-rating factors of pipe are a different
        matter. All stresses shrink alike: that is known of the modulus, and assumed of the yield
        stresses at unchanged strain.

        Examples
        --------
        >>> round(PVC_U.temperature_factor(306.15), 3)
        0.9
        """
        kelvin = between("temperature", temperature, self.coldest, self.warmest, "K")
        return 1.0 + self.temperature_slope * (kelvin - self.room)

    def at_temperature(self, law: Law, temperature: float | None) -> Law:
        """Return a law of this plastic as it is at a temperature, K; None is room temperature."""
        return law if temperature is None else law.scaled(self.temperature_factor(temperature))


#: Tensile modulus in six sources, Pa: least and greatest (S).
_MODULI = (2.5e9, 3.7e9)

#: Unplasticised PVC, of which pressure pipe is made.
PVC_U = Plastic(
    name="rigid PVC",
    law=RIGID_PVC,
    provenance=PROVENANCE,
    # that of an even spread of the logarithm over the sources (D)
    stiffness_deviation=math.log(_MODULI[1] / _MODULI[0]) / math.sqrt(12.0),
    stiffness_range=_MODULI,
    temperature_slope=PROVENANCE["temperature_slope"].value,
    coldest=283.15,
    room=296.15,
    warmest=333.15,
    forming=(380.15, 408.15),
    cautions=PVC_DANGERS,
)

#: The plastics a design can name.
PLASTICS: Mapping[str, Plastic] = MappingProxyType({each.name: each for each in (PVC_U,)})


def plastic(name: str) -> Plastic:
    """Return a plastic by its name.

    Raises
    ------
    InputError
        There is none of that name.
    """
    if name not in PLASTICS:
        known = ", ".join(f"'{each}'" for each in PLASTICS)
        raise InputError("plastic", ascii(name), f"one of {known}")
    return PLASTICS[name]
