"""A drawn bow made ready to be let go: what moves, what it remembers, and what it then bears."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.ending import Ending
from bowfem.bow.limb_model import LimbModel
from bowfem.bow.walking import Walk
from bowfem.design import Side
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import (
    Branches,
    Motion,
    MovingRod,
    Stop,
    Support,
    clamp,
    let_go,
)
from bowfem.section import MEMORY, fibre_stress, plastic_memory

Array = NDArray[np.float64]

#: Step of time, s.
STEP = 4e-5
#: Parts of the plastic's memory that fade within this time are in motion in a shot, s.
QUICK = 1e3
#: Drag coefficients of a flat strip and of a string across the wind (M), density of air, kg/m3.
STRIP, CORD, AIR = 1.5, 1.1, 1.2
#: Mass of the string that goes with the nock point, as a share: a third, or a half; the rest goes
#: to the ties.
THIRD, HALF = 1.0 / 3.0, 0.5


@dataclass(frozen=True)
class Peak:
    """The largest of something in a span of a shot.

    Parameters
    ----------
    value : float
        How large: a share of what the section bears.
    time : float
        s since the fingers let go.
    s : float
        m along the pipe from the bow's centre.
    side : Side or None
        The limb; None where both are alike.
    """

    value: float
    time: float
    s: float
    side: Side | None


@dataclass(frozen=True)
class Span:
    """What limbs and string bear in a span of a shot.

    Parameters
    ----------
    fold : Peak
        Bending over that at which the section folds.
    backward : Peak
        Bending away from the archer over that at which the section folds that way.
    yields : Peak
        Strain of an outer fibre over the yield strain.
    tension, tension_time : float
        Largest tension of the string, N, and when.
    stop : Stop
        Complete; `LIMIT` where a limb folded at its end, or `NO_CONVERGENCE` where it was followed
        no further.
    """

    fold: Peak
    backward: Peak
    yields: Peak
    tension: float
    tension_time: float
    stop: Stop


class MovingBow:
    """A drawn bow, made ready to be let go."""

    def __init__(self, walk: Walk, string_share: float = THIRD) -> None:
        if walk.ending is not Ending.COMPLETE or walk.solved is None:
            raise ConvergenceError(f"no shot: the bow is not drawn in full ({walk.ending.text})")
        self.walk, design = walk, walk.design
        self.bow, self.states = walk.solved
        self.alike = self.bow.symmetric
        self.parts = 2.0 if self.alike else 1.0  # of the bow that move as one
        self.hand = design.shooting.hand_mass
        if self.hand is not None and not self.alike:
            allowed = "left out: a free hand is computed for two limbs alike"
            raise InputError("shot.hand_mass", f"{self.hand:g} kg", allowed)
        loss = design.shooting.loss_tangent
        remembered = loss != 0.0 and design.material_choice.law is None
        self.branches = None
        if remembered:
            self.branches = branches_of(MEMORY["loss_tangent"].value if loss is None else loss)
        string = design.string.mass_per_length * walk.string_length
        self.nock_mass = string * string_share / self.parts
        self.tip_mass = 0.5 * string * (1.0 - string_share)
        self.counts_air = design.shooting.drag == "yes"
        area = 0.5 * AIR * CORD * design.string.thickness * walk.string_length
        # a string whose speed falls evenly from one end to none: a quarter of what all of it takes
        self.nock_drag = area / 4.0 / self.parts * self.counts_air
        self.tip_drag = area / 8.0 * self.counts_air

    def rods(self, state: int = -1) -> list[MovingRod]:
        """Return the limbs, from a state of the walk."""
        made = []
        for side, model, path in zip(Side, self.bow.models, self.states.limbs, strict=False):
            shape = self.walk.design.limbs[side.index]
            grid, mass = model.rod.EI.shape, model.sections.mass_per_length
            beyond = (shape.length - shape.nock_station) * float(mass[-1])
            supports = [clamp(0)] if self.hand is None else [Support(0, ("x", "turn"))]
            strip = 0.5 * AIR * STRIP * model.sections.width
            made.append(
                MovingRod(
                    path,
                    supports,
                    mass.reshape(grid),
                    state,
                    model.string,
                    along=((0.0, 1.0),) if self.alike else ((0.0, 1.0), (side.sign, 0.0)),
                    root_mass=0.0 if self.hand is None else 0.5 * self.hand,
                    tip_mass=beyond + self.tip_mass,
                    drag=strip.reshape(grid) if self.counts_air else 0.0,
                    tip_drag=self.tip_drag,
                    moments=self._moments(model, path.bending, state),
                )
            )
        return made

    def _moments(self, model: LimbModel, bending: Array, state: int) -> Array | None:
        """Return what is in the plastic's memory at brace, or after draw and hold."""
        if self.branches is None:
            return None
        how, draw = self.walk.design.shooting, self.walk.draw
        times, bent = [0.0, 1e-3, max(how.strung, 2e-3)], [0.0 * bending[0], *[bending[0]] * 2]
        if state % len(bending):
            way = (draw[1:] - draw[0]) / (draw[-1] - draw[0])
            times += [*(times[-1] + how.draw_time * way)]
            bent += [*bending[1:]]
            times, bent = [*times, times[-1] + how.hold], [*bent, bent[-1]]
        EI = _stiffness_at_rest(model)
        return self.branches.moments(times, np.array(bent), EI)

    def let_go(
        self, arrow: float, duration: float, after: float, step: float, *, state: int = -1
    ) -> Motion:
        """Follow the bow."""
        radius, string = 0.5 * self.walk.design.pipe.outer_diameter, self.walk.design.string
        try:
            return let_go(
                self.rods(state),
                duration,
                nock_mass=self.nock_mass,
                nock_drag=self.nock_drag,
                carried=arrow / self.parts,
                clip=self.walk.design.arrow.clip / self.parts,
                stop=radius + 0.5 * string.thickness,
                after=after,
                limit=1.0,
                branches=self.branches,
                step=step,
                strict=False,
            )
        except ConvergenceError as error:
            if error.status is not Stop.LIMIT:
                raise
            text = "no shot: a limb folds in the hand while the bow is drawn and held"
            raise ConvergenceError(text, error.status) from None

    @cached_property
    def at_brace(self) -> Array:
        """Energies of the braced bow, as the first row of `Motion.energy`, J."""
        held = self.let_go(0.0, STEP, np.inf, STEP, state=0)
        return self.parts * held.energy[0]

    def span(self, motion: Motion, where: NDArray[np.bool_]) -> Span:
        """Find the largest of what limbs and string bear."""
        found: dict[str, list[Peak]] = {"fold": [], "backward": [], "yields": []}
        time = motion.time[where]
        for side, model, bending in zip(Side, self.bow.models, motion.bending, strict=False):
            k = bending[where].reshape(time.size, -1)
            s, table = model.rod.stations.ravel(), model.rod.table
            assert table is not None
            reach = table.reach.reshape(-1, 2)
            last = model.sections.curvature[:, -1]
            stress = fibre_stress(
                model.sections, self.walk.design.material, np.clip(k, -last, last)
            )
            yields = np.maximum(stress.strain_share_belly, stress.strain_share_back)
            shares = {"fold": k / reach[:, 1], "backward": -k / reach[:, 0], "yields": yields}
            for name, share in shares.items():
                i, j = np.unravel_index(int(np.argmax(share)), share.shape)
                one = None if self.alike else side
                peak = Peak(float(share[i, j]), float(time[i]), float(s[j]), one)
                found[name].append(peak)
        largest = {name: max(each, key=lambda p: p.value) for name, each in found.items()}
        tension = np.max(motion.tension[where], axis=1)
        at = int(np.argmax(tension))
        return Span(
            **largest,
            tension=float(tension[at]),
            tension_time=float(time[at]),
            stop=motion.stop if where[-1] else Stop.COMPLETE,
        )


def branches_of(loss_tangent: float) -> Branches:
    """Return the plastic's memory as branches beside the law of a minute; slow parts are in it."""
    quick = plastic_memory(loss_tangent).quicker_than(QUICK)
    return Branches(quick.share / quick.rest, quick.time, quick.rest)


def _stiffness_at_rest(model: LimbModel) -> Array:
    table = model.rod.table
    assert table is not None
    return np.asarray(table.tangent[..., table.tangent.shape[-1] // 2])
