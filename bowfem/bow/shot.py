"""The shot: how fast an arrow leaves a bow, and where the rest of the work stays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.ending import Ending
from bowfem.bow.walking import Walk
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import Motion, Release, Stop, clamp, let_go

Array = NDArray[np.float64]

#: Step of time, s, and error of the mesh, as a share of the speed: examples are within it of meshes
#: three times as fine.
STEP, MESH = 4e-5, 2e-4
#: Efficiency by which the time of a shot is first guessed; times as long that is followed at most.
GUESSED, LONGER = 0.5, 4
#: Arrows that can be told, kg.
LIGHTEST_ARROW, HEAVIEST_ARROW = 1e-3, 1.0


@dataclass(frozen=True, eq=False)
class Shot:
    """Hold what a shot comes to.

    Parameters
    ----------
    arrow : float
        Its mass, kg.
    speed, error : float
        When it leaves the string, and the error of computing it, m/s.
    time, nock, tension : float
        s since it was let go; nock point to pivot, m; tension of the string, N, in that moment.
    least_tension, slack : float
        Least tension on the way, N, and how long the string was slack, s.
    work : float
        Stored since brace, J.
    moving : float
        Energy of the moving limbs when the arrow leaves, J.
    fold_share : float
        Largest bending until then, over that at which the section folds.
    motion : Motion
        Of one limb, its string's end moving toward the archer.
    """

    arrow: float
    speed: float
    error: float
    time: float
    nock: float
    tension: float
    least_tension: float
    slack: float
    work: float
    moving: float
    fold_share: float
    motion: Motion

    @property
    def energy(self) -> float:
        """The arrow's, J."""
        return 0.5 * self.arrow * self.speed**2

    @property
    def efficiency(self) -> float:
        """The arrow's energy over the work."""
        return self.energy / self.work

    @property
    def virtual_mass(self) -> float:
        """What would have to fly with the arrow for nothing to be lost, kg."""
        return 2.0 * self.work / self.speed**2 - self.arrow


def shoot(walk: Walk, arrow: float, *, step: float = STEP) -> Shot:
    """Let an arrow go from the last state of a walk.

    Parameters
    ----------
    walk : Walk
        A bow of two limbs alike, drawn in full.
    arrow : float
        Its mass, kg.
    step : float
        Of time, s.

    Raises
    ------
    InputError
        The arrow's mass cannot be, or the limbs are not alike.
    ConvergenceError
        The bow was not drawn in full, a limb folds on the way, or the motion was lost.

    Notes
    -----
    The grip is held, the arrow a point on the string, limbs are elastic and without drag. A third
    of the string's mass goes with the nock point and with each tie; pipe beyond a groove with the
    tip. Against a chain of masses such a string is 0.4 % fast (D). The error is that of the step of
    time, by a step twice as long, and that of the mesh.
    """
    if not LIGHTEST_ARROW <= arrow <= HEAVIEST_ARROW:
        raise InputError("arrow", f"{1e3 * arrow:g} g", "between 1 g and 1 kg")
    if not walk.is_symmetric:
        allowed = "two limbs alike: a shot of unlike limbs is not computed"
        raise InputError("lower", "another limb", allowed)
    if walk.ending is not Ending.COMPLETE or walk.solved is None:
        raise ConvergenceError(f"no shot: the bow is not drawn in full ({walk.ending.text})")
    fine, coarse = (_let_go(walk, arrow, each) for each in (step, 2.0 * step))
    motion, left = fine
    bow, _ = walk.solved
    return Shot(
        arrow=arrow,
        speed=-left.speed,
        error=abs(left.speed - coarse[1].speed) / 3.0 - MESH * left.speed,
        time=left.time,
        nock=left.place - float(bow.pivot[0]),
        tension=left.tension,
        least_tension=float(np.min(motion.tension)),
        slack=float(np.sum(np.diff(motion.time)[motion.tension[1:] == 0.0])),
        work=float(walk.energy[-1]),
        moving=2.0 * float(motion.energy[-1, 2]),
        fold_share=float(np.max(motion.table_share)),
        motion=motion,
    )


def _let_go(walk: Walk, arrow: float, step: float) -> tuple[Motion, Release]:
    """Follow one limb until the arrow leaves."""
    assert walk.solved is not None
    bow, states = walk.solved
    model, path, design = bow.models[0], states.limbs[0], walk.design
    shape = design.limbs[0]
    mass = model.sections.mass_per_length
    string = design.string.mass_per_length * walk.string_length
    beyond = (shape.length - shape.nock_station) * float(mass[-1])
    way = float(walk.draw[-1] - walk.draw[0])
    duration = 2.0 * way / np.sqrt(2.0 * GUESSED * walk.energy[-1] / arrow)
    for _ in range(LONGER):
        motion = let_go(
            path,
            [clamp(0)],
            mass.reshape(model.rod.EI.shape),
            duration,
            string=model.string,
            tip_mass=beyond + string / 3.0,
            nock_mass=string / 6.0,
            carried=0.5 * arrow,
            after=0.0,
            limit=1.0,
            step=step,
        )
        if motion.stop is Stop.LIMIT:
            raise ConvergenceError(
                f"no shot: a limb folds {1e3 * motion.time[-1]:.1f} ms after the fingers let go, "
                "before the arrow has left"
            )
        if motion.release is not None:
            return motion, motion.release
        duration *= 2.0
    raise ConvergenceError(f"the arrow did not leave the string within {duration:.3g} s")
