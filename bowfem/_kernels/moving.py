"""Rods in motion and their strings' far end: what is known of each mass, and the scheme of steps.

Generalised alpha, see `motion`: accelerations follow from positions, once these are found.
"""

import math

import numpy as np

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import kernel, shared
from bowfem._kernels.energy import law
from bowfem._kernels.inertia import places
from bowfem._kernels.records import (
    COS,
    SIN,
)
from bowfem._kernels.settling import put_end
from bowfem._kernels.state import load_state, save_state
from bowfem._kernels.viscous import bending, follows, remember

# What moves, a mass each: its place, velocity, acceleration, and the scheme's own acceleration.
PLACE, SPEED, PUSH, EASED = range(4)

# A rod in motion. Masses are those of its stations, then of root and tip.
_moving = shared(
    "Moving",
    {
        "weight": float,  # of its energies, over the first rod's
        "now": 3,  # (4, masses, 2)
        "then": 3,
        "base": 2,  # (masses, 2) from where each is accelerated
        "aimed": 2,  # ... the air's drag in it
        "normal": 2,
        "mass": 1,
        "station": 2,  # (ne, P) the same again
        "end": 1,
        "drag": 1,  # over speed squared
        "state": 1,
        "rates": 1,
        "stiff": 2,  # (ne, P) bending stiffness at rest
        "k0": 2,  # (ne, P) bending before the step, and after
        "k1": 2,
        "H": 3,  # (branches, ne, P) moments in them
    },
)
# The strings' far end.
_end = shared(
    "End",
    {
        "now": 3,  # (4, 1, 2)
        "then": 3,
        "base": 2,
        "aimed": 2,
        "normal": 2,
        "q": 1,  # (nq,) how far it has gone ...
        "begun": 2,  # ... from these controls
        "ways": 3,  # (rods, nq, 2) in these directions
        "mass": 1,
        "drag": 1,
        "felt": 1,  # (nq,) the strings' pull, less its sign
        "pull": 1,  # (2,) that along the first way, before the step and after
    },
)


@kernel
def new_moving(model, mass, drag, state, moments, weight):
    """Lay out a rod's motion."""
    ne, n = model.h.shape[0], mass.shape[0]
    m = _moving()
    m.weight = weight
    m.now, m.then = np.zeros((4, n, 2)), np.zeros((4, n, 2))
    m.base, m.aimed, m.normal = np.zeros((n, 2)), np.zeros((n, 2)), np.zeros((n, 2))
    m.mass, m.drag, m.state = mass, drag, state.copy()
    m.station, m.end = mass[: P * ne].copy().reshape(ne, P), mass[P * ne :].copy()
    m.rates = np.zeros(state.shape[0])
    m.stiff, m.k0, m.k1 = np.zeros((ne, P)), np.zeros((ne, P)), np.zeros((ne, P))
    m.H = moments.copy()
    for e in range(ne):
        for g in range(P):
            _, m.stiff[e, g], _, _ = law(model, e, g, 0.0)
    return m


@kernel
def new_end(cs, ways, mass, drag):
    """Lay out the motion of the strings' far end."""
    m = _end()
    m.now, m.then = np.zeros((4, 1, 2)), np.zeros((4, 1, 2))
    m.base, m.aimed, m.normal = np.zeros((1, 2)), np.zeros((1, 2)), np.zeros((1, 2))
    m.q, m.felt, m.pull = np.zeros(ways.shape[1]), np.zeros(ways.shape[1]), np.zeros(2)
    m.begun, m.ways = cs.copy(), ways
    m.mass, m.drag = np.full(2, mass), np.full(1, drag)
    return m


@kernel
def aim(now, base, step, rho, fresh):
    """Fill from where each mass is accelerated in a step; return how stiffly.

    ``fresh``: a step so short that it finds accelerations.
    """
    if fresh:
        for i in range(base.shape[0]):
            for j in range(2):
                base[i, j] = now[PLACE, i, j] + step * now[SPEED, i, j]
        return 1.0 / (step * step)
    am, af = (2.0 * rho - 1.0) / (rho + 1.0), rho / (rho + 1.0)
    be = 0.25 * (1.0 + af - am) ** 2
    for i in range(base.shape[0]):
        for j in range(2):
            eased, push = now[EASED, i, j], now[PUSH, i, j]
            free = (0.5 - be) * eased + be * (af * push - am * eased) / (1.0 - am)
            base[i, j] = now[PLACE, i, j] + step * now[SPEED, i, j] + step * step * free
    return (1.0 - am) / (step * step * be * (1.0 - af))


@kernel
def advance(now, then, base, step, stiff, rho):
    """Find accelerations and speeds at a step's end, from the places there."""
    am, af = (2.0 * rho - 1.0) / (rho + 1.0), rho / (rho + 1.0)
    ga = 0.5 + af - am
    for i in range(base.shape[0]):
        for j in range(2):
            push, eased = now[PUSH, i, j], now[EASED, i, j]
            then[PUSH, i, j] = stiff * (then[PLACE, i, j] - base[i, j])
            gained = (1.0 - af) * then[PUSH, i, j] + af * push - am * eased
            then[EASED, i, j] = gained / (1.0 - am)
            change = (1.0 - ga) * eased + ga * then[EASED, i, j]
            then[SPEED, i, j] = now[SPEED, i, j] + step * change


@kernel
def fill(to, values):
    """Copy what is known of each mass."""
    for k in range(4):
        for i in range(values.shape[1]):
            for j in range(2):
                to[k, i, j] = values[k, i, j]


@kernel
def blow(m, step, stiff):
    """Aim each mass where the air's drag leaves it; return what that takes in the step.

    The speed is that at the step's end as far as known before it; along ``normal`` alone, or all of
    it where that is zero.
    """
    taken, v, w = 0.0, np.zeros(2), np.zeros(2)
    for i in range(m.base.shape[0]):
        m.aimed[i, 0], m.aimed[i, 1] = m.base[i, 0], m.base[i, 1]
        b = m.drag[i] if i < m.drag.shape[0] else 0.0
        if b == 0.0 or m.mass[i] == 0.0:
            continue
        for j in range(2):
            v[j] = m.now[SPEED, i, j] + step * m.now[PUSH, i, j]
            w[j] = m.now[SPEED, i, j] + 0.5 * step * m.now[PUSH, i, j]
        n = m.normal[i]
        if n[0] != 0.0 or n[1] != 0.0:
            u, x = v[0] * n[0] + v[1] * n[1], w[0] * n[0] + w[1] * n[1]
            v[0], v[1], w[0], w[1] = u * n[0], u * n[1], x * n[0], x * n[1]
        pull = b * math.sqrt(v[0] ** 2 + v[1] ** 2) / (m.mass[i] * stiff)
        m.aimed[i, 0] -= pull * v[0]
        m.aimed[i, 1] -= pull * v[1]
        taken += b * step * (w[0] ** 2 + w[1] ** 2) ** 1.5
    return taken


@kernel
def normals(model, mesh, normal):
    """Read the rod's normal at the stations."""
    for e in range(model.h.shape[0]):
        for g in range(P):
            kin = mesh.kin[mesh.first[e], g]  # of a cut element, near enough
            normal[P * e + g, 0], normal[P * e + g, 1] = -kin[SIN], kin[COS]


@kernel
def set_out(models, meshes, works, moving, end, count, branch, step, rho, fresh):
    """Aim all masses for a step; return how stiffly, and what the air takes."""
    stiff, taken = aim(end.now, end.base, step, rho, fresh), 0.0
    for r in range(count):
        m = moving[r]
        aim(m.now, m.base, step, rho, fresh)
        if m.drag.shape[0]:
            normals(models[r], meshes[r], m.normal)
        taken += m.weight * blow(m, step, stiff)
        if works[r].viscous:
            follows(works[r], branch, m.stiff, m.H, m.k0, 0.0 if fresh else step)
    return stiff, taken + blow(end, step, stiff)


@kernel
def arrive(models, meshes, moving, end, count, at, step, stiff, rho, fresh):
    """Find accelerations and speeds at a step's end."""
    if end.q.shape[0]:
        end.pull[1] = -end.felt[0]
        if fresh:
            end.pull[0] = end.pull[1]
    for j in range(end.q.shape[0]):
        end.then[PLACE, 0, j] = end.q[j]
    for r in range(count):
        m = moving[r]
        places(models[r], meshes[r], at, m.then[PLACE])
        if not fresh:
            advance(m.now, m.then, m.base, step, stiff, rho)
            continue
        for i in range(m.base.shape[0]):
            for j in range(2):
                push = stiff * (m.then[PLACE, i, j] - m.base[i, j])
                m.now[PUSH, i, j] = m.now[EASED, i, j] = push
    if not fresh:
        advance(end.now, end.then, end.base, step, stiff, rho)
        return
    for j in range(end.q.shape[0]):
        push = stiff * (end.q[j] - end.base[0, j])
        end.now[PUSH, 0, j] = end.now[EASED, 0, j] = push


@kernel
def keep(models, meshes, works, moving, end, count, branch, step):
    """Go on from a step's end; return what the branches lost in it."""
    lost = 0.0
    for r in range(count):
        m = moving[r]
        fill(m.now, m.then)
        save_state(meshes[r], works[r], m.state, m.rates)
        bending(meshes[r], m.k1)
        if works[r].viscous:
            took = remember(models[r], branch, m.stiff, m.H, m.k0, m.k1, step)
            lost += m.weight * works[r].scale * took
        for e in range(m.k0.shape[0]):
            for g in range(P):
                m.k0[e, g] = m.k1[e, g]
    fill(end.now, end.then)
    end.pull[0] = end.pull[1]
    return lost


@kernel
def go_back(models, meshes, moving, end, cs, count):
    """Go back to before a step."""
    for r in range(count):
        load_state(models[r], meshes[r], moving[r].state)
    back_to(end, cs)


@kernel
def back_to(end, cs):
    """Put the far end back to before a step."""
    for j in range(end.q.shape[0]):
        end.q[j] = end.now[PLACE, 0, j]
    put_end(cs, end.begun, end.ways, end.q)
