"""Sections of limbs that were formed curved: softer than straight ones, and unlike both ways.

A curved tube flattens at first order in its bending (Th. von Karman 1911, M): it is softer from the
start, softer still when bent further, and stiffens when it is opened. So tables here run over both
senses, and hold for one formed curvature. Between thicknesses they are interpolated within fixed
panels, each solved when it is first asked for: a curl needs one or two.
"""

from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import BowfemError, InputError
from bowfem.section._checks import finite, row_between
from bowfem.section._numerics import FourPoint, barycentric, osculating
from bowfem.section.built_up import at_stations, gathered
from bowfem.section.family import SectionFamily
from bowfem.section.material import Law
from bowfem.section.outline import Outline, onset_thickness, pressed
from bowfem.section.ovalising import TOUCHING_POINTS, path_table
from bowfem.section.pipe import Pipe
from bowfem.section.response import SectionResponse, at_rest
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import follow_bending
from bowfem.section.store import Arrays, kept

Array = NDArray[np.float64]

#: Ends of the panels between pressed shut and the onset of flats, as shares of that range.
SHARES = (0.0, 0.12, 0.3, 0.6, 1.0)
#: Thicknesses solved in a panel, and intervals of curvature solved to either side.
NODES, STEPS = 5, 16
#: Strain of the outer fibre at the ends of a table, and knots, as of straight sections.
MAX_STRAIN, KNOTS = 0.08, 65


@dataclass(frozen=True, eq=False)
class CurledFamily:
    """Give the sections of one pipe and plastic, formed to one curvature, at any thickness.

    Attributes
    ----------
    pipe, material : Pipe, Law
        What they are made of.
    natural_curvature : float
        Curvature of the limb as formed, 1/m; positive bends the tip toward the archer.
    turned : bool
        Whether the sections stand edge-on; thickness is then still the pressed thickness.
    shape : callable
        `pressed`, `racetrack` or `ellipse`.

    Notes
    -----
    Bent the other way, belly and back change places: one sign of the curvature is solved. Knots do
    not follow the curvature where faces touch: moments near it are 1 to 2 per cent off in sections
    pressed nearly shut, 1e-4 in others, and where they fold 1 to 2 per cent (D); a peak that ends
    within a knot in touching faces is not seen.
    """

    pipe: Pipe
    material: Law
    natural_curvature: float
    turned: bool = False
    shape: Callable[[Pipe, float], Outline] = pressed

    def __post_init__(self) -> None:
        """Refuse a radius that the pipe cannot have."""
        finite("natural_curvature", self.natural_curvature)

    @property
    def edges(self) -> Array:
        """Ends of the panels of thickness, m."""
        closed, onset = 2.0 * self.pipe.wall, onset_thickness(self.pipe)
        if onset <= closed:
            return np.array([closed, self.pipe.outer_diameter])
        inner = closed + (onset - closed) * np.array(SHARES)
        return np.append(inner, self.pipe.outer_diameter)

    def at(self, thickness: ArrayLike) -> SectionResponse:
        """Return the responses at pressed thicknesses, stacked with the station axis first.

        Parameters
        ----------
        thickness : array_like, shape (m,)
            Pressed outer thickness at each station, m.

        Raises
        ------
        InputError
            Outside twice the wall to the outer diameter, or the section does not fit in the bend.
        """
        return read_panels(self.edges, self.panel, thickness)

    def panel(self, number: int) -> "Panel":
        """Return what is solved between two of the `edges`."""
        low, high = self.edges[number : number + 2]
        size = abs(self.natural_curvature)
        solved = _panel(self.pipe, self.material, self.shape, self.turned, size, low, high)
        if self.natural_curvature < 0.0:
            return Panel(solved.thicknesses, solved.nodes.mirrored())
        return solved


@dataclass(frozen=True, eq=False)
class Panel:
    """Hold the sections solved at Chebyshev points of a panel of thickness."""

    thicknesses: Array
    nodes: SectionResponse


def read_panels(
    edges: Array, panel: Callable[[int], Panel], thickness: ArrayLike
) -> SectionResponse:
    """Interpolate responses at thicknesses within the panels between some edges."""
    rows, single = row_between("thickness", thickness, edges[0], edges[-1], "m")
    numbers, which = np.unique(np.searchsorted(edges[1:-1], rows), return_inverse=True)
    parts = []
    for place, number in enumerate(numbers):
        solved = panel(int(number))
        matrix = barycentric(solved.thicknesses, rows[which == place])
        parts.append(
            SectionResponse(
                **{
                    each.name: matrix @ getattr(solved.nodes, each.name)
                    for each in fields(SectionResponse)
                }
            )
        )
    found = gathered(which, parts)
    return at_stations(found, 0) if single else found


@lru_cache(maxsize=256)
def _panel(*asked: Any) -> Panel:
    """Return what `_solved` gives, solved once on a machine."""
    found = kept("curled", asked, lambda: _packed(_solved(*asked)))
    nodes = SectionResponse(**{each.name: found[each.name] for each in fields(SectionResponse)})
    return Panel(found["thicknesses"], nodes)


def _packed(panel: Panel) -> Arrays:
    """Lay a panel out as arrays, by name."""
    nodes = {each.name: getattr(panel.nodes, each.name) for each in fields(SectionResponse)}
    return {"thicknesses": panel.thicknesses, **nodes}


def _solved(
    pipe: Pipe,
    material: Law,
    shape: Callable[[Pipe, float], Outline],
    turned: bool,
    natural: float,
    low: float,
    high: float,
) -> Panel:
    """Solve the sections at the nodes of a panel, formed to a positive curvature."""
    share = 0.5 * (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, NODES)))
    grid = low + (high - low) * share
    grid[-1] = high
    made = [shape(pipe, float(each)) for each in grid]
    made = [each.turned() for each in made] if turned else made
    return Panel(grid, curled_response(made, material, natural, MAX_STRAIN, KNOTS))


def curled_response(
    outlines: list[Outline],
    material: Law,
    natural_curvature: float,
    max_strain: float = MAX_STRAIN,
    n: int = KNOTS,
) -> SectionResponse:
    """Tabulate sections, made alike, that were formed to a curvature.

    Parameters
    ----------
    outlines : list of Outline
        The cross-sections as formed.
    material : Law
        Stress-strain law.
    natural_curvature : float
        Curvature of the limb as formed, 1/m.
    max_strain : float, optional
        Strain of the outer fibre at the last knot, if the outlines stayed as they are; less where
        a wall finds no equilibrium so far.
    n : int, optional
        Number of knots, odd, at least 5.

    Returns
    -------
    SectionResponse
        One row a section. Belly and back are such that ``axial_strain - curvature belly`` is the
        strain of the belly, the fibres' own lengths counted.

    Raises
    ------
    InputError
        The sections do not fit in the bend.
    BowfemError
        A wall finds no equilibrium even at small curvature.
    """
    size = abs(natural_curvature)
    fibre = np.array([each.fibre for each in outlines])
    if size * np.max(fibre) >= 1.0:
        allowed = f"within +-{1.0 / np.max(fibre):.6g} 1/m: the section must fit into the bend"
        raise InputError("natural_curvature", natural_curvature, allowed)
    ring = Ring.from_outlines(outlines, flat_points=TOUCHING_POINTS)
    share = np.linspace(0.0, 1.0, STEPS + 1)
    for _ in range(8):
        kappa = max_strain / fibre[:, None] * share
        both = [
            follow_bending(ring, material, sense * kappa, natural=size) for sense in (-1.0, 1.0)
        ]
        reached = min(int(np.min(np.sum(~np.isnan(path.moment), axis=1))) for path in both) - 1
        if reached == STEPS:
            break
        if reached < 1:
            raise BowfemError("section: the wall of the curl has no equilibrium; is it too tight?")
        max_strain *= reached / STEPS
    else:
        raise BowfemError("section: the wall of the curl has no equilibrium; is it too tight?")
    opened, closed = (path_table(path, material, size) for path in both)
    table = {name: np.concatenate([opened[name][:, :0:-1], closed[name]], 1) for name in closed}
    rest = [at_rest(each, material) for each in outlines]
    alone = {name: np.stack([one[name] for one in rest]) for name in rest[0]}
    alone["bending_stiffness"] = table["tangent"][:, STEPS]
    found = SectionResponse(**_on_knots(table, n), **alone)
    return found if natural_curvature >= 0.0 else found.mirrored()


def _on_knots(table: dict[str, Array], n: int) -> dict[str, Array]:
    """Read tables solved at 2 STEPS + 1 curvatures at n uniform knots."""
    place = np.linspace(0.0, 2.0 * STEPS, n)[None].repeat(len(table["moment"]), 0)
    last = table["curvature"][:, -1:]
    spacing = last / STEPS
    knots = np.linspace(-1.0, 1.0, n)
    full = {"curvature": 0.5 * (knots - knots[::-1]) * last}
    end = 2 * STEPS
    moment, rate = osculating(table["moment"], table["tangent"] * spacing, place, 0, end, 4)
    full["moment"], full["tangent"] = moment, rate / spacing
    full["moment"][:, n // 2] = 0.0
    for name in table.keys() - full.keys():
        full[name] = FourPoint(place, 0, end).value(table[name])
    return full


def family_of(
    pipe: Pipe, material: Law, *, turned: bool = False, natural_curvature: float = 0.0
) -> "SectionFamily | CurledFamily":
    """Return the sections of a pipe and plastic, straight or formed to a curvature, 1/m."""
    if natural_curvature == 0.0:
        return SectionFamily.from_pipe(pipe, material, turned=turned)
    return CurledFamily(pipe, material, natural_curvature, turned)
