"""One step in time: rods, each on its string, and the far end that the strings share."""

import math

import numpy as np

from bowfem._kernels.assembly import assemble
from bowfem._kernels.compiled import kernel
from bowfem._kernels.inertia import add_mass, drawn, hold
from bowfem._kernels.kinematics import kinematics
from bowfem._kernels.newton import largest_force, renew, residual_size, update
from bowfem._kernels.records import (
    BORDER,
    BORDER_RESIDUAL,
    LENGTH,
    LOAD,
    NODE,
    POINT_X,
    RATE,
    RESIDUAL,
    STEP,
    clear,
)
from bowfem._kernels.solve import back, dense, factor

#: Mass that holds the far end on its stop.
HEAVY = 1e12
#: Iterations after which contact is left as it is.
CALM = 9


@kernel
def slacken(mesh, work, m, c, compliance):
    """Put ``T = 0`` in place of the string's own equation where it is slack; return whether."""
    border = work.border
    if border[0, BORDER_RESIDUAL] + c[LENGTH] * compliance * mesh.T >= 0.0:
        return 0
    for i in range(NODE * mesh.active + 3):
        work.row[0, i] = 0.0
    for j in range(m):
        border[0, j] = 0.0
    border[0, 0], border[0, BORDER_RESIDUAL] = 1.0, mesh.T
    return 1


@kernel
def solve_rod(mesh, work, m, o, slack, pull, along, a):
    """Solve one rod, its string's far end held or moved; return whether it can be.

    ``pull`` (nq, 3), at node ``o``, and ``along`` (nq,): derivatives of its equations by that end.
    ``a`` (m, m + 1 + nq) takes the border unknowns' change: by themselves, and with that end.
    """
    n, nq = NODE * mesh.active + 3, pull.shape[0]
    rhs, border = work.rhs, work.border
    for j in range(nq):
        for i in range(n):
            rhs[i, BORDER + m + j] = 0.0
        for p in range(3):
            rhs[NODE * o + p, BORDER + m + j] = pull[j, p]
    if factor(work.band, n, work.pivot) == 0:
        return False
    back(work.band, n, work.pivot, rhs, 1 + m + nq)
    for b in range(m):
        row = work.row[b]
        for j in range(m):
            a[b, j] = border[b, j]
        a[b, m] = -border[b, BORDER_RESIDUAL]
        for j in range(nq):
            a[b, m + 1 + j] = along[j] if b == 0 and slack == 0 else 0.0
        for i in range(n):
            f = row[i]
            if f != 0.0:
                a[b, m] += f * rhs[i, RESIDUAL]
                for j in range(m):
                    a[b, j] -= f * rhs[i, BORDER + j]
                for j in range(nq):
                    a[b, m + 1 + j] -= f * rhs[i, BORDER + m + j]
    return m == 0 or dense(a, m, 1 + nq) != 0


@kernel
def weigh(work, m, o, pull, along, a, weight, S, rest):
    """Add to the far end's equations what a rod answers when that end moves."""
    rhs, nq = work.rhs, pull.shape[0]
    for j in range(nq):
        rest[j] += weight * along[j] * a[0, m]
        for k in range(nq):
            S[j, k] -= weight * along[j] * a[0, m + 1 + k]
        for p in range(3):
            f, i = weight * pull[j, p], NODE * o + p
            if f == 0.0:
                continue
            rest[j] -= f * rhs[i, RESIDUAL]
            for b in range(m):
                rest[j] -= f * rhs[i, BORDER + b] * a[b, m]
            for k in range(nq):
                S[j, k] -= f * rhs[i, BORDER + m + k]
                for b in range(m):
                    S[j, k] += f * rhs[i, BORDER + b] * a[b, m + 1 + k]


@kernel
def carry_over(mesh, work, m, a, dq):
    """Add the Newton step of a rod whose string's far end moves by ``dq``; return its largest."""
    rhs = work.rhs
    for b in range(m):
        for j in range(dq.shape[0]):
            a[b, m] -= a[b, m + 1 + j] * dq[j]
    for i in range(NODE * mesh.active + 3):
        step = -rhs[i, RESIDUAL]
        for b in range(m):
            step -= rhs[i, BORDER + b] * a[b, m]
        for j in range(dq.shape[0]):
            step -= rhs[i, BORDER + m + j] * dq[j]
        rhs[i, STEP], rhs[i, RATE] = step, 0.0
    return update(mesh, work, a[0, m] if m else 0.0, 0.0)


@kernel
def put_end(cs, begun, ways, q):
    """Move the strings' far end to ``q``, from where it was."""
    for r in range(cs.shape[0]):
        for i in range(2):
            place = begun[r, POINT_X + i]
            for j in range(q.shape[0]):
                place += q[j] * ways[r, j, i]
            cs[r, POINT_X + i] = place


@kernel
def pulls(T, weight, along, across, pull, felt, S):
    """Add one string's pull on the far end, and how it changes as that moves."""
    for j in range(felt.shape[0]):
        felt[j] += weight * T * along[j]
        for p in range(3):
            pull[j, p] *= T
        for k in range(felt.shape[0]):
            S[j, k] += weight * T * across[j, k]


@kernel
def move_end(S, rest, q, dq):
    """Solve for the far end's Newton step and take it; return its largest, -1 if it cannot be."""
    n, big = q.shape[0], 0.0
    for j in range(n):
        S[j, n] = -rest[j]
    if n and dense(S, n, 1) == 0:
        return -1.0
    for j in range(n):
        dq[j] = S[j, n]
        q[j] += dq[j]
        big = max(big, abs(dq[j]))
    return big


@kernel
def is_found(it, big, before, balanced, tol):
    """Say whether Newton's method is at its end, as in `newton`."""
    small = big <= tol or (it > 0 and big < 1e-4 and big * big / before <= 0.01 * tol)
    return (small and balanced) or (it > 2 and big < 1e-7 and big > 0.3 * before)


@kernel
def settle(
    models, loads, strings, meshes, olds, flats, works, moving, end, cs, stiff, tol, most, calm
):
    """Find the state in which forces and inertia balance; return iterations, 0 where not found.

    One rod for each row of ``cs``; the tuples hold two. Masses are accelerated with ``stiff`` times
    their distance from where they are aimed. Contact is left as it is from iteration ``calm`` on.
    """
    count, nq, size = cs.shape[0], end.q.shape[0], works[0].border.shape[0]
    at, kept = np.zeros((6, 2)), np.zeros(3 * max(meshes[0].first.size, meshes[1].first.size))
    a = np.zeros((2, size, size + 3))
    m, o, slack = np.zeros(2, np.int64), np.zeros(2, np.int64), np.zeros(2, np.int64)
    along, across, pull = np.zeros((2, nq)), np.zeros((2, nq, nq)), np.zeros((2, nq, 3))
    S, rest, dq, still = np.zeros((nq, nq + 1)), np.zeros(nq), np.zeros(nq), np.zeros(4)
    before = 1e300
    for it in range(most):
        res = force = 0.0
        clear(S, nq, nq)
        for j in range(nq):
            end.felt[j] = 0.0
            S[j, j] = end.mass[j] * stiff
        for r in range(count):
            model, mesh, work, c, mine = models[r], meshes[r], works[r], cs[r], moving[r]
            if it < calm:
                renew(model, loads[r], strings[r], mesh, olds[r], flats[r], work, c, it)
            else:  # a touch that comes and goes stays as it is until the next step
                kinematics(loads[r], mesh, c[LOAD])
            m[r] = assemble(model, loads[r], strings[r], mesh, work, c, still)
            if m[r]:
                o[r] = drawn(loads[r], mesh, work, c, end.ways[r], along[r], across[r], pull[r])
                pulls(mesh.T, mine.weight, along[r], across[r], pull[r], end.felt, S)
                slack[r] = slacken(mesh, work, m[r], c, strings[r].compliance)
            hold(loads[r], mesh, work, kept, False)
            add_mass(model, mesh, work, mine.station, mine.end, mine.aimed, stiff, at)
            hold(loads[r], mesh, work, kept, True)
            res += residual_size(mesh, work) ** 2
            force = max(force, largest_force(mesh))
        for j in range(nq):
            rest[j] = end.felt[j] + end.mass[j] * stiff * (end.q[j] - end.aimed[0, j])
            if end.mass[j] < HEAVY:  # else its stop bears the rest
                res += rest[j] ** 2
        for r in range(count):
            if not solve_rod(meshes[r], works[r], m[r], o[r], slack[r], pull[r], along[r], a[r]):
                return 0
            if m[r]:
                weigh(works[r], m[r], o[r], pull[r], along[r], a[r], moving[r].weight, S, rest)
        big = move_end(S, rest, end.q, dq)
        if big < 0.0:
            return 0
        for r in range(count):
            big = max(big, carry_over(meshes[r], works[r], m[r], a[r], dq))
        put_end(cs, end.begun, end.ways, end.q)
        if not big < 1e3:
            return 0
        if is_found(it, big, before, math.sqrt(res) <= 1e-5 * force, tol):
            return it + 1
        before = big
    return 0
