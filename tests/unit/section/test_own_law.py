"""A law of one's own is tried before it is used: what does not belong together is named."""

from dataclasses import asdict, dataclass

import numpy as np
import pytest

from bowfem.errors import InputError
from bowfem.section import (
    PLASTICS,
    RIGID_PVC,
    Linear,
    RambergOsgood,
    Saturating,
    Tabulated,
    check_law,
)

OWN = [
    RIGID_PVC,
    Linear(2.9e9),
    Saturating(2.9e9, 52e6, 66e6),
    Tabulated((0.01, 0.02, 0.04), (27e6, 43e6, 52e6)),
    *(each.law for each in PLASTICS.values()),
]


@pytest.mark.parametrize("law", OWN, ids=lambda law: type(law).__name__)
def test_laws_of_the_package_pass(law):
    check_law(law)


@dataclass(frozen=True)
class Wrong(RambergOsgood):
    fault: str = ""

    def stress_and_tangent(self, strain):
        stress, tangent = super().stress_and_tangent(strain)
        e = np.asarray(strain, dtype=float)
        return {
            "shape": lambda: (stress.ravel()[:1], tangent),
            "nan": lambda: (np.where(e > 0.05, np.nan, stress), tangent),
            "rest": lambda: (stress + 1e6, tangent),
            "falls": lambda: (np.where(np.abs(e) > 0.03, 0.5 * stress, stress), tangent),
            "slope": lambda: (stress, 1.01 * tangent),
        }.get(self.fault, lambda: (stress, tangent))()

    def energy(self, strain):
        return super().energy(strain) * (1.01 if self.fault == "energy" else 1.0)

    def scaled(self, factor):
        return self if self.fault == "scaled" else super().scaled(factor)

    def yields(self):
        return (-1.0, 1.0) if self.fault == "yields" else super().yields()

    def yield_strains(self):
        return (np.nan, 1.0) if self.fault == "yield_strains" else super().yield_strains()


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ("shape", "shape"),
        ("nan", "finite"),
        ("rest", "without stress at rest"),
        ("falls", "never falls"),
        ("slope", "slope off by"),
        ("energy", "energy off by"),
        ("scaled", "doubled"),
        ("yields", r"yields = .* two positive"),
        ("yield_strains", r"yield_strains = .* two positive"),
    ],
)
def test_what_does_not_belong_together_is_named(fault, said):
    check_law(Wrong(**asdict(RIGID_PVC)))
    with pytest.raises(InputError, match=said):
        check_law(Wrong(**asdict(RIGID_PVC), fault=fault))
