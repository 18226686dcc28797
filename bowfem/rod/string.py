"""The taut string tied to a rod's last node."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bowfem._kernels.mesh import String
from bowfem.errors import InputError
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
        if not self.EA > 0.0:
            raise InputError("EA", self.EA, "above 0")
        if not np.isfinite(self.along) or not np.isfinite(self.across or 0.0):
            raise InputError("across, along", (self.across, self.along), "finite")
        belly = rod.end_belly
        across = belly if self.across is None else self.across
        on_surface = self.along == 0.0 and abs(across - belly) <= 1e-12 * rod.length
        return String(
            True, self.along / rod.length, across / rod.length, on_surface, force / self.EA
        )


NO_STRING = String(False, 0.0, 0.0, True, 0.0)
