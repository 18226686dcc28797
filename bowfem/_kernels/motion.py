"""Motion in time: masses on rods and on the strings' far end, steps by generalised alpha.

Accelerations follow from positions, so each step is a static Newton solve with a quadratic for each
mass added (index 3), see `settling`. Time is in s: a mass is told over force over rod length.
"""

import math

import numpy as np

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import entry, kernel, shared
from bowfem._kernels.energy import law
from bowfem._kernels.inertia import places
from bowfem._kernels.kinematics import kinematics
from bowfem._kernels.path import put
from bowfem._kernels.records import (
    BEND_ENERGY,
    COS,
    LENGTH,
    LOAD,
    SCALAR_SLOTS,
    SHARE,
    SIN,
    STRETCH_ENERGY,
    new_mesh,
    new_work,
    share_loads,
    share_model,
    share_string,
)
from bowfem._kernels.settling import HEAVY, put_end, settle
from bowfem._kernels.state import load_state, report_energies, save_state
from bowfem._kernels.viscous import bending, follows, kept_in_branches, remember

# What moves, a mass each: its place, velocity, acceleration, and the scheme's own acceleration.
PLACE, SPEED, PUSH, EASED = range(4)
# What is told of a step: the strings' far end; of each rod, tension and forces of what holds it;
# energies: in rods, strings, of the moving rods and far end, in branches, lost there, given to air
# and stop; the largest share of the laws' reach.
TIME, END, END_SPEED, END_PUSH, TAUT, HELD = 0, 1, 3, 5, 7, 9
STORED, STRING, MOVING, END_MOVING, BRANCHES, LOST, GIVEN, REACH = range(13, 21)
TOLD = 21
# Numbers that rule a motion: step, its damping, Newton's tolerance, what leaves and the force that
# holds it, how long to follow after that, where the far end is stopped, the reach's share to stop.
STEP_TIME, RHO, TOLERANCE, CARRIED, CLIP, AFTER, WALL, LIMIT = range(8)
RULES = 8
DONE, FAILED, BEYOND = 0, 1, 2
# What can end a step early.
NOTHING, LEAVES, SLAPS = range(3)
#: Part of a step in which first accelerations are found, secants to the instant of an event, and
#: 1/s2, so slow that no mass counts.
BEGIN, SECANTS, SLOW = 1e-2, 3, 1e-9
#: Distance from its stop, in rod lengths, at which the far end lies on it.
TOUCHING = 1e-9
#: Part of a step below which one that is not found is not halved any more.
FINEST = 1.0 / 128

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


@kernel
def tell(models, loads, strings, meshes, works, moving, end, cs, branch, scalar, row):
    """Write down a state and its energies."""
    stored = string = going = kept = reach = 0.0
    for r in range(cs.shape[0]):
        mesh, work, m = meshes[r], works[r], moving[r]
        kinematics(loads[r], mesh, cs[r, LOAD])
        report_energies(models[r], mesh, scalar)
        stored += m.weight * (work.scale * scalar[BEND_ENERGY] + scalar[STRETCH_ENERGY])
        string += m.weight * 0.5 * strings[r].compliance * mesh.T * mesh.T * cs[r, LENGTH]
        kept += m.weight * work.scale * kept_in_branches(models[r], branch, m.stiff, m.H)
        for i in range(m.mass.shape[0]):
            v = m.now[SPEED, i]
            going += m.weight * 0.5 * m.mass[i] * (v[0] * v[0] + v[1] * v[1])
        reach = max(reach, scalar[SHARE])
        row[TAUT + r] = mesh.T
        for i in range(2):
            row[HELD + 2 * r + i] = 0.0
            for b in range(mesh.first.shape[0]):
                if loads[r].fixed[b, i]:
                    row[HELD + 2 * r + i] += work.react[b, i]
    row[STORED], row[STRING], row[MOVING], row[BRANCHES] = stored, string, going, kept
    row[REACH], row[END_MOVING] = reach, 0.0
    for j in range(end.q.shape[0]):
        row[END + j], row[END_SPEED + j] = end.now[PLACE, 0, j], end.now[SPEED, 0, j]
        row[END_PUSH + j] = end.now[PUSH, 0, j]
        if end.mass[j] < HEAVY:
            row[END_MOVING] += 0.5 * end.mass[j] * end.now[SPEED, 0, j] ** 2


@kernel
def show(mesh, k, nodes, bends):
    """Write down where the nodes are, and the bending of the stations."""
    for b in range(nodes.shape[0]):
        a = mesh.first[b]
        nodes[b, 0], nodes[b, 1] = mesh.r[a, 0], mesh.r[a, 1]
    for e in range(k.shape[0]):
        for g in range(P):
            bends[e, g] = k[e, g]


@kernel
def event(end, rules, kind, after):
    """Say how far past an event the far end is: what it carries is let go, or its stop is met.

    What is carried goes with the end, in the share of its mass, until the strings pull that back.
    """
    if kind == LEAVES:
        return rules[CARRIED] * end.pull[after] / end.mass[1] - rules[CLIP]
    return rules[WALL] - (end.q[0] if after else end.now[PLACE, 0, 0])


@kernel
def rest_in_hand(models, loads, strings, meshes, olds, flats, works, moving, cs, tol, most):
    """Find the equilibrium with the far end held; return iterations, 0 where there is none."""
    still = new_end(cs, np.zeros((cs.shape[0], 0, 2)), 0.0, 0.0)
    for r in range(cs.shape[0]):
        m = moving[r]
        for i in range(m.aimed.shape[0]):
            m.aimed[i, 0], m.aimed[i, 1] = m.now[PLACE, i, 0], m.now[PLACE, i, 1]
    return settle(
        models, loads, strings, meshes, olds, flats, works, moving, still, cs, SLOW, tol, most
    )


@entry
def move(
    models_,
    loads_,
    strings_,
    cs,
    ways,
    weights,
    mass,
    drag,
    state,
    moments,
    branch,
    scale,
    end_mass,
    end_drag,
    rules,
    most,
    held,
    told,
    nodes,
    bends,
    left,
    slap,
):
    """Let rods go from a state and follow them; return (status, steps, iterations).

    Tuples hold two rods each; with ``cs`` (1, 4) the second is not looked at. ``cs``: controls at
    the start; ``ways`` (rods, nq, 2): how the strings' far end moves each; ``weights``: energies
    over the first rod's. ``mass`` and ``drag`` (stations + 2,) of stations, root and tip.
    ``branch`` (2, n): gains and times; ``moments`` (n, ne, P) in the branches at the start.
    ``held``: find the equilibrium with the far end held first. ``told`` (n + 1, TOLD), ``nodes``
    (n + 1, ne + 1, 2) and ``bends`` (n + 1, ne, P) take every step; ``left`` and ``slap`` (TOLD,)
    those in which what is carried leaves, and in which the far end first meets its stop.
    """
    models = (share_model(models_[0]), share_model(models_[1]))
    loads = (share_loads(loads_[0]), share_loads(loads_[1]))
    strings = (share_string(strings_[0]), share_string(strings_[1]))
    n0, n1, count = models[0].h.shape[0], models[1].h.shape[0], cs.shape[0]
    meshes, olds = (new_mesh(n0), new_mesh(n1)), (new_mesh(n0), new_mesh(n1))
    flats = (new_mesh(n0), new_mesh(n1))
    works = (new_work(models[0].reference), new_work(models[1].reference))
    moving = (
        new_moving(models[0], mass[0], drag[0], state[0], moments[0], weights[0]),
        new_moving(models[1], mass[1], drag[1], state[1], moments[1], weights[1]),
    )
    end, at, scalar = (
        new_end(cs, ways, end_mass, end_drag),
        np.zeros((6, 2)),
        np.zeros(SCALAR_SLOTS),
    )
    h, rho, tol = rules[STEP_TIME], rules[RHO], rules[TOLERANCE]
    for r in range(count):
        m = moving[r]
        load_state(models[r], meshes[r], m.state)
        works[r].viscous, works[r].scale = (1 if branch.shape[1] else 0), scale
        bending(meshes[r], m.k0)
        if works[r].viscous:
            follows(works[r], branch, m.stiff, m.H, m.k0, 0.0)
        places(models[r], meshes[r], at, m.now[PLACE])
    if held:
        if not rest_in_hand(
            models, loads, strings, meshes, olds, flats, works, moving, cs, tol, most
        ):
            return FAILED, 0, 0
        for r in range(count):
            save_state(meshes[r], works[r], moving[r].state, moving[r].rates)
            bending(meshes[r], moving[r].k0)
            places(models[r], meshes[r], at, moving[r].now[PLACE])
    time, total, lost, given, n = 0.0, 0, 0.0, 0.0, 0
    on, stuck, fresh = rules[CARRIED] > 0.0, False, True
    while n < told.shape[0]:
        step, tries, kind = (BEGIN * h if fresh else h), 0, NOTHING
        sooner, later, value0, value1, taken = 0.0, h, 0.0, 0.0, 0.0
        while True:
            stiff, taken = set_out(
                models, meshes, works, moving, end, count, branch, step, rho, fresh
            )
            its = settle(
                models,
                loads,
                strings,
                meshes,
                olds,
                flats,
                works,
                moving,
                end,
                cs,
                stiff,
                tol,
                most,
            )
            total += its
            if its:
                arrive(models, meshes, moving, end, count, at, step, stiff, rho, fresh)
                if fresh or tries == SECANTS:
                    break
                if tries == 0:
                    taut = meshes[0].T > 0.0 or meshes[count - 1].T > 0.0
                    if on and taut and event(end, rules, LEAVES, 1) > 0.0:
                        kind = LEAVES
                    elif not stuck and event(end, rules, SLAPS, 1) > 0.0:
                        kind = SLAPS
                    if kind == NOTHING:
                        break
                    value0, later = event(end, rules, kind, 0), step
                    if kind == SLAPS and value0 > -TOUCHING:  # it never left its stop
                        kind, stuck, end.mass[0] = NOTHING, True, HEAVY
                        go_back(models, meshes, moving, end, cs, count)
                        continue
                value = event(end, rules, kind, 1)
                if value > 0.0:
                    later, value1 = step, value
                else:
                    sooner, value0 = step, value
                tries += 1
                step = sooner + (later - sooner) * value0 / (value0 - value1)
            elif fresh and n:  # go on with the accelerations there were
                go_back(models, meshes, moving, end, cs, count)
                fresh, step = False, h
                continue
            elif fresh or tries or step <= FINEST * h:
                return FAILED, n, total
            else:
                step *= 0.5
            go_back(models, meshes, moving, end, cs, count)
        if fresh:
            end.pull[0] = end.pull[1]
            back_to(end, cs)
        else:
            time += step
            given += taken
            lost += keep(models, meshes, works, moving, end, count, branch, step)
        if not (fresh and n):
            tell(models, loads, strings, meshes, works, moving, end, cs, branch, scalar, told[n])
            told[n, TIME], told[n, LOST], told[n, GIVEN] = time, lost, given
            for r in range(count):
                show(meshes[r], moving[r].k0, nodes[r][n], bends[r][n])
            n += 1
        fresh = False
        if kind == LEAVES:
            put(left, told[n - 1])
            on = False
            for j in range(2):
                end.mass[j] -= rules[CARRIED]
            fresh = rules[CLIP] > 0.0
        if kind == SLAPS:
            if slap[TIME] == 0.0:
                put(slap, told[n - 1])
            given += 0.5 * end.mass[0] * end.now[SPEED, 0, 0] ** 2
            for k in (SPEED, PUSH, EASED):
                end.now[k, 0, 0] = 0.0
            stuck, fresh = True, True
            end.mass[0] = HEAVY
        elif stuck and end.felt[0] < 0.0:
            stuck, fresh = False, True
            end.mass[0] = end.mass[1]
        if n and told[n - 1, REACH] > rules[LIMIT]:
            return BEYOND, n, total
        if left[TIME] > 0.0 and time >= left[TIME] + rules[AFTER]:
            return DONE, n, total
    return DONE, n, total
