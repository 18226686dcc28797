"""Strain and stress of the outer fibres and round the wall; set left after unloading."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem._kernels.crosswise import thick_wall
from bowfem.errors import BowfemError, InputError
from bowfem.section._checks import finite
from bowfem.section._numerics import FourPoint
from bowfem.section.material import Law
from bowfem.section.outline import Outline
from bowfem.section.plane_stress import plane_stress
from bowfem.section.response import SectionResponse
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import follow_bending
from bowfem.section.wall import Wall, at_points

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
    kappa = _inside(response, curvature)
    read = _reader(response.curvature, kappa)
    axial = read(response.axial_strain)
    belly = axial - kappa * read(response.belly)
    back = axial + kappa * read(response.back)
    stress = material.stress(belly), material.stress(back)
    yields, strains = material.yields(), material.yield_strains()
    return FibreStress(
        belly,
        back,
        *stress,
        *(_share(each, *yields) for each in stress),
        *(_share(each, *strains) for each in (belly, back)),
    )


def _inside(response: SectionResponse, curvature: ArrayLike) -> Array:
    """Return curvatures as an array, refusing those outside the knots."""
    kappa = np.asarray(curvature, dtype=float)
    stations = response.curvature.shape[:-1]
    if stations and (kappa.ndim == 0 or kappa.shape[-1] != stations[0]):
        raise InputError("curvature", f"shape {kappa.shape}", f"of shape (..., {stations[0]})")
    last = response.curvature[..., -1]
    wrong = ~(np.abs(kappa) <= last * (1.0 + 1e-12))
    if np.any(wrong):
        allowed = f"within +-{float(np.broadcast_to(last, kappa.shape)[wrong][0]):.6g} 1/m, the "
        raise InputError("curvature", kappa[wrong][0], allowed + "range tabulated for its section")
    return kappa


def read_on_knots(response: SectionResponse, name: str, curvature: ArrayLike) -> Array:
    """Read one of the tables of sections at curvatures, by a local cubic.

    Parameters
    ----------
    response : SectionResponse
        Sections at the m stations, or a single one.
    name : str
        A field of `SectionResponse` that lives on the curvature knots.
    curvature : array_like, shape (..., m)
        Changes of curvature from the formed shape, 1/m; for a single section, shape (...).

    Raises
    ------
    InputError
        When a curvature lies outside the knots of its section, or shapes don't fit.
    """
    kappa = _inside(response, curvature)
    return _reader(response.curvature, kappa)(getattr(response, name))


def residual_curvature(response: SectionResponse, curvature: ArrayLike) -> Array:
    """Return the curvature that stays when a section bent to a curvature is let go, 1/m.

    Parameters
    ----------
    response : SectionResponse
        Sections at the m stations, or a single one.
    curvature : array_like, shape (..., m)
        Changes of curvature from the formed shape, 1/m; for a single section, shape (...).

    Raises
    ------
    InputError
        When a curvature lies outside the knots of its section, or shapes don't fit.

    Notes
    -----
    ``curvature - M / EI``: loading along the curve of the law, unloading along its first slope
    with the outline at rest (D, deformation theory). An upper bound for plastic pipe, whose
    curve before yield is mostly slow and comes back with time.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC, Pipe, pressed, section_response
    >>> limb = section_response(pressed(Pipe.from_size("3/4 in Sch 40"), 12e-3), RIGID_PVC)
    >>> round(float(residual_curvature(limb, 3.0)), 3)
    0.276
    """
    moment = read_on_knots(response, "moment", curvature)
    return np.asarray(curvature, dtype=float) - moment / response.bending_stiffness


@dataclass(frozen=True, eq=False)
class WallStress:
    """Hold the stress in the right half of a wall, from back to belly and from inside to outside.

    Arrays (n_arc, n_depth) live on the wall's Gauss points; the first and last of either are its
    edges, which have no area: middles of back and belly, inner and outer surface.

    Attributes
    ----------
    arc : ndarray, shape (n_arc,)
        Length along the mid-wall from the middle of the back, m.
    depth : ndarray, shape (n_depth,)
        Distance from the mid-wall, m, positive outward.
    x, y : ndarray, shape (n_arc, n_depth)
        Place in the loaded section, m, y from the mean height of the mid-wall.
    strain : ndarray, shape (n_arc, n_depth)
        Strain along the limb.
    longitudinal : ndarray, shape (n_arc, n_depth)
        Stress along the limb, Pa: the one that adds up to axial force and moment.
    crosswise_strain, crosswise : ndarray, shape (n_arc, n_depth)
        Strain and stress, Pa, round the section.
    equivalent : ndarray, shape (n_arc, n_depth)
        Equivalent stress after von Mises, Pa.
    area : ndarray, shape (n_arc, n_depth)
        Area that belongs to each point, both halves of the section, m2.
    axial_force, moment : float
        What the section carries, N and N m, the moment about the mean height of the mid-wall.
    """

    arc: Array
    depth: Array
    x: Array
    y: Array
    strain: Array
    longitudinal: Array
    crosswise_strain: Array
    crosswise: Array
    equivalent: Array
    area: Array
    axial_force: float
    moment: float


def wall_stress(
    outline: Outline,
    material: Law,
    curvature: float,
    *,
    axial_force: float = 0.0,
    natural_curvature: float = 0.0,
    ovalise: bool = True,
) -> WallStress:
    """Find the stress round the wall and through it.

    Parameters
    ----------
    outline : Outline
        The cross-section as formed, whole.
    material : Law
        Stress-strain law.
    curvature : float
        Change of the limb's curvature from its formed shape, 1/m.
    axial_force : float, optional
        Axial force at the mean height of the mid-wall, N, tension positive.
    natural_curvature : float, optional
        Curvature of the limb as formed, 1/m, as in a curl; its radius must clear the section.
    ovalise : bool, optional
        Let the outline give way; else it stays as formed.

    Raises
    ------
    InputError
        When a number cannot be used.
    BowfemError
        When the wall finds no equilibrium.

    Notes
    -----
    Along the limb ``strain = (e - k y - k0 (y - y0)) / (1 - k0 y0)``: fibres of a curled limb are
    shorter on the inside (Winkler), ``y0`` their height as formed; stress by the law.
    Crosswise the strain of a thick curved bar, ``-nu x + (m + c z) / (1 + z b)``: the inside of the
    pressed edge strains up to twice as much as in a thin wall (Winkler). `c` is that of the ring,
    whose own equilibrium is that of a thin wall, as solid models say. Stress by the law in plane
    stress, see `bowfem.section.plane_stress`, without force across. What the stress across adds to
    that along has its mean in `longitudinal`, and varies through the wall in the equivalent stress
    ``sqrt(a^2 - a c + c^2)``.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC, Pipe, pressed
    >>> flat = pressed(Pipe.from_size("3/4 in Sch 40"), 12e-3)
    >>> found = wall_stress(flat, RIGID_PVC, 4.0)
    >>> round(found.moment, 2), round(float(found.crosswise.max()) / 1e6, 1)
    (34.56, 19.7)
    """
    kappa, force = finite("curvature", curvature), finite("axial_force", axial_force)
    natural = finite("natural_curvature", natural_curvature)
    if abs(natural) * outline.fibre >= 1.0:
        allowed = f"within +-{1.0 / outline.fibre:.6g} 1/m: the section must fit into the bend"
        raise InputError("natural_curvature", natural_curvature, allowed)
    ring = Ring.from_outlines([outline], flat_points=12)
    steps = kappa * np.linspace(0.0, 1.0, 17)[None] if kappa else np.zeros((1, 1))
    path = follow_bending(ring, material, steps, natural=natural, force=force, frozen=not ovalise)
    if np.isnan(path.moment[0, -1]):
        raise BowfemError(
            f"section: no equilibrium at curvature {kappa:.6g} 1/m with an axial force of "
            f"{force:.6g} N; is either too much for this wall?"
        )
    state = path.unknowns[:, -1:]
    loaded, formed = (
        Wall(*(part[0, 0, :, None] for part in at_points(ring, each)))
        for each in (state, np.zeros_like(state))
    )
    wall, radius = outline.wall, float(ring.radius[0])
    depth = wall * np.concatenate([[-0.5], ring.offset, [0.5]])
    share = np.concatenate([[0.0], ring.share, [0.0]])
    x, y = loaded.x + depth * np.sin(loaded.angle), loaded.y - depth * np.cos(loaded.angle)
    before = formed.y - depth * np.cos(formed.angle)
    strain = float(state[0, 0, -3]) - kappa * y - natural * (y - before)
    strain = strain / (1.0 - natural * before)
    weights = np.concatenate([[0.0], ring.weights[0] * radius, [0.0]])
    bend = np.concatenate([[0.0], ring.bend[0] / radius, [0.0]])
    middle = (float(state[0, 0, -3]) - kappa * loaded.y - natural * (loaded.y - formed.y))[:, 0]
    middle = middle / (1.0 - natural * formed.y[:, 0])
    law, modulus, nu = plane_stress(material), material.initial_modulus, material.poisson
    change = np.ascontiguousarray(loaded.change[:, 0])
    across = thick_wall(law.table, law.step, nu, middle, change, bend, depth, share)
    # in the ring's own balance stands the mean of a thin wall
    thin = thick_wall(law.table, law.step, nu, middle, change, 0.0 * bend, depth, share)
    added = modulus * (thin[2] @ share)[:, None]
    along = material.stress(strain)
    total = along + modulus * across[2]
    along = along + added / (1.0 + depth * bend[:, None])
    hoop = modulus * across[1]
    area = 2.0 * wall * weights[:, None] * share * (1.0 + depth * bend[:, None])
    return WallStress(
        loaded.arc[:, 0],
        depth,
        x,
        y,
        strain,
        along,
        across[0],
        hoop,
        np.sqrt(total**2 - total * hoop + hoop**2),
        area,
        force,
        float(path.moment[0, -1]),
    )


def _share(value: Array, tension: float, compression: float) -> Array:
    """Return value over the mark of its sign."""
    return np.where(value >= 0.0, value / tension, -value / compression)


def _reader(knots: Array, kappa: Array) -> Callable[[Array], Array]:
    """Return a function that reads tables on the knots, (m, n_k) or (n_k,), at curvatures.

    The curvatures have shape (..., m), or (...) for a single section, and so have the values.
    """
    n, single = knots.shape[-1], knots.ndim == 1
    place = (kappa / knots[..., -1] + 1.0) * 0.5 * (n - 1)
    # stations first, then all states of one together
    across = place.reshape(-1) if single else place.reshape(-1, place.shape[-1]).T
    read = FourPoint(across, 0, n - 1)

    def value(table: Array) -> Array:
        found = read.value(table)
        return (found if single else found.T).reshape(place.shape)

    return value
