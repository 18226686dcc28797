"""What a bow's mesh leaves unknown, and the mesh that leaves less.

Brace and last draw are solved again with every element halved, from the states there are; elements
whose bending then changes are halved for good, until the weight changes no more.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.balance import Balance
from bowfem.bow.ending import Ending
from bowfem.bow.folding import bending_share
from bowfem.bow.mesh import split
from bowfem.bow.nearby import carried_over, drawn_near, rest_near, string_slope
from bowfem.bow.states import States
from bowfem.errors import ConvergenceError
from bowfem.rod import at_halves, station_lengths

Array = NDArray[np.float64]

#: Rounds of halving, and share of the largest part of an element in the error below which it stays.
ROUNDS, WORTH = 6, 0.05
#: Share of the bending a section bears from which on it may decide the verdict, and to what share
#: it is to be known there.
NEAR, BENDING = 0.5, 1e-3
#: Share of the largest bending at which an element counts to its peak.
PEAK = 0.99
#: Shares of the draw at which a bow is looked at on the way, where it is not found at once.
WAY = np.arange(1, 21) / 20
#: What is told of a difference between a mesh and its halves: twice as much for order 1, and twice
#: that, since where walls come to touch the next halving may go the other way.
SAFE = 4.0


@dataclass(frozen=True)
class MeshError:
    """How far a bow's figures may be off for its mesh, at the last draw, as shares.

    Parameters
    ----------
    weight, tension, bending : float
        Of the weight on the fingers, of the string's tension, and of the largest share of the
        bending that a section bears, at the last draw or where that share was 0.8; not a number
        where the halved mesh found no state.
    verdict : Ending or None
        How a walk ended on another mesh, where it ended otherwise.
    """

    weight: float
    tension: float
    bending: float
    verdict: Ending | None = None

    @classmethod
    def unknown(cls, verdict: Ending | None = None) -> MeshError:
        """Say that it is not known."""
        return cls(np.nan, np.nan, np.nan, verdict)

    @property
    def force(self) -> float:
        """The larger of weight's and tension's."""
        return max(self.weight, self.tension)


def mesh_error(
    bow: Balance, braced: States, drawn: States, accuracy: float
) -> tuple[MeshError, list[Array]]:
    """Find what the mesh leaves unknown, and each limb's mesh with the worst elements halved."""
    every = [split(model.rod.nodes, np.full(model.rod.n_elements, True)) for model in bow.models]
    fine, stroke = _on(bow, every), float(bow.draw(drawn)[-1] - bow.draw(braced)[-1])
    try:
        if not stroke > 0.0:
            raise ConvergenceError("no state beyond brace")
        finer = _solved(bow, fine, braced, drawn)[1]
    except ConvergenceError:
        return MeshError.unknown(), every
    here, there = _figures(bow, drawn), _figures(fine, finer)
    with np.errstate(divide="ignore", invalid="ignore"):  # of what is nought nothing is known
        error = MeshError(*(SAFE * np.abs(here / there - 1.0)).tolist())
    parts = [_parts(bow, i, fine, drawn, finer) for i in range(len(bow.models))]
    least = WORTH * max(float(np.max(part)) for part in parts)
    meshes = []
    for part, model, other, path in zip(parts, bow.models, fine.models, finer.limbs, strict=True):
        worth = (part > least) & (error.force > accuracy)
        if not _known(error, drawn):  # ... and the elements that its peak lies in
            share = np.max(
                bending_share(other, path.bending[-1:])[0].reshape(part.size, -1), axis=1
            )
            worth |= share > PEAK * np.max(share)
        meshes.append(split(model.rod.nodes, worth))
    return error, meshes


def fitting_mesh(
    bow: Balance, braced: States, drawn: States, accuracy: float
) -> tuple[MeshError, list[Array] | None]:
    """Return what the mesh leaves unknown, or meshes that leave at most so much, if there are any.

    Parameters
    ----------
    accuracy : float
        Of weight and tension, as a share.
    """
    error, meshes = mesh_error(bow, braced, drawn, accuracy)
    if error.force <= accuracy and _known(error, drawn):
        return error, None
    for _ in range(ROUNDS):
        new = _on(bow, meshes)
        try:
            braced, drawn = _solved(bow, new, braced, drawn)
        except ConvergenceError:
            break
        bow = new
        error, finer = mesh_error(bow, braced, drawn, accuracy)
        if np.isnan(error.force) or (error.force <= accuracy and _known(error, drawn)):
            break
        meshes = finer
    return error, meshes


def _known(error: MeshError, drawn: States) -> bool:
    """Return whether the largest bending is known as well as its nearness to folding asks for."""
    near = max(float(path.table_share[-1]) for path in drawn.limbs) > NEAR
    return not near or error.bending <= BENDING


def _on(bow: Balance, meshes: list[Array]) -> Balance:
    return Balance.from_design(bow.design, bow.settings, both=not bow.symmetric, meshes=meshes)


def _solved(bow: Balance, other: Balance, braced: States, drawn: States) -> tuple[States, States]:
    """Solve brace and a draw of the same bow on another mesh."""
    slope = string_slope(bow, braced) if bow.symmetric else np.nan
    rest = rest_near(other, carried_over(braced, other), 1.0, slope)
    lengths = [float(path.string_length[-1]) for path in rest.limbs]
    draw = float(bow.draw(drawn)[-1])
    try:
        return rest, drawn_near(other, carried_over(drawn, other), bow.pivot, draw, lengths)
    except ConvergenceError:  # walls come to touch elsewhere: too far at once
        start = float(other.draw(rest)[-1])
        found, ended = other.draw_to(rest, start + (draw - start) * WAY)
        if found is None or ended is not Ending.COMPLETE:
            raise
        return rest, found.at(len(WAY) - 1)


def _figures(bow: Balance, drawn: States) -> Array:
    """Weight, tension, largest share of the bending borne, of the last state."""
    weight = float(np.hypot(*bow.force(drawn)[-1]))
    tension = max(float(path.tension[-1]) for path in drawn.limbs)
    return np.array([weight, tension, max(float(path.table_share[-1]) for path in drawn.limbs)])


def _parts(bow: Balance, limb: int, fine: Balance, drawn: States, finer: States) -> Array:
    """Return what each element adds to the error: its moment by the change of its bending."""
    path, other = drawn.limbs[limb], finer.limbs[limb]
    here = at_halves(path.bending[-1])
    change = np.abs(other.bending[-1].reshape(here.shape) - here)
    moment = np.abs(other.moment[-1].reshape(here.shape))
    lengths = station_lengths(fine.models[limb].rod.nodes).reshape(here.shape)
    return np.sum(lengths * moment * change, axis=(1, 2))
