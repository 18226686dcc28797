"""Life: published formulas for repeated stress in PVC pipe, set against a bow's worst fibre.

All of them are of pipe under pressure, at or beyond the end of their data here, and none of a
heated and flattened limb: lowest and highest are told as a range that is no promise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from bowfem.bow import Walk
from bowfem.findings.crease import Crease
from bowfem.findings.edge import EdgeTension
from bowfem.findings.line import Figure, Line
from bowfem.units import parse

PSI = parse("1 psi", "stress")
#: Words that go with every life.
NO_PROMISE = (
    "no promise and no number of shots to count on: formulas for pipe under pressure, used beyond "
    "their data, and none for a heated and flattened limb"
)


def vinson(peak: float) -> float:
    """Return cycles to failure of the peak hoop stress, Pa.

    Notes
    -----
    ``5.05e21 S^-4.906``, S in psi: Vinson, in A. P. Moser, S. Folkman, Buried Pipe Design, page
    211, eq. 4.17 (S).
    """
    return float(5.05e21 * (peak / PSI) ** -4.906)


def bowman(range_: float) -> float:
    """Return cycles to failure of the range of stress, Pa.

    Notes
    -----
    ``2.85e8 R^-3.35``, R in MPa, 1 Hz: Bowman, same book, page 212, eq. 4.18 (S).
    """
    return float(2.85e8 * (range_ / 1e6) ** -3.35)


def utah(mean: float, amplitude: float) -> float:
    """Return cycles to failure of mean stress and amplitude, Pa; nan outside of 10 to 1e9.

    Notes
    -----
    ``A = M (0.01637 L - 0.1697) + 15362 / L - 1782`` with ``L = log10 N``, in psi: Utah State
    University, same book, page 218, eq. 4.19 (S for the numbers, signs inferred: they were lost in
    the copy). Its data have means below 5600 psi.
    """
    m, a = mean / PSI, amplitude / PSI

    def over(decades: float) -> float:
        return m * (0.01637 * decades - 0.1697) + 15362.0 / decades - 1782.0 - a

    low, high = 1.0, 9.0
    if over(low) < 0.0 or over(high) > 0.0:
        return np.nan
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if over(middle) > 0.0 else (low, middle)
    return float(10.0**low)


@dataclass(frozen=True)
class Life:
    """Hold what the formulas say of a bow.

    Parameters
    ----------
    peak, rest : float
        Largest stress at full draw: of a fibre along the limb, with the factor of the fade where
        that is more, or across the pressed edge; and the same at brace, Pa.
    cycles : tuple of (str, float)
        Formula and its cycles to failure; those that have an answer.
    """

    peak: float
    rest: float
    cycles: tuple[tuple[str, float], ...]

    @classmethod
    def from_walk(cls, walk: Walk) -> Life:
        """Take the worst of the fibres, of the faces at the fade's end, and across the edge."""
        found = []
        for limb in walk.limbs:
            for stress in (limb.stress_belly, limb.stress_back):
                at = int(np.argmax(np.abs(stress[-1])))
                found.append((abs(float(stress[-1, at])), abs(float(stress[0, at]))))
        crease = Crease.from_walk(walk)
        material = walk.design.material
        limb = walk.limb(crease.side)
        strain = limb.strain_belly if crease.face == "belly" else limb.strain_back
        at_brace = crease.factor * float(np.interp(crease.s, limb.s, strain[0]))
        found.append(
            (
                abs(float(material.stress(crease.strain))),
                abs(float(material.stress(at_brace))),
            )
        )
        edge = EdgeTension.from_walk(walk)
        across = walk.limb(edge.side)
        at = int(np.argmin(np.abs(across.s - edge.s)))
        found.append((edge.stress, float(across.crosswise_tension[0, at])))
        peak, rest = max(found)
        both = {
            "Vinson, peak": vinson(peak),
            "Bowman, range from brace": bowman(max(peak - rest, 1e5)),
            "Bowman, range from nought": bowman(peak),
            "Utah State, from brace": utah(0.5 * (peak + rest), 0.5 * (peak - rest)),
            "Utah State, from nought": utah(0.5 * peak, 0.5 * peak),
        }
        return cls(peak, rest, tuple((k, v) for k, v in both.items() if np.isfinite(v)))

    @property
    def least(self) -> float:
        """Fewest cycles of any formula."""
        return min(cycles for _, cycles in self.cycles)

    @property
    def most(self) -> float:
        """Most cycles of any formula."""
        return max(cycles for _, cycles in self.cycles)


def life_line(found: Life) -> Line:
    """Say what the formulas span, and that it is no promise."""
    words = (
        "worst fibre at {life_peak:2}, {life_rest:2} when strung: between {life_least:.0f} and "
        "{life_most:.0f} full draws by published formulas (Vinson, Bowman, Utah State); "
        f"{NO_PROMISE}"
    )
    figures = (
        Figure("life_peak", found.peak, "stress"),
        Figure("life_rest", found.rest, "stress"),
        Figure("life_least", _rounded(found.least)),
        Figure("life_most", _rounded(found.most)),
    )
    return Line("life", words, figures, 200, "life")


def _rounded(value: float) -> float:
    """Round to one digit: more would be a lie."""
    size = 10.0 ** np.floor(np.log10(value))
    return float(np.round(value / size) * size)


def ranked(walks: Sequence[Walk]) -> list[tuple[Walk, Life]]:
    """Return bows with their life, that which is worked least first."""
    found = [(walk, Life.from_walk(walk)) for walk in walks]
    return sorted(found, key=lambda pair: -vinson(pair[1].peak))
