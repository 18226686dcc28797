"""Instants of a shot as the states of a walk, so that what shows a walk shows a shot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.folding import bending_share
from bowfem.bow.limb_model import LimbModel
from bowfem.bow.limb_states import LimbStates
from bowfem.bow.shot import Shot
from bowfem.bow.stations import RecordStations
from bowfem.bow.string_path import clearance
from bowfem.bow.walking import Walk
from bowfem.design import Side
from bowfem.errors import InputError
from bowfem.rod import taut_at_rest
from bowfem.section import fibre_stress

Array = NDArray[np.float64]

#: Instants shown of a shot.
FRAMES = 90


def shot_as_walk(shot: Shot, frames: int = FRAMES) -> Walk:
    """Return a shot as a walk whose states are instants, evenly spaced in time.

    Parameters
    ----------
    shot : Shot
        The shot.
    frames : int
        How many instants.

    Notes
    -----
    Shapes are those of the limbs' bending alone, their stretch left out; the string is drawn taut
    over the limbs, slack or not. What belongs to the draw alone is not a number: weight, contact
    and pressure.
    """
    if frames < 2:
        raise InputError("frames", frames, "at least 2")
    walk, motion = shot.walk, shot.motion
    assert walk.solved is not None
    bow, _ = walk.solved
    every = np.linspace(0.0, motion.time[-1], frames)
    at = np.unique(np.argmin(np.abs(motion.time[:, None] - every), axis=0))
    nock = np.zeros((at.size, 2))  # toward the archer, and up
    nock[:, : motion.nock.shape[1]] = motion.nock[at]
    limbs = tuple(
        _limb(walk, model, states, side, motion.bending[i][at], motion.nodes[i][at], nock)
        for i, (side, model, states) in enumerate(zip(Side, bow.models, walk.limbs, strict=False))
    )
    tension = motion.tension[at]
    limbs = tuple(
        replace(limb, tension=tension[:, min(i, tension.shape[1] - 1)])
        for i, limb in enumerate(limbs)
    )
    unknown = np.full(at.size, np.nan)
    return replace(
        walk,
        draw=np.hypot(*(nock - bow.pivot).T),
        force=unknown,
        tension=np.max(tension, axis=1),
        across=unknown,
        energy=unknown,
        string_energy=unknown,
        nock_x=nock[:, 0],
        nock_y=nock[:, 1],
        limbs=(limbs[0], limbs[-1]),
        time=motion.time[at],
        solved=None,
    )


def _limb(
    walk: Walk,
    model: LimbModel,
    states: LimbStates,
    side: Side,
    bending: Array,
    nodes: Array,
    nock: Array,
) -> LimbStates:
    """Return one limb's states, from its bending."""
    count, rod = len(bending), model.rod
    k = bending.reshape(count, -1)
    laid = RecordStations(model)
    axis, angle, lines = [], [], []
    for strain, place, far in zip(bending, nodes, nock, strict=True):
        shape = rod.reshaped(rod.curvature0 + strain)
        moved = place[0] - shape.position0[0]
        axis.append(moved + laid.places(shape.position0[None], shape.station_position0[None])[0])
        angle.append(shape.angle0)
        own = np.array([side.sign * far[1], far[0]])
        lines.append(moved + taut_at_rest(shape, own - moved))
    longest = max(map(len, lines))
    line = np.array([np.concatenate([x, np.repeat(x[-1:], longest - len(x), 0)]) for x in lines])
    place, turned = np.array(axis), laid.along(np.array(angle))
    belly = laid.along(rod.belly[None])[0]
    surface = place + belly[:, None] * np.stack([-np.sin(turned), np.cos(turned)], axis=-1)
    last = model.sections.curvature[:, -1]
    stress = fibre_stress(model.sections, walk.design.material, np.clip(k, -last, last))
    nothing = np.zeros((count, laid.s.size))
    return replace(
        states,
        x=place[..., 1],
        y=side.sign * place[..., 0],
        angle=turned,
        string_x=line[..., 1],
        string_y=side.sign * line[..., 0],
        energy=np.full(count, np.nan),
        curvature_change=laid.along(k),
        moment=nothing * np.nan,
        axial_force=nothing * np.nan,
        strain_belly=laid.along(stress.strain_belly),
        strain_back=laid.along(stress.strain_back),
        stress_belly=laid.along(stress.stress_belly),
        stress_back=laid.along(stress.stress_back),
        yield_share=laid.along(np.maximum(stress.strain_share_belly, stress.strain_share_back)),
        fold_share=laid.along(bending_share(model, bending).reshape(count, -1)),
        moment_share=nothing * np.nan,
        crosswise_tension=nothing * np.nan,
        contact=np.full((count, *states.contact.shape[1:]), np.nan),
        pressure=nothing,
        clearance=clearance(surface, line),
    )
