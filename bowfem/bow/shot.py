"""The shot: how fast an arrow leaves a bow, where the rest of the work stays, and what it does."""

from __future__ import annotations

from collections.abc import Sequence
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
    natural_frequencies,
)
from bowfem.section import MEMORY, fibre_stress, plastic_memory
from bowfem.units import GRAIN, POUND_FORCE

Array = NDArray[np.float64]

#: Step of time, s; error of the default mesh, as a share of the speed, and the order at which finer
#: ones lessen it: examples are within it of meshes three times as fine.
STEP, MESH, ORDER = 4e-5, 2e-4, 2.5
#: Efficiency by which the time of a shot is first guessed; times as long that is followed at most.
GUESSED, LONGER = 0.5, 4
#: Arrows that can be told, kg.
LIGHTEST_ARROW, HEAVIEST_ARROW = 1e-3, 1.0
#: The usual arrow, kg per N of weight: 9 grains a pound, amid the 8 to 10 of the trade (S).
USUAL_ARROW_MASS = 9.0 * GRAIN / POUND_FORCE
#: How long a bow is followed once its arrow has left, and a dry one after the fingers let go, s.
AFTER, DRY = 0.03, 0.06
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


@dataclass(frozen=True, eq=False, repr=False)
class Shot:
    """Hold what a shot comes to.

    Parameters
    ----------
    arrow : float
        Its mass, kg.
    speed, error : float
        When it leaves the string, and the error of computing it, m/s.
    rise : float
        Its speed up along the bow then, m/s: limbs that are unlike give it some.
    time, nock, tension : float
        s since it was let go; nock point to pivot, m; tension of the string, N, in that moment.
    least_tension, slack : float
        Least tension on the way, N, and how long the string was slack, s.
    held : float
        Weight in the hand when let go, N: strung, drawn and held as `Design.shooting` says.
    work : float
        What the drawn bow holds more than the braced one, J.
    moving, lost, air : float
        Of that, in the moving limbs when the arrow leaves; lost in the plastic on the way; given
        to the air, J.
    impulse : float
        Of the hand that holds the grip, N s.
    before, after : Span
        Until the arrow leaves, and in the time that is followed after it.
    walk : Walk
        The bow.
    motion : Motion
        Of one limb, or of both where they are unlike; the strings' end moves toward the archer,
        and up.
    """

    arrow: float
    speed: float
    error: float
    rise: float
    time: float
    nock: float
    tension: float
    least_tension: float
    slack: float
    held: float
    work: float
    moving: float
    lost: float
    air: float
    impulse: float
    before: Span
    after: Span | None
    walk: Walk
    motion: Motion

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        return f"Shot({1e3 * self.arrow:.4g} g, {self.speed:.4g} m/s)"

    @property
    def energy(self) -> float:
        """The arrow's, J."""
        return 0.5 * self.arrow * self.speed**2

    @property
    def efficiency(self) -> float:
        """The arrow's energy over the work."""
        return self.energy / self.work

    @property
    def rest(self) -> float:
        """What stays in string and bend, above the braced bow, J."""
        return self.work - self.energy - self.moving - self.lost - self.air

    @property
    def virtual_mass(self) -> float:
        """What would have to fly with the arrow for nothing to be lost, kg."""
        return 2.0 * self.work / self.speed**2 - self.arrow


@dataclass(frozen=True)
class DryFire:
    """Hold what letting go without an arrow does, as a range.

    Parameters
    ----------
    fold, tension : tuple of float
        Least and largest: bending over that at which a section folds, at most 1, and tension, N.
    slap : tuple of float
        Speed of the string at the handle, m/s; not a number where it does not get there.
    stops : tuple of Stop
        How each of the four runs ended: `LIMIT` where a limb folds, `NO_CONVERGENCE` where it was
        not followed to its end.

    Notes
    -----
    The string's mass with a third at the nock point, and with a half, each at two steps of time:
    peaks of a dry fire are sums of many vibrations and differ that much.
    """

    fold: tuple[float, float]
    tension: tuple[float, float]
    slap: tuple[float, float]
    stops: tuple[Stop, ...]


class _Bow:
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


def shoot(walk: Walk, arrow: float, *, step: float = STEP, after: float = AFTER) -> Shot:
    """Let an arrow go from the last state of a walk.

    Parameters
    ----------
    walk : Walk
        A bow drawn in full; `Design.arrow` and `Design.shooting` say how it is shot.
    arrow : float
        Its mass, kg.
    step : float
        Of time, s.
    after : float
        How long limbs and string are followed once it has left, s; 0 for its speed alone.

    Raises
    ------
    InputError
        The arrow's mass cannot be.
    ConvergenceError
        The bow was not drawn in full, a limb folds on the way, or the motion was lost.

    Notes
    -----
    The arrow is a point on the string, the grip held unless a mass of the hand is given. A third of
    the string's mass goes with the nock point and with each tie; pipe beyond a groove with the tip.
    Against a chain of masses such a string is 0.4 % fast (D). The plastic's memory is in motion
    in parts that fade within 1000 s; slower ones belong to the law. The error is that of the step
    of time, by a step twice as long, that of the mesh, and what of the energy was not kept: some
    2e-4 of the speed on the mesh of `walk`, 5e-5 with ``refine=2``.
    """
    if not LIGHTEST_ARROW <= arrow <= HEAVIEST_ARROW:
        raise InputError("arrow", f"{1e3 * arrow:g} g", "between 1 g and 1 kg")
    bow = _Bow(walk)
    motion = _left(bow, arrow, after, step)
    coarse = _left(bow, arrow, 0.0, 2.0 * step)
    left = motion.release
    assert left is not None and coarse.release is not None
    told = MESH / bow.bow.refine**ORDER + bow.parts * _drift(motion) / (arrow * left.speed**2)
    on = motion.time <= left.time
    taut = bool(np.all(motion.tension[on] > 0.0))  # else not of order 2
    at = int(np.count_nonzero(on)) - 1
    energy = bow.parts * motion.energy[at]
    brace = bow.at_brace
    along = motion.support_force[on, :, 1].sum(axis=1) * bow.parts
    steps = np.diff(motion.time[on])
    # the fingers' force is what first pushes the nock point, all of it
    pushed = np.hypot(*np.pad(motion.acceleration[0], (0, 2 - motion.acceleration.shape[1])))
    return Shot(
        arrow=arrow,
        speed=-left.speed,
        error=abs(left.speed - coarse.release.speed) / (3.0 if taut else 1.0) - left.speed * told,
        rise=0.0 if bow.alike else float(motion.speed[at, 1]),
        time=left.time,
        nock=left.place - float(bow.bow.pivot[0]),
        tension=left.tension,
        least_tension=float(np.min(motion.tension[on])),
        slack=float(np.sum(steps[np.min(motion.tension[on], axis=1)[1:] == 0.0])),
        held=float(pushed) * (arrow + bow.parts * bow.nock_mass),
        work=float(np.sum(bow.parts * motion.energy[0, :5]) - np.sum(brace[:5])),
        moving=float(energy[2]),
        lost=float(energy[5]),
        air=float(energy[6]),
        impulse=float(np.sum(0.5 * (along[1:] + along[:-1]) * steps)),
        before=bow.span(motion, on),
        after=None if np.all(on) else bow.span(motion, ~on),
        walk=walk,
        motion=motion,
    )


def _drift(motion: Motion) -> float:
    """Return the largest change of all energy until the arrow leaves, J."""
    left = motion.release
    assert left is not None
    total = np.sum(motion.energy[motion.time <= left.time], axis=1)
    return float(np.max(np.abs(total - total[0])))


def arrow_speed(walk: Walk, arrow: float, *, step: float = 2.0 * STEP) -> float:
    """Return the speed of an arrow alone, m/s; see `shoot`."""
    left = _left(_Bow(walk), arrow, 0.0, step).release
    assert left is not None
    return -left.speed


def _left(bow: _Bow, arrow: float, after: float, step: float) -> Motion:
    """Follow a bow until the arrow leaves, and longer."""
    walk = bow.walk
    way = float(walk.draw[-1] - walk.draw[0])
    duration = 2.0 * way / np.sqrt(2.0 * GUESSED * walk.energy[-1] / arrow)
    for _ in range(LONGER):
        motion = bow.let_go(arrow, duration + after, after, step)
        if motion.release is not None:
            return motion
        if motion.stop is Stop.LIMIT:
            raise ConvergenceError(
                f"no shot: a limb folds {1e3 * motion.time[-1]:.1f} ms after the fingers let go, "
                "before the arrow has left"
            )
        if motion.stop is Stop.NO_CONVERGENCE:
            raise ConvergenceError(f"the shot was lost after {1e3 * motion.time[-1]:.1f} ms")
        duration *= 2.0
    raise ConvergenceError(f"the arrow did not leave the string within {duration:.3g} s")


def dry_fire(walk: Walk) -> DryFire:
    """Let go without an arrow.

    Raises
    ------
    ConvergenceError
        The bow was not drawn in full.
    """
    folds, tensions, slaps, stops = [], [], [], []
    for share in (THIRD, HALF):
        bow = _Bow(walk, share)
        for step in (STEP, 0.5 * STEP):
            motion = bow.let_go(0.0, DRY, np.inf, step)
            found = bow.span(motion, np.full(motion.time.size, True))
            folds.append(min(found.fold.value, 1.0))  # its last step goes past the fold
            tensions.append(found.tension)
            slaps.append(np.nan if motion.slap is None else -motion.slap.speed)
            stops.append(found.stop)
    return DryFire(_range(folds), _range(tensions), _range(slaps), tuple(stops))


def _range(values: Sequence[float]) -> tuple[float, float]:
    known = [each for each in values if np.isfinite(each)]
    return (min(known), max(known)) if known else (np.nan, np.nan)


def frequencies_at_brace(walk: Walk, count: int = 3) -> Array:
    """Return the lowest natural frequencies of the strung bow at rest, Hz, rising.

    Notes
    -----
    Of the bow as long as its law holds, without the plastic's quickness; where the limbs are alike,
    of the motions in which both do the same.
    """
    bow = _Bow(walk)
    return natural_frequencies(bow.rods(0), count, nock_mass=bow.nock_mass)
