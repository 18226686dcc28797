"""Put a plastic of one's own under a bow: by the points of a test, and as a law of one's own.

Run it: python examples/09_own_plastic.py
"""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Self

import numpy as np

from bowfem import Design, Walk, walk
from bowfem.section import Law, Pipe, SectionFamily, check_law

DESIGN = Path(__file__).parent / "designs" / "wagtail.toml"
#: A tensile test: strain, %, and stress, MPa.
TEST = ((0.5, 14.0), (1.0, 26.5), (1.5, 36.5), (2.0, 43.5), (3.0, 50.0), (4.0, 52.0))


def tested() -> Walk:
    """Walk a bow of the plastic that was tested."""
    points = ", ".join(f'{{ strain = "{e} %", stress = "{s} MPa" }}' for e, s in TEST)
    text = DESIGN.read_text(encoding="utf-8")
    return walk(Design.from_toml(f'{text}\n[material]\nlaw = "table"\npoints = [{points}]\n'))


@dataclass(frozen=True)
class Hyperbolic(Law):
    """Approach a largest stress: ``E e / sqrt(1 + (E e / S)^2)``."""

    modulus: float = 2.9e9
    strength: float = 60e6

    def stress_and_tangent(self, strain):
        e = np.asarray(strain, dtype=float)
        root = np.sqrt(1.0 + (self.modulus * e / self.strength) ** 2)
        return self.modulus * e / root, self.modulus / root**3

    def energy(self, strain):
        e = np.asarray(strain, dtype=float)
        root = np.sqrt(1.0 + (self.modulus * e / self.strength) ** 2)
        return self.strength**2 / self.modulus * (root - 1.0)

    def scaled(self, factor: float) -> Self:
        return replace(self, modulus=factor * self.modulus, strength=factor * self.strength)

    def yields(self) -> tuple[float, float]:
        return 0.9 * self.strength, 0.9 * self.strength

    def yield_strains(self) -> tuple[float, float]:
        one = 0.9 / np.sqrt(1.0 - 0.81) * self.strength / self.modulus
        return one, one


def bent(thickness: float = 12e-3) -> tuple[float, float]:
    """Return stiffness at rest and curvature at the fold of a pressed pipe of that plastic."""
    law = Hyperbolic()
    check_law(law)
    found = SectionFamily.from_pipe(Pipe.from_size("3/4 in Sch 40"), law).at(thickness)
    return float(found.bending_stiffness), float(found.limit)


if __name__ == "__main__":
    bow = tested()
    print(
        f"of the plastic tested: {bow.force[-1]:.1f} N at {bow.draw[-1]:.3f} m, {bow.ending.text}"
    )
    stiffness, fold = bent()
    print(f"of the hyperbolic one: EI {stiffness:.2f} N m2, folds at {fold:.2f} 1/m")
