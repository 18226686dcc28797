"""Motion in time: masses on rods and on the strings' far end, steps by generalised alpha.

Accelerations follow from positions, so each step is a static Newton solve with a quadratic for each
mass added (index 3), see `settling`. Time is in s: a mass is told over force over rod length.
"""

import numpy as np

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import entry, kernel
from bowfem._kernels.inertia import places
from bowfem._kernels.kinematics import kinematics
from bowfem._kernels.moving import (
    EASED,
    PLACE,
    PUSH,
    SPEED,
    arrive,
    back_to,
    go_back,
    keep,
    new_end,
    new_moving,
    set_out,
)
from bowfem._kernels.path import put
from bowfem._kernels.records import (
    BEND_ENERGY,
    LENGTH,
    LOAD,
    SCALAR_SLOTS,
    SHARE,
    STRETCH_ENERGY,
    new_mesh,
    new_work,
    share_loads,
    share_model,
    share_string,
)
from bowfem._kernels.settling import CALM, HEAVY, settle
from bowfem._kernels.state import load_state, report_energies, save_state
from bowfem._kernels.viscous import bending, follows, kept_in_branches

# What is told of a step: the strings' far end; of each rod, tension and forces of what holds it;
# energies: in rods, strings, of the moving rods and far end, in branches, lost there, given to air
# and stop; the largest share of the laws' reach.
TIME, END, END_SPEED, END_PUSH, TAUT, HELD = 0, 1, 3, 5, 7, 9
STORED, STRING, MOVING, END_MOVING, BRANCHES, LOST, GIVEN, REACH = range(13, 21)
TOLD = 21
# Numbers that rule a motion: step, its damping, Newton's tolerance, what leaves and the force that
# holds it, how long to follow after that, where the far end is stopped, the reach's share to stop,
# how long to follow in all.
STEP_TIME, RHO, TOLERANCE, CARRIED, CLIP, AFTER, WALL, LIMIT, LONG = range(9)
RULES = 9
DONE, FAILED, BEYOND = 0, 1, 2
# What can end a step early; the last: it was not found.
NOTHING, LEAVES, SLAPS, LOST_HOLD = range(4)
#: Part of a step in which first accelerations are found, and the least of it, s, for they are
#: places over its square; secants to the instant of an event; 1/s2, so slow that no mass counts.
BEGIN, LEAST, SECANTS, SLOW = 1e-2, 2e-7, 3, 1e-9
#: Parts of what branches add that are tried in turn, from what was found before; share of the reach
#: from which on a rod that is lost so has given way.
PARTS, NEARLY = (1.0, 0.1, 0.05, 0.02, 0.01, 0.005, 0.15, 0.2, 0.3, 0.5), 0.9
#: Distance from its stop, in rod lengths, at which the far end lies on it.
TOUCHING = 1e-9
#: Part of a step below which one is not halved any more: not found, or something happens at once.
FINEST = 1.0 / 128
#: ... in which a string goes slack or taut.
SNAP = 1.0 / 8
#: ... and below which contact is found once a step, where searching it again and again fails.
ROUGH = 1.0 / 16


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
def rest_in_hand(models, loads, strings, meshes, olds, flats, works, moving, cs, rules, most):
    """Find the equilibrium with the far end held; return DONE, BEYOND the law's limit, or FAILED.

    What the branches add is put on at once, or where that is too much in parts: a part that is not
    found is tried smaller and, as contact or a sharp turn of the law may stand in the way there,
    larger.
    """
    count, still = cs.shape[0], new_end(cs, np.zeros((cs.shape[0], 0, 2)), 0.0, 0.0)
    at, scalar, scale = np.zeros((6, 2)), np.zeros(SCALAR_SLOTS), works[0].scale
    done, part, near = 0.0, 0, 0.0
    while done < 1.0:
        if part == len(PARTS):
            return BEYOND if near > NEARLY * rules[LIMIT] else FAILED
        up_to = min(done + PARTS[part], 1.0)
        for r in range(count):
            m, work = moving[r], works[r]
            work.scale = 1.0 + (scale - 1.0) * up_to
            for e in range(m.k0.shape[0]):
                for g in range(P):
                    work.felt[e, g, 0] = 0.0
                    for j in range(m.H.shape[0]):
                        work.felt[e, g, 0] += m.H[j, e, g] * up_to
            for i in range(m.aimed.shape[0]):
                m.aimed[i, 0], m.aimed[i, 1] = m.now[PLACE, i, 0], m.now[PLACE, i, 1]
        its = settle(
            models,
            loads,
            strings,
            meshes,
            olds,
            flats,
            works,
            moving,
            still,
            cs,
            SLOW,
            rules[TOLERANCE],
            most,
            CALM,
        )
        if its == 0:
            part += 1
            for r in range(count):
                load_state(models[r], meshes[r], moving[r].state)
            continue
        done, part, near = up_to, 1, 0.0
        for r in range(count):
            m = moving[r]
            save_state(meshes[r], works[r], m.state, m.rates)
            places(models[r], meshes[r], at, m.now[PLACE])
            report_energies(models[r], meshes[r], scalar)
            near = max(near, scalar[SHARE])
        if near > rules[LIMIT]:
            return BEYOND
    return DONE


@kernel
def begin(
    models, loads, strings, meshes, olds, flats, works, moving, cs, branch, scale, rules, most, held
):
    """Load the states to begin from, at rest in the hand if asked; return how that is found."""
    at = np.zeros((6, 2))
    for r in range(cs.shape[0]):
        m = moving[r]
        load_state(models[r], meshes[r], m.state)
        works[r].viscous, works[r].scale = (1 if branch.shape[1] else 0), scale
        bending(meshes[r], m.k0)
        if works[r].viscous:
            follows(works[r], branch, m.stiff, m.H, m.k0, 0.0)
        places(models[r], meshes[r], at, m.now[PLACE])
    if not held:
        return DONE
    how = rest_in_hand(models, loads, strings, meshes, olds, flats, works, moving, cs, rules, most)
    for r in range(cs.shape[0]):
        m = moving[r]
        save_state(meshes[r], works[r], m.state, m.rates)
        bending(meshes[r], m.k0)
        places(models[r], meshes[r], at, m.now[PLACE])
    return how


@kernel
def happens(meshes, end, rules, on, stuck):
    """Say what happens within a step that has been tried."""
    taut = meshes[0].T > 0.0 or meshes[1].T > 0.0
    if on and taut and event(end, rules, LEAVES, 1) > 0.0:
        return LEAVES
    if not stuck and event(end, rules, SLAPS, 1) > 0.0:
        return SLAPS
    return NOTHING


@kernel
def snaps(meshes, was_taut, count):
    """Say whether a string has gone slack or taut."""
    changed = (meshes[0].T > 0.0) != was_taut[0]
    return changed or (count > 1 and (meshes[1].T > 0.0) != was_taut[1])


@kernel
def land(end, slap, row):
    """Stop the far end; return the energy it loses."""
    if slap[TIME] == 0.0:
        put(slap, row)
    taken = 0.5 * end.mass[0] * end.now[SPEED, 0, 0] ** 2
    for k in (SPEED, PUSH, EASED):
        end.now[k, 0, 0] = 0.0
    end.mass[0] = HEAVY
    return taken


@kernel
def one_step(
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
    branch,
    rules,
    most,
    on,
    stuck,
    fresh,
    n,
):
    """Find a step's end, or the instant in it in which something happens.

    Return iterations, what happens, whether it was a fresh step, its length, what the air takes.
    A step that is not found is halved; one on to the stop that the far end never left is done with
    it held there.
    """
    count, at, h, tries, total = cs.shape[0], np.zeros((6, 2)), rules[STEP_TIME], 0, 0
    step, kind = (max(BEGIN * h, min(LEAST, h)) if fresh else h), NOTHING
    sooner, later, value0, value1 = 0.0, h, 0.0, 0.0
    was_taut = (meshes[0].T > 0.0, meshes[1].T > 0.0)
    while True:
        stiff, taken = set_out(
            models, meshes, works, moving, end, count, branch, step, rules[RHO], fresh
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
            rules[TOLERANCE],
            most,
            CALM if step > ROUGH * h or fresh else 1,
        )
        total += its
        if its:
            arrive(models, meshes, moving, end, count, at, step, stiff, rules[RHO], fresh)
            if fresh or tries == SECANTS:
                return total, kind, fresh, step, taken
            if tries == 0:
                kind = happens(meshes, end, rules, on, stuck)
                if kind == NOTHING and step > SNAP * h and snaps(meshes, was_taut, count):
                    go_back(models, meshes, moving, end, cs, count)
                    step *= SNAP
                    continue
                if kind == NOTHING:
                    return total, kind, fresh, step, taken
                value0, later = event(end, rules, kind, 0), step
            if kind == SLAPS and value0 > -TOUCHING:
                kind, stuck, end.mass[0] = NOTHING, True, HEAVY
            else:
                value = event(end, rules, kind, 1)
                if value > 0.0:
                    later, value1 = step, value
                else:
                    sooner, value0 = step, value
                tries += 1
                step = sooner + (later - sooner) * value0 / (value0 - value1)
                step = max(step, FINEST * h)  # a slack string that snaps taut pulls at once
        elif fresh and n:  # go on with the accelerations there were
            fresh, step = False, h
        elif fresh or tries or step <= FINEST * h:
            return total, LOST_HOLD, fresh, step, taken
        else:
            step *= 0.5
        go_back(models, meshes, moving, end, cs, count)


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
    end, scalar = new_end(cs, ways, end_mass, end_drag), np.zeros(SCALAR_SLOTS)
    lost = given = 0.0
    how = begin(
        models,
        loads,
        strings,
        meshes,
        olds,
        flats,
        works,
        moving,
        cs,
        branch,
        scale,
        rules,
        most,
        held,
    )
    if how != DONE:
        return how, 0, 0
    time, total, n = 0.0, 0, 0
    on, stuck, fresh = rules[CARRIED] > 0.0, False, True
    while n < told.shape[0] and time < rules[LONG]:
        its, kind, fresh, step, taken = one_step(
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
            branch,
            rules,
            most,
            on,
            stuck,
            fresh,
            n,
        )
        total += its
        if kind == LOST_HOLD:
            return FAILED, n, total
        stuck = end.mass[0] == HEAVY
        if fresh:
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
            on, fresh = False, rules[CLIP] > 0.0
            for j in range(2):
                end.mass[j] -= rules[CARRIED]
        elif kind == SLAPS:
            given += land(end, slap, told[n - 1])
            fresh = True
        elif stuck and end.felt[0] < 0.0:
            end.mass[0], fresh = end.mass[1], True
        if n and told[n - 1, REACH] > rules[LIMIT]:
            return BEYOND, n, total
        if left[TIME] > 0.0 and time >= left[TIME] + rules[AFTER]:
            return DONE, n, total
    return (DONE if time >= rules[LONG] else FAILED), n, total
