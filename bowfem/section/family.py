"""Sections of one pipe at every pressed thickness: solved at a few, interpolated between."""

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import lru_cache
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import InputError
from bowfem.section._checks import positive, row_between
from bowfem.section._numerics import barycentric
from bowfem.section.built_up import at_stations
from bowfem.section.material import RIGID_PVC, Law
from bowfem.section.outline import Outline, onset_thickness, pressed
from bowfem.section.ovalising import HalfKnots, LostWallError, tabulate
from bowfem.section.pipe import Pipe
from bowfem.section.response import SectionResponse, section_response
from bowfem.section.store import Arrays, kept

Array = NDArray[np.float64]

#: Shares of the range of strain tried in turn: walls of a law that softens may give way altogether
#: inside it, beyond their fold; tables then end before.
CUTS = (1.0, 0.85, 0.72, 0.6, 0.5)


@dataclass(frozen=True, eq=False)
class SectionFamily:
    """Hold the responses of one pipe and material over thickness, for any number of stations.

    Attributes
    ----------
    thicknesses : ndarray, shape (n_nodes,)
        Pressed thicknesses solved, m, increasing.
    panels : tuple of slice
        Runs of nodes with one polynomial each; neighbours share a node.
    nodes : SectionResponse
        The responses there, thickness axis first.
    turned : bool
        Whether the sections stand edge-on; thickness is then still the pressed thickness.
    half : HalfKnots or None
        How to refill tables of ovalising sections, whose `nodes` are solved at curvatures of their
        own from zero up; None where the nodes are tables already.

    Notes
    -----
    Two polynomial panels in thickness, on Chebyshev points that include the ends, meeting where
    flats begin: a pressed outline is analytic on either side, with continuous slope across. So
    values are continuous there, slopes to the accuracy of the interpolation. Lying sections
    that ovalise have a third panel, of those whose faces touch inside the range.
    """

    thicknesses: Array
    panels: tuple[slice, ...]
    nodes: SectionResponse
    turned: bool = False
    half: HalfKnots | None = None

    @classmethod
    def from_pipe(
        cls,
        pipe: Pipe,
        material: Law = RIGID_PVC,
        *,
        shape: Callable[[Pipe, float], Outline] = pressed,
        turned: bool = False,
        ovalise: bool = True,
        max_strain: float = 0.08,
        n_curvature: int = 65,
        n_thickness: int | None = None,
    ) -> "SectionFamily":
        """Tabulate the sections of a pipe.

        Parameters
        ----------
        pipe : Pipe
            The pipe.
        material : Law, optional
            Stress-strain law; default rigid PVC.
        shape : callable, optional
            `pressed`, `racetrack` or `ellipse`.
        turned : bool, optional
            Stand the sections edge-on.
        ovalise : bool, optional
            Let the outlines flatten under load; else they stay as formed.
        max_strain, n_curvature : optional
            Range and number of curvature knots, as in `section_response`. Where the range of an
            ovalising family must end sooner, all its tables do.
        n_thickness : int, optional
            Thicknesses solved in each panel, at least 4; default 10, or 16 of fixed outlines. The
            panel of ovalising sections without flats gets three fifths.

        Raises
        ------
        InputError
            When one of the numbers cannot be used.
        BowfemError
            When a wall finds no equilibrium inside the range.

        Notes
        -----
        A family once asked for is kept in memory: the next call with equal arguments returns it.

        Examples
        --------
        >>> family = SectionFamily.from_pipe(Pipe.from_size("3/4 in Sch 40"))
        >>> limb = family.at([26.67e-3, 20e-3, 12e-3])
        >>> [round(float(ei), 1) for ei in limb.bending_stiffness]
        [47.3, 29.8, 11.1]
        """
        if n_thickness is None:
            n_thickness = 10 if ovalise else 16
        _check_count(n_thickness)
        positive("max_strain", max_strain)
        whole = isinstance(n_curvature, int) and not isinstance(n_curvature, bool)
        if not whole or n_curvature < 5 or n_curvature % 2 == 0:
            raise InputError("n_curvature", n_curvature, "an odd whole number, at least 5")
        return _from_pipe(
            pipe, material, shape, turned, ovalise, max_strain, n_curvature, n_thickness
        )

    @classmethod
    def from_law(
        cls,
        pipe: Pipe,
        law: Callable[[float], SectionResponse],
        *,
        turned: bool = False,
        n_thickness: int = 16,
    ) -> "SectionFamily":
        """Tabulate sections however they are computed.

        Parameters
        ----------
        pipe : Pipe
            The pipe; thickness runs from twice its wall to its outer diameter.
        law : callable
            Gives the response at a pressed thickness, m, always with the same number of knots.
        turned : bool, optional
            Whether those sections stand edge-on.
        n_thickness : int, optional
            Thicknesses solved in each of the two panels, at least 4.

        Raises
        ------
        InputError
            When ``n_thickness`` is below 4.
        """
        _check_count(n_thickness)
        closed, full = 2.0 * pipe.wall, pipe.outer_diameter
        ends = [closed, onset_thickness(pipe), full]
        if ends[1] <= closed:  # so thick a wall that its faces touch before flats begin
            del ends[1]
        share = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, n_thickness)))
        panels, grid = [], [ends[0]]
        for low, high in pairwise(ends):
            panels.append(slice(len(grid) - 1, len(grid) - 1 + n_thickness))
            grid += [*(low + (high - low) * share[1:-1]), high]
        solved = [law(float(thickness)) for thickness in grid]
        nodes = SectionResponse(
            **{
                each.name: np.stack([getattr(one, each.name) for one in solved])
                for each in fields(SectionResponse)
            }
        )
        return cls(np.array(grid), tuple(panels), nodes, turned)

    def at(self, thickness: ArrayLike) -> SectionResponse:
        """Return the responses at pressed thicknesses, stacked with the station axis first.

        Parameters
        ----------
        thickness : array_like, shape (m,)
            Pressed outer thickness at each station, m.

        Raises
        ------
        InputError
            Outside twice the wall to the outer diameter.
        """
        ends = self.thicknesses[0], self.thicknesses[-1]
        rows, single = row_between("thickness", thickness, *ends, "m")
        matrix = self._weights(rows)
        found = SectionResponse(
            **{
                each.name: matrix @ getattr(self.nodes, each.name)
                for each in fields(SectionResponse)
            }
        )
        if self.half is not None:
            first = rows <= self.thicknesses[self.panels[0].stop - 1]
            found = self.half.refilled(found, first)
        return at_stations(found, 0) if single else found

    def _weights(self, wanted: Array) -> Array:
        """Return the weight of each node at each wanted thickness, (m, n_nodes)."""
        matrix = np.zeros((wanted.size, self.thicknesses.size))
        edges = self.thicknesses[[panel.stop - 1 for panel in self.panels[:-1]]]
        which = np.searchsorted(edges, wanted)
        for number, panel in enumerate(self.panels):
            rows = np.flatnonzero(which == number)
            nodes, at = self.thicknesses[panel], wanted[rows]
            if number == 0 and self.half is not None and self.half.touching:
                nodes, at = (np.sqrt(part - self.thicknesses[0]) for part in (nodes, at))
            matrix[rows, panel] = barycentric(nodes, at)
        return matrix


@lru_cache(maxsize=16)
def _from_pipe(*asked: Any) -> SectionFamily:
    """Return what `_solved` gives, solved once on a machine."""
    return _unpacked(kept("family", asked, lambda: _packed(_solved(*asked))))


def _packed(family: SectionFamily) -> Arrays:
    """Lay a family out as arrays, by name."""
    half = family.half
    return {
        "thicknesses": family.thicknesses,
        "turned": np.array(family.turned),
        "panels": np.array([(panel.start, panel.stop) for panel in family.panels]),
        "half": np.array([] if half is None else [half.n, half.max_strain, half.touching]),
        **{each.name: getattr(family.nodes, each.name) for each in fields(SectionResponse)},
    }


def _unpacked(arrays: Arrays) -> SectionFamily:
    """Make a family of what `_packed` gave."""
    panels = tuple(slice(int(a), int(b)) for a, b in arrays["panels"])
    nodes = SectionResponse(**{each.name: arrays[each.name] for each in fields(SectionResponse)})
    half = None
    if arrays["half"].size:
        n, reach, touching = arrays["half"].tolist()
        half = HalfKnots(int(n), reach, bool(touching))
    turned = bool(arrays["turned"])
    return SectionFamily(arrays["thicknesses"], panels, nodes, turned, half)


def _solved(
    pipe: Pipe,
    material: Law,
    shape: Callable[[Pipe, float], Outline],
    turned: bool,
    ovalise: bool,
    max_strain: float,
    n_curvature: int,
    n_thickness: int,
) -> SectionFamily:
    """Solve what `SectionFamily.from_pipe` describes."""
    if ovalise:
        for share in CUTS:
            reach = share * max_strain
            try:
                solved = tabulate(pipe, material, shape, turned, reach, n_curvature, n_thickness)
            except LostWallError:
                if share == CUTS[-1]:
                    raise
            else:
                return SectionFamily(*solved[:3], turned, solved.half)

    def law(thickness: float) -> SectionResponse:
        outline = shape(pipe, thickness)
        return section_response(
            outline.turned() if turned else outline, material, max_strain, n_curvature
        )

    return SectionFamily.from_law(pipe, law, turned=turned, n_thickness=n_thickness)


def forget() -> None:
    """Drop the families kept in memory, as for timing."""
    _from_pipe.cache_clear()


def _check_count(n_thickness: int) -> None:
    if not isinstance(n_thickness, int) or n_thickness < 4:
        raise InputError("n_thickness", n_thickness, "a whole number, at least 4")


def blend(flat: SectionResponse, edge: SectionResponse, turn: ArrayLike) -> SectionResponse:
    """Blend flat sections into edge-on ones over a transition.

    Parameters
    ----------
    flat, edge : SectionResponse
        The two laws, each for one section or for the same m stations, equal in knots.
    turn : array_like, shape (m,) or ()
        Share of the turn done at each station, 0 flat to 1 edge-on; smooth if the limb is to be.

    Raises
    ------
    InputError
        When a share is outside 0 to 1 or the knots differ in number.

    Notes
    -----
    An engineering interpolation, no solution of the twisted wall between: every quantity is
    averaged at equal knot number, that is at equal strain of the outer fibre. The moment stays
    monotone where both laws are, and its tangent stays its exact slope.
    """
    u = np.asarray(turn, dtype=float)
    if not np.all((u >= 0.0) & (u <= 1.0)):
        raise InputError("turn", turn, "between 0 (flat) and 1 (edge-on)")
    counts = flat.curvature.shape[-1], edge.curvature.shape[-1]
    if counts[0] != counts[1]:
        raise InputError("edge", f"{counts[1]} curvature knots", f"of {counts[0]} knots, as flat")

    def mean(name: str, of: tuple[Array, Array] | None = None) -> Array:
        one, two = of or (getattr(flat, name), getattr(edge, name))
        share = u[..., None] if name in on_knots else u
        return (1.0 - share) * one + share * two

    on_knots = [
        name
        for name in (each.name for each in fields(flat))
        if getattr(flat, name).ndim == flat.curvature.ndim
    ]
    peaks = ("peak", "peak_backward")
    mixed = {
        name: np.where(
            u == 0.0, getattr(flat, name), np.where(u == 1.0, getattr(edge, name), np.nan)
        )
        for name in peaks
    }
    mixed |= {each.name: mean(each.name) for each in fields(flat) if each.name not in peaks}
    # slope by knot number, dM/dk times the spacing, averages as the moment does
    last = flat.curvature[..., -1:], edge.curvature[..., -1:]
    slopes = flat.tangent * last[0], edge.tangent * last[1]
    mixed["tangent"] = mean("tangent", slopes) / mixed["curvature"][..., -1:]
    middle = counts[0] // 2
    mixed["bending_stiffness"] = mixed["tangent"][..., middle]
    return SectionResponse(**mixed)
