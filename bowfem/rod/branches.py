"""Viscous branches beside a bending law: what a material remembers of how it was bent."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError
from bowfem.rod._checks import check_numbers, check_positive

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Branches:
    """Hold viscous branches: ``M = scale (M_law(k) + sum H)``, ``H' + H / time = share EI k'``.

    Parameters
    ----------
    share : array_like, shape (n,)
        Stiffness of each over the law's at no bending.
    time : array_like, shape (n,)
        Time in which each fades, s.
    scale : float
        Of law and branches together.

    Raises
    ------
    InputError
        Shares below 0, or times not above it.

    Notes
    -----
    Linear in the change of bending, so that stored and lost energy make up the work exactly; a
    branch that followed the law's own curve would not (see the standard linear solid, W. N.
    Findley, J. S. Lai, K. Onaran, Creep and Relaxation of Nonlinear Viscoelastic Materials, 1976;
    from memory).

    Examples
    --------
    A bend made in a second and held for ten:

    >>> one = Branches([0.5], [10.0])
    >>> one.moments([0.0, 1.0, 11.0], np.array([0.0, 1.0, 1.0]), EI=2.0).round(4)
    array([0.3501])
    """

    share: Array
    time: Array
    scale: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what is no branch."""
        for name in ("share", "time"):
            object.__setattr__(self, name, np.atleast_1d(check_numbers(name, getattr(self, name))))
        if self.share.shape != self.time.shape or self.share.ndim != 1:
            raise InputError("time", self.time.shape, "as many as shares")
        if not (np.all(self.share >= 0.0) and np.all(np.isfinite(self.share))):
            raise InputError("share", self.share, "finite, at least 0")
        if not (np.all(self.time > 0.0) and np.all(np.isfinite(self.time))):
            raise InputError("time", self.time, "finite, above 0 s")
        check_positive("scale", self.scale)

    @classmethod
    def none(cls) -> Branches:
        """Return no branches at all."""
        return cls(np.zeros(0), np.zeros(0))

    def moments(self, times: ArrayLike, bending: Array, EI: ArrayLike) -> Array:
        """Return the branches' moments after a bending that runs straight between instants.

        Parameters
        ----------
        times : array_like, shape (m,)
            Instants, s, rising; none is bent before the first.
        bending : ndarray, shape (m, ...)
            Bending strain then, 1/m.
        EI : array_like, shape () or (...)
            Bending stiffness, N m2.

        Returns
        -------
        ndarray, shape (n, ...)
            N m.
        """
        at = np.asarray(times, dtype=float)
        held = np.zeros((self.time.size, *np.shape(bending)[1:]))
        for step, change in zip(np.diff(at), np.diff(bending, axis=0), strict=True):
            if not step >= 0.0:
                raise InputError("times", times, "rising")
            x = step / self.time
            gain = np.ones_like(x) if step == 0.0 else -np.expm1(-x) / x
            fade = np.exp(-x).reshape(-1, *(1,) * change.ndim)
            gain = (self.share * gain).reshape(-1, *(1,) * change.ndim)
            held = fade * held + gain * np.asarray(EI) * change
        return held
