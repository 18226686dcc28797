"""From a design to the rods that carry it: each limb from the bow's centre to its string groove.

The rod's x runs along the bow, its y toward the archer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.bow.mesh import breaks_of, element_counts, nodes_of
from bowfem.design import Design, LimbShape, Side, Sleeve
from bowfem.rod import MomentTable, Path, Pulling, Rod, Settings, TautString, clamp
from bowfem.section import (
    CurledBetween,
    CurledFamily,
    Law,
    Linear,
    Pipe,
    SectionFamily,
    SectionResponse,
    at_stations,
    blend,
    family_of,
    gathered,
    nested,
    put_stations,
    solid_rod,
    stacked,
    with_strip,
)

Array = NDArray[np.float64]

#: Gives the sections of a pipe and plastic, formed to a curvature, at every thickness.
Families = Callable[..., SectionFamily | CurledFamily | CurledBetween]


@dataclass(frozen=True, eq=False)
class LimbModel:
    """Hold one limb as a rod, with the sections it is made of.

    Attributes
    ----------
    rod : Rod
        Axis of the limb from the bow's centre to the groove, with its nonlinear law.
    sections : SectionResponse
        Sections at the rod's stations, flattened, station axis first.
    string : TautString
        The string, tied at the belly's surface.
    folds : ndarray of bool, shape (n_stations,)
        Whether the section's moment peaks within the range of its law; else that ends first.
    corners : ndarray of int, shape (n,)
        Nodes inside the limb at which thickness, turn or lining changes at once.
    """

    rod: Rod
    sections: SectionResponse
    string: TautString
    folds: NDArray[np.bool_]
    corners: NDArray[np.int_]
    _pulling: dict[Settings, Pulling] = field(default_factory=dict, init=False, repr=False)

    def __getstate__(self) -> dict[str, Any]:
        """Leave out what is laid out for the kernels: it is made anew."""
        return {**self.__dict__, "_pulling": {}}

    @classmethod
    def from_design(
        cls,
        design: Design,
        refine: int = 1,
        *,
        side: Side = Side.UPPER,
        counts: Sequence[int] = (),
        nodes: Array | None = None,
        families: Families = family_of,
    ) -> LimbModel:
        """Build a limb of a design.

        Parameters
        ----------
        design : Design
            The bow.
        refine : int
            Refine the default mesh by this factor.
        side : Side
            Which limb, in its own frame (along the limb, toward the archer).
        counts : sequence of int, optional
            Elements in each stretch between breaks, instead of what `refine` says: those of a
            neighbouring design (`element_counts`), so that states go over from limb to limb.
        nodes : ndarray, shape (n_elements + 1,), optional
            Ends of the elements, m from the bow's centre, instead of all this.
        families : callable
            Where sections come from: `family_of`, or a `FamilyRange`.

        Raises
        ------
        InputError
            `counts` does not fit the stretches of this limb.

        Notes
        -----
        Length of pipe is taken as length of the axis: pressing keeps length. Pipe beyond
        the groove carries nothing and is left out. The section's law is that for no axial force;
        the string's thrust, a few hundred newtons, strains the wall by some 0.05 %.
        """
        shape = design.limbs[side.index]
        if nodes is None:
            wall = design.pipe.wall
            nodes = nodes_of(shape, counts or element_counts(shape, wall, refine), wall)
        plain = Rod.from_curvature(nodes, EI=1.0, curvature0=shape.natural_curvature)
        grid = plain.EI.shape
        s = plain.stations.ravel()
        sections = sections_at(design, shape, s, families)
        offset = 0.5 * sections.thickness + 0.5 * design.string.thickness
        rod = Rod.from_curvature(
            nodes,
            EI=sections.bending_stiffness.reshape(grid),
            curvature0=shape.natural_curvature,
            EA=sections.axial_stiffness.reshape(grid),
            GA=sections.shear_stiffness.reshape(grid),
            belly=offset.reshape(grid),
        )
        knots = (*grid, -1)
        peaks = np.stack([sections.mirrored().limit, sections.limit], axis=-1)
        end = sections.curvature[:, -1:]
        table = MomentTable(
            sections.curvature.reshape(knots),
            sections.moment.reshape(knots),
            sections.tangent.reshape(knots),
            np.where(np.isnan(peaks), end, peaks).reshape(*grid, 2),
        )
        string = TautString(EA=design.string.stiffness)
        corners = np.flatnonzero(np.isin(nodes, breaks_of(shape)[1:-1]))
        return cls(rod.with_table(table), sections, string, ~np.isnan(peaks[:, 1]), corners)

    def pulled(
        self,
        nock: ArrayLike,
        length: ArrayLike,
        settings: Settings,
        *,
        start: Path | None,
        begin: tuple[float, float, float] = (0.0, 0.0, 0.0),
    ) -> Path:
        """Pull the limb's string, the limb held at the bow's centre, as far as its sections bear.

        Parameters
        ----------
        nock : array_like, shape (n, 2)
            Places of the nock point in the limb's frame, m.
        length : array_like, shape () or (n,)
            Natural length of this limb's part of the string, m.
        start, begin
            Where to go on from, as in `bowfem.rod.pull`.
        """
        return self.pulling(settings).to(nock, length, begin=begin, start=start, strict=False)

    def pulling(self, settings: Settings) -> Pulling:
        """Return the limb on its string, laid out once."""
        if settings not in self._pulling:
            self._pulling[settings] = Pulling(self.rod, [clamp(0)], self.string, settings=settings)
        return self._pulling[settings]


def sections_at(
    design: Design, shape: LimbShape, s: Array, families: Families = family_of
) -> SectionResponse:
    """Return the sections at stations of a limb: the pipe as pressed, with sleeves and overlays.

    Parameters
    ----------
    design : Design
        The bow.
    shape : LimbShape
        One of its limbs.
    s : ndarray, shape (n_stations,)
        Distances from the bow's centre along the pipe, m.
    families : callable
        Where sections come from, as in `LimbModel.from_design`.
    """
    thickness, share = shape.thickness_at(s), shape.edge_on_share(s)
    natural = shape.formed_curvature(s)
    found = _pressed(design.pipe, design.material, thickness, share, natural, families)
    for sleeve in shape.limb.sleeves:
        where = (s > sleeve.start) & (s < sleeve.end)
        if np.any(where):
            host, n = at_stations(found, where), found.curvature.shape[-1]
            each = thickness[where], share[where], natural[where]
            guest = _sleeve(design, sleeve, each, n, families)
            both = nested(
                host,
                guest,
                bonded=sleeve.fit == "bonded",
                over=sleeve.is_over(design.pipe),
                alike=sleeve.modulus is None,
            )
            found = put_stations(found, where, both)
    for overlay in shape.limb.overlays:
        where = (s > overlay.start) & (s < overlay.end)
        if not np.any(where):
            continue
        under = at_stations(found, where)
        if overlay.thickness is not None and overlay.modulus is not None:
            under = with_strip(under, overlay.thickness, overlay.modulus)
        mass = under.mass_per_length + overlay.mass_per_length
        found = put_stations(found, where, replace(under, mass_per_length=mass))
    return found


def _pressed(
    pipe: Pipe,
    material: Law,
    thickness: Array,
    share: Array,
    natural: Array,
    families: Families,
) -> SectionResponse:
    """Return the sections of a pipe, pressed, turned by a share and formed to a curve."""

    def sections(turned: bool, where: NDArray[np.bool_]) -> SectionResponse:
        formed, which = np.unique(natural[where], return_inverse=True)
        return gathered(
            which,
            [
                families(pipe, material, turned=turned, natural_curvature=float(curvature)).at(
                    thickness[where][which == number]
                )
                for number, curvature in enumerate(formed)
            ],
        )

    flat, stands = sections(False, np.full(share.size, True)), share > 0.0
    if not np.any(stands):
        return flat
    edge = sections(True, stands)
    return put_stations(flat, stands, blend(at_stations(flat, stands), edge, share[stands]))


def sleeve_law(sleeve: Sleeve, material: Law) -> Law:
    """Return the law of a sleeve's material, on a pipe of a given one."""
    if sleeve.modulus is not None:
        density = material.density if sleeve.density is None else sleeve.density
        return Linear(sleeve.modulus, poisson=material.poisson, density=density)
    return material if sleeve.density is None else replace(material, density=sleeve.density)


def sleeve_thickness(pipe: Pipe, own: Pipe, thickness: Array) -> Array:
    """Return the outer thickness of one pipe nested over or inside another, pressed with it.

    Parameters
    ----------
    pipe : Pipe
        The nested one; it sits over the other where it is the wider.
    own : Pipe
        The bow's.
    thickness : ndarray
        Outer thickness that one is pressed to, m.

    Notes
    -----
    The sleeve is round where the limb is; pressed shut, faces lie on faces, and in between the
    play between the two closes evenly.
    """
    closed, outside = 2.0 * pipe.wall, pipe.outer_diameter > own.outer_diameter
    bare = 2.0 * own.wall if outside else 2.0 * own.wall + closed  # least thickness of the limb
    shut = 2.0 * own.wall + closed if outside else closed
    share_left = (thickness - bare) / (own.outer_diameter - bare)
    return shut + share_left * (pipe.outer_diameter - shut)


def _sleeve(
    design: Design,
    sleeve: Sleeve,
    limb: tuple[Array, Array, Array],
    n: int,
    families: Families,
) -> SectionResponse:
    """Return the sections of a sleeve where the limb is pressed, turned and formed so."""
    law, pipe, (thickness, share, natural) = sleeve_law(sleeve, design.material), sleeve.pipe, limb
    if pipe is None:  # a rod stays round
        return stacked(solid_rod(sleeve.diameter, law, n=n), thickness.size)
    own = sleeve_thickness(pipe, design.pipe, thickness)
    return _pressed(pipe, law, own, share, natural, families)
