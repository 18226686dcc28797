"""Motion in time: mass at the stations, a mass on the string's far end, steps by generalised alpha.

Accelerations follow from positions, so each step is a static Newton solve with a quadratic for each
mass added (index 3), see `inertia`. Time is in s: a mass is told over force over rod length.
"""

import math

import numpy as np

from bowfem._kernels.assembly import assemble
from bowfem._kernels.basis import P
from bowfem._kernels.compiled import entry, kernel
from bowfem._kernels.inertia import across_square, add_mass, hold, places
from bowfem._kernels.kinematics import kinematics
from bowfem._kernels.newton import largest_force, renew, residual_size, update
from bowfem._kernels.path import put
from bowfem._kernels.records import (
    BEND_ENERGY,
    BORDER,
    BORDER_PATH,
    BORDER_RESIDUAL,
    LENGTH,
    LOAD,
    NODE,
    POINT_X,
    POINT_Y,
    RATE,
    RESIDUAL,
    SCALAR_SLOTS,
    SHARE,
    STEP,
    STRETCH_ENERGY,
    new_mesh,
    new_work,
    share_loads,
    share_model,
    share_string,
)
from bowfem._kernels.solve import back, border_rows, dense, factor
from bowfem._kernels.state import load_state, report_energies, save_state

# What moves, a mass each: its place, velocity, acceleration, and the scheme's own acceleration.
PLACE, SPEED, PUSH, EASED = range(4)
# What is told of a step.
TIME, NOCK, NOCK_SPEED, NOCK_PUSH, TAUT, STORED, STRING, MOVING, NOCK_MOVING, REACH = range(10)
TOLD = 10
DONE, FAILED, BEYOND = 0, 1, 2
#: Part of a step in which the first accelerations are found, and secants to the end of a shot.
BEGIN, SECANTS = 1e-2, 3
#: Part of a step below which one that is not found is not halved any more.
FINEST = 1.0 / 128


@kernel
def slacken(mesh, work, m, c, compliance):
    """Put ``T = 0`` in place of the string's own equation where it is slack."""
    border = work.border
    if border[0, BORDER_RESIDUAL] + c[LENGTH] * compliance * mesh.T >= 0.0:
        return
    for i in range(NODE * mesh.active + 3):
        work.row[0, i] = 0.0
    for j in range(m):
        border[0, j] = 0.0
    border[0, 0], border[0, BORDER_PATH], border[0, BORDER_RESIDUAL] = 1.0, 0.0, mesh.T


@kernel
def correct_moving(mesh, work, m, by_T, by_d, rest):
    """Solve with the nock as one unknown more; leave the step in ``rhs``.

    Its row is the derivative of the string's energy by where it is: ``path`` by the nodes, ``by_T``
    by the tension, ``by_d`` by itself, ``rest`` what is left. Return whether it can be solved, the
    tension's step and the nock's.
    """
    n = NODE * mesh.active + 3
    rhs, path = work.rhs, work.path
    for i in range(n):
        rhs[i, BORDER + m] = path[i]
    if factor(work.band, n, work.pivot) == 0:
        return False, 0.0, 0.0
    back(work.band, n, work.pivot, rhs, m + 2)
    size = m + 1 if m else 0
    a = np.zeros((size, size + 2))
    if m:
        border_rows(work, n, m, True, a)
        a[m, 0], a[m, m], a[m, size + STEP] = by_T, by_d, -rest
        for i in range(n):
            f = path[i]
            if f != 0.0:
                for j in range(m + 1):
                    a[m, j] -= f * rhs[i, BORDER + j]
                a[m, size + STEP] += f * rhs[i, RESIDUAL]
        if dense(a, size, 2) == 0:
            return False, 0.0, 0.0
    for i in range(n):
        step = -rhs[i, RESIDUAL]
        for j in range(size):
            step -= rhs[i, BORDER + j] * a[j, size + STEP]
        rhs[i, STEP], rhs[i, RATE] = step, 0.0
    if not m:
        return True, 0.0, 0.0
    return True, a[0, size + STEP], a[m, size + STEP]


@kernel
def settle(
    model, loads, string, mesh, old, flat, work, c, dc, mass, masses, base, stiff, tol, most
):
    """Find the state in which forces and inertia balance; return iterations, 0 where not found.

    ``masses``: of tip and nock. ``base`` (n_stations + 2, 2): from where each mass is accelerated,
    the nock's last, along its way alone.
    """
    kept, at = np.zeros(3 * mesh.first.shape[0]), np.zeros((6, 2))
    last = base.shape[0] - 1
    before = 1e300
    for it in range(most):
        renew(model, loads, string, mesh, old, flat, work, c, it)
        m = assemble(model, loads, string, mesh, work, c, dc)
        by_T = by_d = rest = 0.0
        if string.present:
            by_T = work.border[0, BORDER_PATH]
            slacken(mesh, work, m, c, string.compliance)
            at_nock = c[POINT_X] * dc[POINT_X] + c[POINT_Y] * dc[POINT_Y]
            rest = mesh.T * by_T + masses[1] * stiff * (at_nock - base[last, 0])
            by_d = mesh.T * across_square(work, c, dc) + masses[1] * stiff
        hold(loads, mesh, work, kept, False)
        add_mass(model, mesh, work, mass, masses[0], base, stiff, at)
        hold(loads, mesh, work, kept, True)
        res = math.sqrt(residual_size(mesh, work) ** 2 + rest * rest)
        solved, T_step, d_step = correct_moving(mesh, work, m, by_T, by_d, rest)
        if not solved:
            return 0
        big = max(update(mesh, work, T_step, d_step), abs(d_step))
        c[POINT_X] += d_step * dc[POINT_X]
        c[POINT_Y] += d_step * dc[POINT_Y]
        if not big < 1e3:
            return 0
        small = big <= tol or (it > 0 and big < 1e-4 and big * big / before <= 0.01 * tol)
        floor = it > 2 and big < 1e-7 and big > 0.3 * before
        if (small and res <= 1e-5 * largest_force(mesh)) or floor:
            return it + 1
        before = big
    return 0


@kernel
def tell(model, loads, string, mesh, c, mass, masses, now, scalar, row):
    """Write down a state and its energies."""
    ne = model.h.shape[0]
    kinematics(loads, mesh, c[LOAD])
    report_energies(model, mesh, scalar)
    moving = 0.0
    for e in range(ne):
        for g in range(P):
            v = now[SPEED, P * e + g]
            moving += 0.5 * mass[e, g] * (v[0] * v[0] + v[1] * v[1])
    v = now[SPEED, P * ne]
    moving += 0.5 * masses[0] * (v[0] * v[0] + v[1] * v[1])
    last = P * ne + 1
    row[NOCK], row[NOCK_SPEED] = now[PLACE, last, 0], now[SPEED, last, 0]
    row[NOCK_PUSH], row[TAUT] = now[PUSH, last, 0], mesh.T
    row[STORED] = scalar[BEND_ENERGY] + scalar[STRETCH_ENERGY]
    row[STRING] = 0.5 * string.compliance * mesh.T * mesh.T * c[LENGTH]
    row[MOVING] = moving
    row[NOCK_MOVING] = 0.5 * masses[1] * now[SPEED, last, 0] ** 2
    row[REACH] = scalar[SHARE]


@kernel
def aim(now, base, step, rho):
    """Fill from where each mass is accelerated in a step; return how stiffly."""
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
def copy_all(to, values):
    """Copy what is known of each mass."""
    for k in range(4):
        for i in range(values.shape[1]):
            to[k, i, 0], to[k, i, 1] = values[k, i, 0], values[k, i, 1]


@kernel
def keep_nodes(mesh, nodes):
    """Write down where the nodes are."""
    for b in range(nodes.shape[0]):
        a = mesh.first[b]
        nodes[b, 0], nodes[b, 1] = mesh.r[a, 0], mesh.r[a, 1]


@entry
def move(
    model_,
    loads_,
    string_,
    state,
    c,
    dc,
    mass,
    masses,
    arrow,
    after,
    limit,
    h,
    rho,
    tol,
    most,
    told,
    nodes,
    left,
):
    """Let a rod go from a state and follow it; return (status, steps, iterations).

    ``c`` (4,): controls at the start; ``dc``: unit direction along which the string's far end is
    free to move. ``mass`` (ne, P) of the stations; ``masses`` (2,): tip, far end with the arrow.
    ``arrow``: mass that leaves when it is no longer pushed, 0 for none, and ``after`` which time
    nothing more is followed; ``limit``: share of the laws' reach at which to stop. ``told``
    (n + 1, TOLD) and ``nodes`` (n + 1, ne + 1, 2) take every step, ``left`` (TOLD,) the one in
    which the arrow leaves.
    """
    model, loads, string = share_model(model_), share_loads(loads_), share_string(string_)
    ne = model.h.shape[0]
    mesh, old, flat, work = new_mesh(ne), new_mesh(ne), new_mesh(ne), new_work(model.reference)
    last = P * ne + 1
    now, then = np.zeros((4, last + 1, 2)), np.zeros((4, last + 1, 2))
    base, at, scalar = np.zeros((last + 1, 2)), np.zeros((6, 2)), np.zeros(SCALAR_SLOTS)
    begun, before, rates = c.copy(), state.copy(), np.zeros(state.shape[0])
    load_state(model, mesh, state)
    places(model, mesh, c, dc, at, now[PLACE])
    # step 0 is so short that nothing moves: it finds the first accelerations
    time, total, on = 0.0, 0, arrow > 0.0
    for n in range(told.shape[0]):
        step, tries = (h if n else BEGIN * h), 0
        sooner, later, push0, push1 = 0.0, step, now[PUSH, last, 0], 0.0
        while True:
            stiff = 1.0 / (step * step)
            if n:
                stiff = aim(now, base, step, rho)
            else:
                for i in range(last + 1):
                    base[i, 0], base[i, 1] = now[PLACE, i, 0], now[PLACE, i, 1]
            its = settle(
                model,
                loads,
                string,
                mesh,
                old,
                flat,
                work,
                c,
                dc,
                mass,
                masses,
                base,
                stiff,
                tol,
                most,
            )
            total += its
            if not its:
                if not n or tries or step <= FINEST * h:
                    return FAILED, n, total
                step *= 0.5
                later = step
                load_state(model, mesh, before)
                put(c, begun)
                continue
            places(model, mesh, c, dc, at, then[PLACE])
            advance(now, then, base, step, stiff, rho)
            push = then[PUSH, last, 0]
            freed = push > 0.0 and mesh.T > 0.0
            if not (on and n) or tries == SECANTS or (tries == 0 and not freed):
                break
            # no longer pushed: go back to where that begins
            if push > 0.0:
                later, push1 = step, push
            else:
                sooner, push0 = step, push
            tries += 1
            step = sooner + (later - sooner) * push0 / (push0 - push1)
            load_state(model, mesh, before)
            put(c, begun)
        if n == 0:
            for i in range(last + 1):
                for j in range(2):
                    now[PUSH, i, j] = now[EASED, i, j] = then[PUSH, i, j]
            load_state(model, mesh, before)
            put(c, begun)
        else:
            copy_all(now, then)
            time += step
            save_state(mesh, work, before, rates)
        tell(model, loads, string, mesh, c, mass, masses, now, scalar, told[n])
        told[n, TIME] = time
        keep_nodes(mesh, nodes[n])
        if tries:
            put(left, told[n])
            on = False
            masses[1] -= arrow
        if told[n, REACH] > limit:
            return BEYOND, n + 1, total
        if left[TIME] > 0.0 and time >= left[TIME] + after:
            return DONE, n + 1, total
        put(begun, c)
    return DONE, told.shape[0], total
