"""Strain and stress of the outer fibres, and how near they are to yield."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError
from bowfem.section.material import Law
from bowfem.section.response import SectionResponse

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FibreStress:
    """Hold strain and stress along the limb, tension positive.

    All arrays have shape (..., m): states, if any, then stations.

    Attributes
    ----------
    strain_belly, strain_back : ndarray
        Strain of the outer fibre facing the archer, and facing away.
    stress_belly, stress_back : ndarray
        Stress there, Pa.
    stress_share_belly, stress_share_back : ndarray
        Stress over the yield stress of its sign, not negative. A saturating law hardly passes 1.
    strain_share_belly, strain_share_back : ndarray
        Strain over the yield strain of its sign, not negative: the measure that keeps growing.
    """

    strain_belly: Array
    strain_back: Array
    stress_belly: Array
    stress_back: Array
    stress_share_belly: Array
    stress_share_back: Array
    strain_share_belly: Array
    strain_share_back: Array


def fibre_stress(response: SectionResponse, material: Law, curvature: ArrayLike) -> FibreStress:
    """Recover strain and stress of belly and back from curvature.

    Parameters
    ----------
    response : SectionResponse
        Sections at the m stations, as `SectionFamily.at` gives them, or a single one.
    material : Law
        The law the sections were computed with.
    curvature : array_like, shape (..., m)
        Change of curvature from the formed shape at each station, 1/m, for any number of states;
        for a single section, shape (...).

    Raises
    ------
    InputError
        When a curvature lies outside the knots of its section, or shapes don't fit.

    Notes
    -----
    ``axial_strain -+ curvature * fibre distance``, both read between knots by a local cubic.
    Stress along the limb only; the wall's own crosswise bending is not in it.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC, Pipe, pressed, section_response
    >>> limb = section_response(pressed(Pipe.from_size("3/4 in Sch 40"), 12e-3), RIGID_PVC)
    >>> found = fibre_stress(limb, RIGID_PVC, 3.0)
    >>> round(float(found.stress_belly) / 1e6, 1), round(float(found.stress_back) / 1e6, 1)
    (-45.8, 41.6)
    """
    kappa = np.asarray(curvature, dtype=float)
    stations = response.curvature.shape[:-1]
    if stations and (kappa.ndim == 0 or kappa.shape[-1] != stations[0]):
        raise InputError("curvature", f"shape {kappa.shape}", f"of shape (..., {stations[0]})")
    last = response.curvature[..., -1]
    wrong = ~(np.abs(kappa) <= last * (1.0 + 1e-12))
    if np.any(wrong):
        allowed = f"within +-{float(np.broadcast_to(last, kappa.shape)[wrong][0]):.6g} 1/m, the "
        raise InputError("curvature", kappa[wrong][0], allowed + "range tabulated for its section")
    read = _Knots(response.curvature, kappa)
    axial = read.value(response.axial_strain)
    belly = axial - kappa * read.value(response.belly)
    back = axial + kappa * read.value(response.back)
    stress = material.stress(belly), material.stress(back)
    yields, strains = material.yields(), material.yield_strains()
    return FibreStress(
        belly,
        back,
        *stress,
        *(_share(each, *yields) for each in stress),
        *(_share(each, *strains) for each in (belly, back)),
    )


def _share(value: Array, tension: float, compression: float) -> Array:
    """Return value over the mark of its sign."""
    return np.where(value >= 0.0, value / tension, -value / compression)


class _Knots:
    """Four-point Lagrange interpolation on the uniform curvature knots of each station."""

    def __init__(self, knots: Array, kappa: Array) -> None:
        n = knots.shape[-1]
        position = (kappa / knots[..., -1] + 1.0) * 0.5 * (n - 1)
        first = np.clip(np.floor(position).astype(int) - 1, 0, n - 4)
        u = position - first
        self._index = tuple(first + j for j in range(4))
        self._weight = (
            -(u - 1.0) * (u - 2.0) * (u - 3.0) / 6.0,
            u * (u - 2.0) * (u - 3.0) / 2.0,
            -u * (u - 1.0) * (u - 3.0) / 2.0,
            u * (u - 1.0) * (u - 2.0) / 6.0,
        )

    def value(self, table: Array) -> Array:
        """Read a quantity on the knots, (m, n_k) or (n_k,), at the curvatures."""
        station = (np.arange(table.shape[0]),) if table.ndim > 1 else ()
        total = np.zeros(self._weight[0].shape)
        for index, weight in zip(self._index, self._weight, strict=True):
            total = total + weight * table[(*station, index)]
        return total
