"""The taut string tied to a rod's last node."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.records import String
from bowfem.rod._checks import check_number
from bowfem.rod.shape import Rod


@dataclass(frozen=True)
class TautString:
    """Tie a string to the rod's end; it runs on the rod's left (belly) side, without friction.

    The string takes the shortest path from its tie to the nock that stays on the left of the
    surface ``r + belly * n``: pieces on the surface and straight pieces tangent to it. Its energy
    depends on that length alone, ``length = natural (1 + T / EA)``.

    Parameters
    ----------
    EA : float
        Stiffness, N per unit strain; infinite is inextensible.
    across : float, optional
        Distance of the tie from the axis of the end section, m; by default on the surface.
    along : float
        Distance of the tie beyond the last node along the tangent, m.
    """

    EA: float = np.inf
    across: float | None = None
    along: float = 0.0

    def kernel_string(self, rod: Rod, force: float) -> String:
        """Lay the string out for the kernels, nondimensional by `force` and the rod's length."""
        check_number("EA", self.EA, "above 0", lambda x: x > 0.0)
        check_number("along", self.along)
        if self.across is not None:
            check_number("across", self.across)
        belly = rod.end_belly
        across = belly if self.across is None else self.across
        on_surface = self.along == 0.0 and abs(across - belly) <= 1e-12 * rod.length
        return String(
            True, self.along / rod.length, across / rod.length, on_surface, force / self.EA
        )


def taut_at_rest(rod: Rod, nock: ArrayLike) -> NDArray[np.float64]:
    """Return the corners of the taut string on a rod as formed, from its end to `nock`, (n, 2), m.

    The string is tied at the surface of the rod's end. On the surface, which is read at the
    stations, every station is a corner.

    Examples
    --------
    >>> arch = Rod.arc(1.0, -np.pi, 16, EI=1.0)  # half a circle round (0, -1)
    >>> pieces = np.diff(taut_at_rest(arch, (0.0, 1.0)), axis=0)
    >>> float(np.sum(np.hypot(*pieces.T)).round(3))  # sqrt(2^2 - 1) + pi - acos(1 / 2)
    3.826
    """
    chain: list[NDArray[np.float64]] = []
    for point in [*rod.surface0[::-1], np.asarray(nock, dtype=float)]:
        while len(chain) > 1:
            u, w = chain[-1] - chain[-2], point - chain[-1]
            if u[0] * w[1] - u[1] * w[0] > 0.0:
                break
            chain.pop()
        chain.append(point)
    return np.array(chain)


def rest_length(rod: Rod, nock: ArrayLike) -> float:
    """Return the length of the taut string on a rod as formed, m; see `taut_at_rest`."""
    return float(np.sum(np.hypot(*np.diff(taut_at_rest(rod, nock), axis=0).T)))


NO_STRING = String(False, 0.0, 0.0, True, 0.0)
