"""What a section answers to bending: moment against curvature, and what goes with it.

Positive curvature bends the tip toward the archer: the belly, y > 0, is compressed.
Strain ``e0 - curvature y``; moment ``- int stress y dA``, about the middle of the thickness.
"""

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.cards import card
from bowfem.errors import BowfemError, InputError
from bowfem.section._checks import finite, positive
from bowfem.section.material import Law
from bowfem.section.outline import Outline

Array = NDArray[np.float64]

WALL_POINTS = 8


class BendingCurve(NamedTuple):
    """Hold the equilibrium of a section at given curvatures, arrays of shape (n_k,).

    Attributes
    ----------
    curvature : ndarray
        Change of the limb's curvature from its formed shape, 1/m.
    moment : ndarray
        Bending moment, N m.
    tangent : ndarray
        Slope of the moment at constant axial force, N m2.
    axial_strain : ndarray
        Strain at the middle of the thickness.
    """

    curvature: Array
    moment: Array
    tangent: Array
    axial_strain: Array


@dataclass(frozen=True, eq=False, repr=False)
class SectionResponse:
    """Hold a section's law, however it was computed: what a rod and the stress check need.

    One section, or a stack of them with the station axis first. Shape (..., n_k) lives on the
    curvature knots, shape (...) is one number a section.

    Attributes
    ----------
    curvature : ndarray, shape (..., n_k)
        Knots, 1/m, uniform and symmetric about zero; change from the formed shape.
    moment : ndarray, shape (..., n_k)
        Bending moment, N m, without axial force.
    tangent : ndarray, shape (..., n_k)
        Its slope, N m2. Zero or less past a limit moment, where the section folds.
    axial_strain : ndarray, shape (..., n_k)
        Strain at the middle of the thickness; in a wall that ovalises, at its mean height.
    belly, back : ndarray, shape (..., n_k)
        Distance of the outer fibres from there, m; they shrink where the wall ovalises.
    loaded_thickness : ndarray, shape (..., n_k)
        Distance across the middles of belly and back, outside to outside, m; less than belly
        plus back where the faces cave in.
    crosswise_strain : ndarray, shape (..., n_k)
        Largest strain, by size, of the wall's surface round the section; zero for a section that
        keeps its outline.
    crosswise_tension : ndarray, shape (..., n_k)
        Largest tensile stress round the section, Pa: at the inside of the edges of a curl that is
        opened, where such curls split.
    axial_stiffness : ndarray, shape (...)
        EA at rest, N.
    shear_stiffness : ndarray, shape (...)
        GA at rest, N, reduced for the shear flow in the wall (see `Outline.shear_area`).
    bending_stiffness : ndarray, shape (...)
        EI at rest, N m2.
    side_stiffness, twist_stiffness : ndarray, shape (...)
        Stiffness against bending out of the limb's plane and against torsion, at rest, N m2.
    torsion_constant : ndarray, shape (...)
        Torsion constant, m4.
    area : ndarray, shape (...)
        Area of the wall, m2.
    mass_per_length : ndarray, shape (...)
        Mass per length, kg/m.
    width, thickness : ndarray, shape (...)
        Outer extents at rest, m.
    peak, peak_backward : ndarray, shape (...)
        Curvature at which the moment peaks, bent positively and negatively, 1/m, both positive;
        infinite without one, not a number where the knots have to tell.
    """

    curvature: Array
    moment: Array
    tangent: Array
    axial_strain: Array
    belly: Array
    back: Array
    loaded_thickness: Array
    crosswise_strain: Array
    crosswise_tension: Array
    axial_stiffness: Array
    shear_stiffness: Array
    bending_stiffness: Array
    side_stiffness: Array
    twist_stiffness: Array
    torsion_constant: Array
    area: Array
    mass_per_length: Array
    width: Array
    thickness: Array
    peak: Array
    peak_backward: Array

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        many = f"{self.thickness.size} stations" if self.thickness.ndim else "one section"
        return f"SectionResponse({many}, {self.curvature.shape[-1]} knots)"

    def _repr_html_(self) -> str:
        """Return a table for notebooks."""
        told = {
            "thickness, m": self.thickness,
            "width, m": self.width,
            "EI at rest, N m2": self.bending_stiffness,
            "folds at, 1/m": self.limit,
            "at a moment of, N m": self.moment_limit[..., 1],
        }
        rows = {
            name: " to ".join(f"{end:.4g}" for end in np.unique([np.min(all_), np.max(all_)]))
            for name, all_ in told.items()
        }
        return card(repr(self), rows)

    def scaled(self, length: float, stress: float, density: float = 1.0) -> "SectionResponse":
        """Return the law of the same section so many times as large, of a plastic as stiff.

        Parameters
        ----------
        length, stress, density : float
            Factors on all lengths, on all stresses at the same strain, and on the density.

        Notes
        -----
        Exact: strains are kept, so curvature goes as ``1/length``, moment as ``stress length^3``,
        and the wall's own equilibrium with them (D).
        """
        factors = {
            "curvature": 1.0 / length,
            "moment": stress * length**3,
            "tangent": stress * length**4,
            "belly": length,
            "back": length,
            "loaded_thickness": length,
            "crosswise_tension": stress,
            "width": length,
            "thickness": length,
            "axial_stiffness": stress * length**2,
            "shear_stiffness": stress * length**2,
            "bending_stiffness": stress * length**4,
            "side_stiffness": stress * length**4,
            "twist_stiffness": stress * length**4,
            "torsion_constant": length**4,
            "area": length**2,
            "mass_per_length": density * length**2,
            "peak": 1.0 / length,
            "peak_backward": 1.0 / length,
        }
        return replace(self, **{name: getattr(self, name) * by for name, by in factors.items()})

    def mirrored(self) -> "SectionResponse":
        """Return the same sections seen from the other side: belly and back change places."""
        turned = {
            each.name: getattr(self, each.name)[..., ::-1]
            for each in fields(self)
            if getattr(self, each.name).ndim == self.curvature.ndim
        }
        turned |= {"belly": turned["back"], "back": turned["belly"]}
        turned |= {"peak": self.peak_backward, "peak_backward": self.peak}
        turned |= {name: -turned[name] for name in ("curvature", "moment")}
        return replace(self, **turned)

    @cached_property
    def limit(self) -> Array:
        """Least positive curvature at which the moment peaks, 1/m, shape (...); nan without one.

        Notes
        -----
        Where the tangent first reaches zero, by a straight line between knots, unless `peak` says.
        """
        middle = self.curvature.shape[-1] // 2
        curvature, tangent = self.curvature[..., middle:], self.tangent[..., middle:]
        falls = tangent <= 0.0
        after = np.maximum(np.argmax(falls, axis=-1), 1)[..., None]
        k1, k0 = (np.take_along_axis(curvature, i, -1)[..., 0] for i in (after, after - 1))
        t1, t0 = (np.take_along_axis(tangent, i, -1)[..., 0] for i in (after, after - 1))
        with np.errstate(divide="ignore", invalid="ignore"):
            peak = k0 + (k1 - k0) * t0 / (t0 - t1)
        told = np.where(np.any(falls, axis=-1), peak, np.nan)
        known = np.where(np.isinf(self.peak), np.nan, self.peak)
        return np.where(np.isnan(self.peak), told, known)

    @cached_property
    def moment_limit(self) -> Array:
        """Largest moment before the section folds or its table ends, N m, shape (..., 2).

        Bent negatively and positively, both positive: the moment at `limit`, of the section and of
        it seen from the other side.
        """

        def most(one: SectionResponse) -> Array:
            within = one.curvature <= np.where(np.isnan(one.limit), np.inf, one.limit)[..., None]
            return np.max(np.where(within, one.moment, -np.inf), axis=-1)

        return np.stack([most(self.mirrored()), most(self)], axis=-1)


def moment_curvature(
    outline: Outline, material: Law, curvatures: ArrayLike, axial_force: float = 0.0
) -> BendingCurve:
    """Bend a section of unchanging outline to given curvatures.

    Parameters
    ----------
    outline : Outline
        The cross-section.
    material : Law
        Stress-strain law.
    curvatures : array_like, shape (n_k,)
        Changes of curvature from the formed shape, 1/m.
    axial_force : float, optional
        Axial force, N, tension positive, acting at the middle of the thickness.

    Returns
    -------
    BendingCurve
        Moment, its exact slope and the axial strain at each curvature.

    Raises
    ------
    InputError
        When a curvature is not finite or the wall cannot carry the axial force.

    Notes
    -----
    Gauss points through the wall with area element ``(1 + n c) dn ds``, ``c`` the wall's
    curvature. The axial strain follows from the axial force by Newton's method held inside a
    bracket; condensing it out, ``dM/dk = int Et y^2 dA - (int Et y dA)^2 / int Et dA``.
    On an outline with equal belly and back the moment is odd in curvature for every law, also
    one stronger in compression; what such a law shifts is the axial strain.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC, Pipe, pressed
    >>> flat = pressed(Pipe.from_size("3/4 in Sch 40"), 12e-3)
    >>> [round(float(m), 2) for m in moment_curvature(flat, RIGID_PVC, [-3.0, 0.0, 3.0]).moment]
    [-30.33, 0.0, 30.33]
    """
    kappa = np.atleast_1d(np.asarray(curvatures, dtype=float))
    if kappa.ndim != 1 or not np.all(np.isfinite(kappa)):
        raise InputError("curvatures", curvatures, "finite numbers, 1/m, one row of them")
    return _bend(*_fibres(outline), material, kappa, finite("axial_force", axial_force))


def _fibres(outline: Outline) -> tuple[Array, Array]:
    """Cut the wall into fibres: height and area; those at equal height are one fibre."""
    node, weight = np.polynomial.legendre.leggauss(WALL_POINTS)
    offset = 0.5 * outline.wall * node
    y = outline.y[:, None] + offset * outline.normal_y[:, None]
    share = 0.5 * outline.wall * weight * (1.0 + offset * outline.curvature[:, None])
    heights, index = np.unique(y.ravel(), return_inverse=True)
    areas = np.bincount(index.ravel(), (share * outline.weights[:, None]).ravel())
    return heights, np.asarray(areas, dtype=float)


def _bend(y: Array, area: Array, material: Law, kappa: Array, axial_force: float) -> BendingCurve:
    """Solve the axial strain at every curvature together; finished ones drop out."""
    reach = float(np.max(np.abs(y)))
    centre = _uniform_strain(material, axial_force, float(np.sum(area)))
    low, high = centre - np.abs(kappa) * reach, centre + np.abs(kappa) * reach
    strain0 = np.full(kappa.shape, centre)
    moment, tangent = np.zeros_like(kappa), np.zeros_like(kappa)
    moments = np.stack([area, area * y, area * y**2], axis=1)
    active = np.arange(kappa.size)
    for _ in range(100):
        k, e = kappa[active], strain0[active]
        stress, slope = material.stress_and_tangent(e[:, None] - k[:, None] * y)
        sums = stress @ moments[:, :2]
        stiffness = slope @ moments
        force = sums[:, 0] - axial_force
        low[active] = np.where(force < 0.0, e, low[active])
        high[active] = np.where(force > 0.0, e, high[active])
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.where(force == 0.0, 0.0, -force / stiffness[:, 0])
            lost = np.where(stiffness[:, 1] == 0.0, 0.0, stiffness[:, 1] ** 2 / stiffness[:, 0])
        new = e + step
        inside = (new >= low[active]) & (new <= high[active])
        small = np.abs(step) <= 1e-12 * (np.abs(k) * reach + abs(centre))
        narrow = high[active] - low[active] <= 1e-15 * (np.abs(k) * reach + abs(centre))
        done = (inside & small) | narrow
        # the last, tiny step is taken in the strain; in the moment it is below round-off
        moment[active] = 0.0 - sums[:, 1]
        tangent[active] = stiffness[:, 2] - lost
        strain0[active] = np.where(inside, new, 0.5 * (low[active] + high[active]))
        active = active[~done]
        if active.size == 0:
            return BendingCurve(kappa, moment, tangent, strain0)
    raise BowfemError("section: the axial strain was not found; is the law monotone?")


def _uniform_strain(material: Law, axial_force: float, area: float) -> float:
    """Find the uniform strain that carries an axial force."""
    if axial_force == 0.0:
        return 0.0
    wanted = axial_force / area
    low, high = -1.0, 1.0
    least, most = (float(material.stress(end)) for end in (low, high))
    if not least < wanted < most:
        allowed = f"between {least * area:.6g} and {most * area:.6g} N, what the wall can carry"
        raise InputError("axial_force", axial_force, allowed)
    strain = 0.0
    while high - low > 1e-16:
        stress, slope = (float(part) for part in material.stress_and_tangent(strain))
        low, high = (strain, high) if stress < wanted else (low, strain)
        new = strain - (stress - wanted) / slope if slope > 0.0 else high
        if abs(new - strain) <= 1e-15 * abs(strain):
            return new
        strain = new if low < new < high else 0.5 * (low + high)
        if strain in (low, high):
            return strain
    return strain


def section_response(
    outline: Outline, material: Law, max_strain: float = 0.08, n: int = 65
) -> SectionResponse:
    """Tabulate a section whose outline does not change under load.

    Parameters
    ----------
    outline : Outline
        The cross-section.
    material : Law
        Stress-strain law.
    max_strain : float, optional
        Strain of the outer fibre at the last knot, about the middle of the thickness.
    n : int, optional
        Number of knots, odd, at least 5.

    Raises
    ------
    InputError
        When the range or the number of knots cannot be used.

    Examples
    --------
    >>> from bowfem.section import RIGID_PVC, Pipe, circle
    >>> round_pipe = section_response(circle(Pipe.from_size("3/4 in Sch 40")), RIGID_PVC)
    >>> round(float(round_pipe.bending_stiffness), 2), float(round_pipe.limit)
    (47.26, nan)
    """
    kappa = curvature_knots(outline.fibre, max_strain, n)
    y, area = _fibres(outline)
    if np.array_equal(y, -y[::-1]) and np.allclose(area, area[::-1], rtol=1e-9, atol=0.0):
        # equal belly and back: moment odd, tangent and axial strain even, whatever the law
        half = _bend(y, area, material, kappa[n // 2 :], 0.0)
        moment = np.concatenate([-half.moment[:0:-1], half.moment])
        tangent, axial = (
            np.concatenate([part[:0:-1], part]) for part in (half.tangent, half.axial_strain)
        )
    else:
        _, moment, tangent, axial = _bend(y, area, material, kappa, 0.0)
    fibre = np.full(n, outline.fibre)
    return SectionResponse(
        curvature=kappa,
        moment=moment,
        tangent=tangent,
        axial_strain=axial,
        belly=fibre,
        back=fibre,
        loaded_thickness=np.full(n, outline.thickness),
        crosswise_strain=np.zeros(n),
        crosswise_tension=np.zeros(n),
        **at_rest(outline, material),
    )


def curvature_knots(fibre: float, max_strain: float, n: int) -> Array:
    """Return n uniform curvatures, symmetric to the last bit, up to a strain of the outer fibre."""
    if isinstance(n, bool) or not isinstance(n, int | np.integer) or n < 5 or n % 2 == 0:
        raise InputError("n", n, "an odd whole number, at least 5")
    kappa = np.linspace(-1.0, 1.0, n) * positive("max_strain", max_strain) / fibre
    return 0.5 * (kappa - kappa[::-1])


def at_rest(outline: Outline, material: Law) -> dict[str, Array]:
    """Return the numbers of a section that do not depend on load, by name."""
    modulus = material.initial_modulus
    return {
        "axial_stiffness": np.array(modulus * outline.area),
        "shear_stiffness": np.array(material.shear_modulus * outline.shear_area),
        "bending_stiffness": np.array(modulus * outline.second_moment_weak),
        "side_stiffness": np.array(modulus * outline.second_moment_strong),
        "twist_stiffness": np.array(material.shear_modulus * outline.torsion_constant),
        "torsion_constant": np.array(outline.torsion_constant),
        "area": np.array(outline.area),
        "mass_per_length": np.array(material.density * outline.area),
        "width": np.array(outline.width),
        "thickness": np.array(outline.thickness),
        "peak": np.array(np.nan),
        "peak_backward": np.array(np.nan),
    }
