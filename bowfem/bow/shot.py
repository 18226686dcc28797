"""The shot: how fast an arrow leaves a bow, where the rest of the work stays, and what it does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.moving_bow import HALF, STEP, THIRD, MovingBow, Span
from bowfem.bow.walking import Walk
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import Motion, Stop, natural_frequencies
from bowfem.units import GRAIN, POUND_FORCE

Array = NDArray[np.float64]

#: Error of the default mesh, as a share of the speed, and the order at which finer ones lessen it:
#: examples are within it of meshes three times as fine.
MESH, ORDER = 2e-4, 2.5
#: Efficiency by which the time of a shot is first guessed; times as long that is followed at most.
GUESSED, LONGER = 0.5, 4
#: Arrows that can be told, kg.
LIGHTEST_ARROW, HEAVIEST_ARROW = 1e-3, 1.0
#: The usual arrow, kg per N of weight: 9 grains a pound, amid the 8 to 10 of the trade (S).
USUAL_ARROW_MASS = 9.0 * GRAIN / POUND_FORCE
#: How long a bow is followed once its arrow has left, and a dry one after the fingers let go, s.
AFTER, DRY = 0.03, 0.06


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
    bow = MovingBow(walk)
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
    left = _left(MovingBow(walk), arrow, 0.0, step).release
    assert left is not None
    return -left.speed


def _left(bow: MovingBow, arrow: float, after: float, step: float) -> Motion:
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
        bow = MovingBow(walk, share)
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
    bow = MovingBow(walk)
    return natural_frequencies(bow.rods(0), count, nock_mass=bow.nock_mass)
