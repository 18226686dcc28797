"""What a plastic remembers: its stiffness from a shot's microseconds to the years of a string."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError
from bowfem.section._checks import between
from bowfem.section.law import Figure

Array = NDArray[np.float64]

#: Time at which a law's stresses hold: a usual tensile test takes about a minute (M), s.
TEST = 60.0
#: What is left of the stiffness after a time, over that after a minute, and where each is from.
MEMORY = MappingProxyType(
    {
        "loss_tangent": Figure(0.02, "", "M", "1 Hz, 23 C, 0.015-0.02; range 0.01-0.04"),
        "hour": Figure(0.90, "", "M", "low stress, 23 C"),
        "day": Figure(0.83, "", "M", "low stress, 23 C"),
        "month": Figure(0.72, "", "M", "1000 h, low stress, 23 C"),
        "lifetime": Figure(
            0.375, "", "S", "ring bending modulus of 50 years, 1200 MPa, over the tensile one, 3200"
        ),
    }
)
#: Times of the last four, s.
TIMES = (3600.0, 86400.0, 3.6e6, 50 * 365.25 * 86400.0)
#: Shortest time and longest, s, that the sum is good for; its terms and points a decade.
FROM, TO, TERMS, POINTS = 1e-5, TIMES[-1], 2, 12


@dataclass(frozen=True, eq=False)
class Memory:
    """Hold a sum of fading parts: ``G(t) = rest + sum share exp(-t / time)``.

    Stress is ``int G(t - t') d sigma(strain(t'))`` with the law's own curve sigma: below a strain
    of 3 % relaxation of PVC is linear (S; J. Polym. Sci. B 34 (1996) 1257, abstract), so that G
    does not depend on strain.

    Parameters
    ----------
    share, time : ndarray, shape (n,)
        Of each part: its share, and the time in which it fades, s, rising.
    rest : float
        What never fades.

    Examples
    --------
    >>> kept = plastic_memory()
    >>> kept.at([1.0, 60.0, 3600.0, 86400.0]).round(3)
    array([1.052, 1.   , 0.9  , 0.83 ])
    """

    share: Array
    time: Array
    rest: float

    def __post_init__(self) -> None:
        """Refuse what is no memory."""
        for name in ("share", "time"):
            try:
                values = np.asarray(getattr(self, name), dtype=float)
            except (TypeError, ValueError):
                raise InputError(name, getattr(self, name), "numbers") from None
            object.__setattr__(self, name, values)
        object.__setattr__(self, "rest", between("rest", self.rest, 0.0, np.inf))
        if self.share.shape != self.time.shape or self.share.ndim != 1:
            raise InputError("time", self.time.shape, "as many as shares")
        if not (np.all(self.share >= 0.0) and self.rest >= 0.0 and np.all(self.time > 0.0)):
            raise InputError("share, time, rest", "given values", "at least 0, times above 0 s")

    def at(self, time: ArrayLike) -> Array:
        """Return what is left of the stress a time after a strain was put on, shaped as `time`."""
        t = np.asarray(time, dtype=float)[..., None]
        return self.rest + np.sum(self.share * np.exp(-t / self.time), axis=-1)

    def rising(self, time: ArrayLike) -> Array:
        """Return stress over strain at the end of a steady rise that took a time."""
        x = np.asarray(time, dtype=float)[..., None] / self.time
        return self.rest + np.sum(self.share * -np.expm1(-x) / x, axis=-1)

    def loss_tangent(self, frequency: ArrayLike) -> Array:
        """Return loss over storage modulus at a frequency, Hz."""
        x = 2.0 * np.pi * np.asarray(frequency, dtype=float)[..., None] * self.time
        storage = self.rest + np.sum(self.share * x**2 / (1.0 + x**2), axis=-1)
        return np.sum(self.share * x / (1.0 + x**2), axis=-1) / storage

    def quicker_than(self, time: float) -> Self:
        """Keep the parts that fade within a time apart; the slower ones count as rest."""
        quick = self.time <= time
        rest = self.rest + float(np.sum(self.share[~quick]))
        return type(self)(self.share[quick], self.time[quick], rest)


def plastic_memory(
    loss_tangent: float = MEMORY["loss_tangent"].value, fading: float = 1.0
) -> Memory:
    """Return the memory of rigid PVC.

    Parameters
    ----------
    loss_tangent : float
        At the frequencies of a shot, and down to a minute.
    fading : float
        Factor on what is lost after the first minute: 1 as remembered.

    Raises
    ------
    InputError
        Out of range.

    Notes
    -----
    A loss tangent that is the same at all frequencies goes with a stiffness that falls by
    ``(2 / pi) ln(10) tan`` a decade (D). Non-negative least squares, two parts a decade, meet the
    curve through `MEMORY` to 0.1 % from 1e-5 s to 50 years.
    """
    tangent = between("loss_tangent", loss_tangent, 0.001, 0.1)
    return _fitted(tangent, between("fading", fading, 0.1, 1.5))


@lru_cache(maxsize=32)
def _fitted(loss_tangent: float, fading: float) -> Memory:
    """Fit the sum of fading parts."""
    from scipy.interpolate import PchipInterpolator
    from scipy.optimize import nnls

    slope = 2.0 / np.pi * np.log(10.0) * loss_tangent
    known = [
        1.0 - fading * (1.0 - MEMORY[key].value) for key in ("hour", "day", "month", "lifetime")
    ]
    early = np.logspace(np.log10(FROM), 0.0, 6)
    at = np.log10([*early, TEST, *TIMES])
    curve = PchipInterpolator(at, [*(1.0 + slope * np.log10(TEST / early)), 1.0, *known])
    decades = np.log10(TO / FROM)
    t = np.logspace(np.log10(FROM), np.log10(TO), round(POINTS * decades))
    wanted = curve(np.log10(t))
    time = np.logspace(np.log10(FROM) - 1, np.log10(TO) + 1, round(TERMS * (decades + 2)) + 1)
    parts = np.column_stack([np.exp(-t[:, None] / time), np.ones(t.size)])
    found, _ = nnls(parts / wanted[:, None], np.ones(t.size))
    return Memory(found[:-1], time, float(found[-1]))
