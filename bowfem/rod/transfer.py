"""Take an equilibrium state over to a neighbouring rod, as a first guess of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bowfem._kernels.basis import P
from bowfem.errors import InputError
from bowfem.rod.shape import Rod
from bowfem.rod.states import Path


def transferred(path: Path, rod: Rod) -> Path:
    """Take the last state of a path over to another rod of as many elements.

    The state returned is no equilibrium of the other rod: it is where Newton's method starts for a
    rod that differs little. Its arrays other than the state itself are still those of the path.

    Parameters
    ----------
    path : Path
        A path of at least one state.
    rod : Rod
        The other rod.

    Raises
    ------
    InputError
        The rods differ in their number of elements.

    Notes
    -----
    Rotations are kept, positions scale with the length; forces are kept in newtons.

    Examples
    --------
    >>> from bowfem.rod import Rod, TautString, clamp, pull
    >>> limb, other = (Rod.straight(0.6, n_elements=8, EI=EI) for EI in (40.0, 40.4))
    >>> drawn = pull(limb, [clamp(0)], TautString(), [(0.0, 0.3)], 0.58, begin=(0.0, 0.15, 0.62))
    >>> again = pull(other, [clamp(0)], TautString(), [(0.0, 0.3)], 0.58, begin=(0.0, 0.0, 0.0),
    ...              start=transferred(drawn, other))
    >>> round(float(again.pull[-1, 1] / drawn.pull[-1, 1]), 6)
    1.01
    """
    n = rod.n_elements
    if path.rod.n_elements != n or len(path) == 0:
        raise InputError("rod", f"{n} elements", f"of {path.rod.n_elements} elements, as the path")
    raw = path.raw[-1].copy()
    first, last = n * (P + 1), n * (P + 1) + 2 * (n + 1)
    raw[first:last] *= path.rod.length / rod.length
    force, other = (float(np.max(one.EI)) / one.length**2 for one in (path.rod, rod))
    raw[last:] *= force / other
    return replace(path, rod=rod, raw=raw[None])
