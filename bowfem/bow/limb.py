"""From a design to the rod that carries it: one limb, from the bow's centre to the string groove.

The rod's x runs along the bow, its y toward the archer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import ceil

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.design import Design
from bowfem.rod import MomentTable, Rod, TautString
from bowfem.section import SectionFamily, SectionResponse, blend

Array = NDArray[np.float64]

#: Longest element, as a share of the limb; finer where thickness, bends or turning begin.
ELEMENT = 1.0 / 10.0
#: Largest natural turn in an element, rad, and the largest part of a twist to edge-on.
TURN, TWIST = 0.4, 0.25


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
    """

    rod: Rod
    sections: SectionResponse
    string: TautString
    folds: NDArray[np.bool_]

    @classmethod
    def from_design(cls, design: Design, refine: int = 1) -> LimbModel:
        """Build the limb of a design.

        Parameters
        ----------
        design : Design
            The bow.
        refine : int
            Cut every element of the default mesh into this many.

        Notes
        -----
        Half the cut length is taken as the length of the axis: pressing keeps length. Pipe beyond
        the groove carries nothing and is left out. The section's law is that for no axial force;
        the string's thrust, a few hundred newtons, strains the wall by some 0.05 %.
        """
        nodes = _nodes(design, refine)
        plain = Rod.from_curvature(nodes, EI=1.0, curvature0=design.natural_curvature)
        shape = plain.EI.shape
        s = plain.stations.ravel()
        sections = _sections(design, s)
        offset = 0.5 * sections.thickness + 0.5 * design.string.thickness
        rod = Rod.from_curvature(
            nodes,
            EI=sections.bending_stiffness.reshape(shape),
            curvature0=design.natural_curvature,
            EA=sections.axial_stiffness.reshape(shape),
            GA=sections.shear_stiffness.reshape(shape),
            belly=offset.reshape(shape),
        )
        knots = (*shape, -1)
        backward = replace(sections, tangent=sections.tangent[:, ::-1])
        peaks = np.stack([backward.limit, sections.limit], axis=-1)
        end = sections.curvature[:, -1:]
        table = MomentTable(
            sections.curvature.reshape(knots),
            sections.moment.reshape(knots),
            sections.tangent.reshape(knots),
            np.where(np.isnan(peaks), end, peaks).reshape(*shape, 2),
        )
        string = TautString(EA=design.string.stiffness)
        return cls(rod.with_table(table), sections, string, ~np.isnan(peaks[:, 1]))


def _nodes(design: Design, refine: int) -> Array:
    end = design.nock_station
    stops = [0.0, *(s for s in design.breaks if s < end - 1e-6), end]
    nodes = [0.0]
    for a, b in pairwise(stops):
        turn = float(np.abs(np.diff(design.natural_angle([a, b]))[0]))
        twist = float(np.abs(np.diff(design.edge_on_share([a, b]))[0]))
        parts = max((b - a) / (ELEMENT * end), turn / TURN, twist / TWIST)
        count = refine * max(1, ceil(parts - 1e-9))
        nodes += [a + (b - a) * (i + 1) / count for i in range(count)]
    return np.array(nodes)


def _sections(design: Design, s: Array) -> SectionResponse:
    thickness, share = design.thickness_at(s), design.edge_on_share(s)
    flat = SectionFamily.from_pipe(design.pipe, design.material).at(thickness)
    if not np.any(share > 0.0):
        return flat
    edge = SectionFamily.from_pipe(design.pipe, design.material, turned=True).at(thickness)
    return blend(flat, edge, share)
