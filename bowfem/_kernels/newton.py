"""Banded elimination, Newton's method and the walk along a list of controls."""

import math

import numpy as np

from bowfem._kernels.assembly import assemble
from bowfem._kernels.basis import GAUSS_W, GAUSS_X, LOAD_TO_FORCE, NODE_COEF, NODE_X, SHAPE, SLOPE, P
from bowfem._kernels.compiled import entry, kernel
from bowfem._kernels.contact import find_contact, flatten, kinematics, line_load, move, pointwise
from bowfem._kernels.mesh import (
    DIAG,
    KL,
    MAX_BORDER,
    MAX_CONTACTS,
    build,
    law,
    law_at,
    locate,
    new_mesh,
    new_work,
    poly,
    poly_slope,
    share_loads,
    share_model,
    share_string,
)

CONVERGED, DIVERGED, SINGULAR, STEP_FLOOR, BEYOND_TABLE = 0, 1, 2, 3, 4


@kernel
def factor(band, n, pivot):
    """Factor the banded matrix in place with row pivoting; return the determinant's sign, or 0."""
    sign = 1
    reach = 0
    for j in range(n):
        low = min(KL, n - 1 - j)
        p = 0
        big = abs(band[j, DIAG])
        for i in range(1, low + 1):
            if abs(band[j, DIAG + i]) > big:
                big = abs(band[j, DIAG + i])
                p = i
        pivot[j] = j + p
        if not big > 0.0:
            return 0
        reach = max(reach, min(j + KL + p, n - 1))
        if p:
            sign = -sign
            for c in range(j, reach + 1):
                k = DIAG + j - c
                band[c, k], band[c, k + p] = band[c, k + p], band[c, k]
        if band[j, DIAG] < 0.0:
            sign = -sign
        inv = 1.0 / band[j, DIAG]
        for i in range(1, low + 1):
            band[j, DIAG + i] *= inv
        for c in range(j + 1, reach + 1):
            f = band[c, DIAG + j - c]
            if f != 0.0:
                k = DIAG + j - c
                for i in range(1, low + 1):
                    band[c, k + i] -= f * band[j, DIAG + i]
    return sign


@kernel
def back(band, n, pivot, x, m):
    """Solve for the first ``m`` columns of ``x`` (n, m) with the factored band."""
    for j in range(n):
        p = pivot[j]
        if p != j:
            for c in range(m):
                x[j, c], x[p, c] = x[p, c], x[j, c]
        for i in range(1, min(KL, n - 1 - j) + 1):
            f = band[j, DIAG + i]
            if f != 0.0:
                for c in range(m):
                    x[j + i, c] -= f * x[j, c]
    for j in range(n - 1, -1, -1):
        inv = 1.0 / band[j, DIAG]
        for c in range(m):
            x[j, c] *= inv
        for i in range(max(0, j - DIAG), j):
            f = band[j, DIAG + i - j]
            if f != 0.0:
                for c in range(m):
                    x[i, c] -= f * x[j, c]


@kernel
def dense(a, n, m):
    """Solve the small dense system in ``a`` (n, n + m) in place; return the determinant's sign."""
    sign = 1
    for k in range(n):
        p = k
        for i in range(k + 1, n):
            if abs(a[i, k]) > abs(a[p, k]):
                p = i
        if not abs(a[p, k]) > 0.0:
            return 0
        if p != k:
            sign = -sign
            for j in range(n + m):
                a[k, j], a[p, j] = a[p, j], a[k, j]
        if a[k, k] < 0.0:
            sign = -sign
        inv = 1.0 / a[k, k]
        for j in range(k, n + m):
            a[k, j] *= inv
        for i in range(n):
            if i != k and a[i, k] != 0.0:
                f = a[i, k]
                for j in range(k, n + m):
                    a[i, j] -= f * a[k, j]
    return sign


@kernel
def correct(model, mesh, work, m, control, ctrl, target, c, dc, out):
    """Factor and solve the bordered system; leave the Newton step and the tangent in ``rhs``.

    On return ``rhs`` column 0 is the step and column 1 the derivative along the path: by the path
    parameter, or with ``control`` by the control's target. ``out``: tension's step and derivative,
    the parameter's step, its value on entry, its derivative.
    """
    na = mesh.count[0]
    n = 5 * na + 3
    rhs = work.rhs
    for i in range(n):
        rhs[i, m + 1] = work.path[i]
    sign = factor(work.band, n, work.pivot)
    if sign == 0:
        return 0
    back(work.band, n, work.pivot, rhs, m + 2)
    size = m + 1 if control else m
    a = np.zeros((size, size + 2))
    for b in range(m):
        row = work.row[b]
        for j in range(m):
            a[b, j] = work.border[b, j]
        if control:
            a[b, m] = work.border[b, MAX_BORDER]
        a[b, size] = -work.border[b, MAX_BORDER + 1]
        a[b, size + 1] = 0.0 if control else -work.border[b, MAX_BORDER]
        for i in range(n):
            f = row[i]
            if f != 0.0:
                for j in range(m):
                    a[b, j] -= f * rhs[i, 1 + j]
                if control:
                    a[b, m] -= f * rhs[i, m + 1]
                a[b, size] += f * rhs[i, 0]
                if not control:
                    a[b, size + 1] += f * rhs[i, m + 1]
    if control:  # ctrl . (nodes, path parameter) = target
        a[m, m] = ctrl[ctrl.shape[0] - 1, 0]
        a[m, size + 1] = 1.0
        a[m, size] = target - ctrl[ctrl.shape[0] - 1, 0] * out[3]
        for b in range(mesh.first.shape[0]):
            k = mesh.first[b]
            for i in range(3):
                f = ctrl[b, i]
                if f != 0.0:
                    u = mesh.r[k, i] if i < 2 else (mesh.psi[k, 0] if k < na else mesh.psi[k - 1, P])
                    a[m, size] += f * (rhs[5 * k + i, 0] - u)
                    for j in range(m + 1):
                        a[m, j] -= f * rhs[5 * k + i, 1 + j]
    if size:
        sign *= dense(a, size, 2)
    for i in range(n):
        step, along = -rhs[i, 0], 0.0 if control else -rhs[i, m + 1]
        for j in range(size):
            step -= rhs[i, 1 + j] * a[j, size]
            along -= rhs[i, 1 + j] * a[j, size + 1]
        rhs[i, 0], rhs[i, 1] = step, along
    out[0] = a[0, size] if m else 0.0
    out[1] = a[0, size + 1] if m else 0.0
    out[2] = a[m, size] if control else 0.0
    out[4] = a[m, size + 1] if control else 1.0
    return sign


@kernel
def newton(model, loads, string, mesh, old, flat, work, control, ctrl, target, c, dc, mu, tol, most, hist):
    """Iterate to equilibrium; return (status, iterations, determinant's sign).

    ``hist`` (most, 2) takes the norms of residual and step. ``mu`` (1,) is the path parameter when
    it is unknown. On return ``work.rhs[:, 1]`` holds the derivative of the state along the path.
    """
    out = np.zeros(5)
    before = 1e300
    sign = 0
    for it in range(most):
        kinematics(loads, mesh, c[0])
        if string.flag[0]:
            flatten(model, flat, mesh)
            find_contact(model, string, flat, work, c[1], c[2])
            copy(old, mesh)
            renew_contact(mesh, flat)
            build(model, mesh)
            move(mesh, old)
            kinematics(loads, mesh, c[0])
        m = assemble(model, loads, string, mesh, work, c, dc)
        na = mesh.count[0]
        n = 5 * na + 3
        res = 0.0
        for i in range(n):
            res += work.rhs[i, 0] ** 2
        hist[it, 0] = math.sqrt(res)
        out[3] = mu[0]
        sign = correct(model, mesh, work, m, control, ctrl, target, c, dc, out)
        if sign == 0:
            return SINGULAR, it, 0
        x = work.rhs
        big = 0.0
        for a in range(na):
            keep = work.inner[a]
            i0 = 5 * a
            for k in range(3):
                d = -keep[k, 6] - keep[k, 4] * out[0] - keep[k, 5] * out[2]
                for j in range(3):
                    d -= keep[k, j] * x[i0 + 2 + j, 0]
                d -= keep[k, 3] * x[i0 + 7, 0]
                mesh.psi[a, k + 1] += d
                big = max(big, abs(d))
            mesh.psi[a, 0] += x[i0 + 2, 0]
            mesh.psi[a, P] += x[i0 + 7, 0]
            mesh.G[a, 0] += x[i0 + 3, 0]
            mesh.G[a, 1] += x[i0 + 4, 0]
        for a in range(na + 1):
            for i in range(2):
                mesh.r[a, i] += x[5 * a + i, 0]
            for i in range(3):
                big = max(big, abs(x[5 * a + i, 0]))
        mesh.T[0] += out[0]
        if control:
            mu[0] += out[2]
            for i in range(4):
                c[i] += out[2] * dc[i]
        hist[it, 1] = big
        if not big < 1e3:
            return DIVERGED, it + 1, sign
        # the next step is at most this one times the last ratio: stop when that is round-off
        if big <= tol or (it > 0 and big < 1e-4 and big * big / before <= 0.01 * tol):
            work.end[2], work.end[3] = out[1], out[4]
            return CONVERGED, it + 1, sign
        if it > 2 and big < 1e-7 and big > 0.3 * before:  # the floor set by the contact's own search
            work.end[2], work.end[3] = out[1], out[4]
            return CONVERGED, it + 1, sign
        if it > 5 and big > 0.5 * before and big > 1e-6:
            return DIVERGED, it + 1, sign
        before = big
    return DIVERGED, most, sign


@kernel
def renew_contact(mesh, flat):
    """Take over the contact found, and keep the cuts of contact lost since the last iteration.

    A touch that comes and goes between iterations would otherwise see two meshes, which may
    disagree on it for ever.
    """
    nc = flat.count[1]
    lost = 0
    for i in range(mesh.count[1] + mesh.count[2]):
        far = mesh.contact[i, 0] + mesh.contact[i, 1] < mesh.first.shape[0] - 1
        for k in range(nc):
            gap = flat.contact[k, 0] + flat.contact[k, 1] - mesh.contact[i, 0] - mesh.contact[i, 1]
            far = far and abs(gap) > 1.0
        if far and nc + lost < MAX_CONTACTS:
            for j in range(4):
                flat.contact[nc + lost, j] = mesh.contact[i, j]
            lost += 1
    for i in range(nc + lost):
        for j in range(4):
            mesh.contact[i, j] = flat.contact[i, j]
    mesh.count[1], mesh.count[2] = nc, lost


@kernel
def copy(to, mesh):
    """Copy what carries the state of a mesh."""
    for i in range(3):
        to.count[i] = mesh.count[i]
    for e in range(mesh.first.shape[0]):
        to.first[e] = mesh.first[e]
    for a in range(mesh.count[0] + 1):
        to.r[a, 0], to.r[a, 1] = mesh.r[a, 0], mesh.r[a, 1]
    for a in range(mesh.count[0]):
        to.base[a], to.h[a] = mesh.base[a], mesh.h[a]
        for i in range(2):
            to.xi[a, i], to.G[a, i] = mesh.xi[a, i], mesh.G[a, i]
        for i in range(P + 1):
            to.psi[a, i] = mesh.psi[a, i]
        for g in range(P):
            to.z[a, g, 0], to.z[a, g, 1] = mesh.z[a, g, 0], mesh.z[a, g, 1]
    to.T[0] = mesh.T[0]


@kernel
def load_state(model, mesh, state):
    """Set the state from a base vector, on the uncut mesh.

    The vector: rotations (ne, P+1), positions (ne+1, 2), forces (ne, 2), tension.
    """
    mesh.count[1] = mesh.count[2] = 0
    build(model, mesh)
    ne = model.h.shape[0]
    k = 0
    for e in range(ne):
        for i in range(P + 1):
            mesh.psi[e, i] = state[k]
            k += 1
    for e in range(ne - 1):  # stored twice; extrapolation must not pull the two apart
        mesh.psi[e, P] = mesh.psi[e + 1, 0]
    for e in range(ne + 1):
        mesh.r[e, 0], mesh.r[e, 1] = state[k], state[k + 1]
        k += 2
    for e in range(ne):
        mesh.G[e, 0], mesh.G[e, 1] = state[k], state[k + 1]
        k += 2
    mesh.T[0] = state[k]


@kernel
def save_state(mesh, work, state, tangent):
    """Read the state, and its derivative along the path, off onto base vectors."""
    ne = mesh.first.shape[0] - 1
    x = work.rhs
    k = 0
    for e in range(ne):
        for i in range(P + 1):
            a, t = locate(mesh, e, NODE_X[i])
            keep = work.inner[a]
            i0 = 5 * a
            y = dy = 0.0
            for j in range(P + 1):
                w = poly(NODE_COEF, j, t)
                y += w * mesh.psi[a, j]
                if 0 < j < P:
                    d = -keep[j - 1, 5] * work.end[3] - keep[j - 1, 4] * work.end[2]
                    for q in range(3):
                        d -= keep[j - 1, q] * x[i0 + 2 + q, 1]
                    d -= keep[j - 1, 3] * x[i0 + 7, 1]
                    dy += w * d
                else:
                    dy += w * x[i0 + (2 if j == 0 else 7), 1]
            state[k], tangent[k] = y, dy
            k += 1
    for e in range(ne + 1):
        a = mesh.first[e]
        for i in range(2):
            state[k], tangent[k] = mesh.r[a, i], x[5 * a + i, 1]
            k += 1
    for e in range(ne):
        a, _ = locate(mesh, e, 0.5)
        for i in range(2):
            state[k], tangent[k] = mesh.G[a, i], x[5 * a + 3 + i, 1]
            k += 1
    state[k], tangent[k] = mesh.T[0], work.end[2]


@kernel
def report(model, loads, string, mesh, work, c, point, scalar, contact):
    """Read off a converged state.

    ``point`` (ne, P, 6): k, M, N, Q, wrapped, angle of the string where wrapped. ``scalar``: tension,
    energy of bending, of stretch and shear, of the string, straight end of the string (x, y), share of
    the law's table used. ``contact`` (MAX_CONTACTS, 2): outer and inner end, element + coordinate.
    """
    kinematics(loads, mesh, c[0])
    ne = model.h.shape[0]
    T = mesh.T[0]
    bend = other = most = 0.0
    for a in range(mesh.count[0]):
        for g in range(P):
            kin, prop = mesh.kin[a, g], mesh.prop[a, g]
            _, _, W, share = law_at(model, mesh, a, g, kin[2])
            most = max(most, share)
            wh = mesh.h[a] * GAUSS_W[g]
            N, Q = kin[9], kin[10]
            if mesh.wrapped[a]:
                N, Q = N - T * kin[6], Q - T * kin[7]
            bend += wh * W
            other += 0.5 * wh * (prop[2] * N * N + prop[3] * Q * Q)
    for e in range(ne):
        for g in range(P):
            a, t = locate(mesh, e, GAUSS_X[g])
            psi = k = 0.0
            for i in range(P + 1):
                psi += poly(NODE_COEF, i, t) * mesh.psi[a, i]
                k += poly_slope(NODE_COEF, i, t) * mesh.psi[a, i]
            k /= mesh.h[a]
            th = model.theta0[e, g] + psi
            co, si = math.cos(th), math.sin(th)
            fx, fy = mesh.G[a, 0], mesh.G[a, 1]
            if loads.spread[0]:  # elements under a distributed load are never cut in practice
                for j in range(P):
                    fx += mesh.h[a] * LOAD_TO_FORCE[g, j] * mesh.load[a, j, 0]
                    fy += mesh.h[a] * LOAD_TO_FORCE[g, j] * mesh.load[a, j, 1]
            N, Q = fx * co + fy * si, fy * co - fx * si
            wrapped = mesh.wrapped[a] == 1
            v1, v2, u1, u2, _ = pointwise(
                N, Q, model.kappa0[e, g] + k, model.stretch[e, g], model.shear[e, g],
                model.belly[e, g], model.belly_slope[e, g], T, wrapped,
            )
            M, _, _, _ = law(model, e, g, k)
            out = point[e, g]
            out[0], out[1], out[4], out[5] = k, M, mesh.wrapped[a], math.atan2(u2, u1)
            out[2], out[3] = N, Q
            if wrapped:
                out[2], out[3] = N - T * u1, Q - T * u2
    scalar[0], scalar[1], scalar[2] = T, bend, other
    scalar[3] = 0.5 * string.number[2] * T * T * c[3]
    scalar[4], scalar[5], scalar[6] = work.end[0], work.end[1], most
    for i in range(MAX_CONTACTS):
        contact[i, 0] = contact[i, 1] = np.nan
    for i in range(mesh.count[1]):
        contact[i, 0] = mesh.contact[i, 0] + mesh.contact[i, 1]
        contact[i, 1] = mesh.contact[i, 2] + mesh.contact[i, 3]


@entry
def walk(model_, loads_, string_, targets, start, state0, predict, tol, most, finest, limit,
         control, ctrl, level, mu, state, tangent, point, scalar, contact, react, count, hist):
    """Follow the controls ``targets`` (nt, 4) from ``start``; return (status, reached, sign).

    Each step is tried whole and cut in half when Newton fails, down to ``finest`` of it.
    ``predict``: extrapolate along the path. ``limit``: share of the law's table at which to stop.
    Outputs carry one state a target; ``count`` (nt, 2): Newton iterations, substeps; ``hist``: norms
    of residual and step of the last Newton solve; ``tangent``: derivative of the last state.

    With ``control`` the controls are ``start + mu (targets[0] - start)`` with ``mu`` unknown, fixed
    by ``sum(ctrl * (x, y, psi of the nodes)) + ctrl[-1, 0] mu = level``: one Newton solve from
    ``state0``; ``tangent`` is then by ``level`` and its last entry is that of ``mu``.
    """
    model, loads, string = share_model(model_), share_loads(loads_), share_string(string_)
    ne = model.h.shape[0]
    ns = state0.shape[0]
    mesh, old, flat, work = new_mesh(ne), new_mesh(ne), new_mesh(ne), new_work(model.reference)
    c, dc, unit, last_unit = np.zeros(4), np.zeros(4), np.zeros(4), np.zeros(4)
    # the two last states with their derivatives along the path, and the guess made from them
    s0, d0, s1, d1, guess = np.zeros(ns), np.zeros(ns), np.zeros(ns), np.zeros(ns), np.zeros(ns)
    for i in range(ns):
        s1[i] = state0[i]
    if control:
        for i in range(4):
            dc[i] = targets[0, i] - start[i]
            c[i] = start[i] + mu[0] * dc[i]
        load_state(model, mesh, s1)
        status, count[0, 0], sign = newton(model, loads, string, mesh, old, flat, work, True, ctrl, level, c,
                                           dc, mu, tol, most, hist)
        if status != CONVERGED:
            return status, 0, sign
        save_state(mesh, work, s1, d1)
        for i in range(ns):
            state[0, i], tangent[i] = s1[i], d1[i]
        tangent[ns] = work.end[3]
        for b in range(ne + 1):
            for i in range(3):
                react[0, b, i] = work.react[b, i]
        report(model, loads, string, mesh, work, c, point[0], scalar[0], contact[0])
        return status, 1, sign
    sign = 0
    known = 0  # how many of the two have a derivative along the present direction
    gone = 0.0  # path length between the two
    for k in range(targets.shape[0]):
        length = dot = 0.0
        for i in range(4):
            c[i] = start[i] if k == 0 else targets[k - 1, i]
            dc[i] = targets[k, i] - c[i]
            length += dc[i] * dc[i]
        length = math.sqrt(length)
        for i in range(4):
            unit[i] = dc[i] / length if length > 0.0 else 0.0
            dot += unit[i] * last_unit[i]
            last_unit[i] = unit[i]
        if dot < 1.0 - 1e-9:
            known = 0
        if known == 0 and predict and k > 0 and length > 0.0:  # derivative in the new direction
            load_state(model, mesh, s1)
            status, its, sign = newton(model, loads, string, mesh, old, flat, work, False, ctrl, level, c, unit,
                                    mu, tol, most, hist)
            count[k, 0] += its
            if status == CONVERGED:
                save_state(mesh, work, s1, d1)
                known = 1
        done, step = 0.0, 1.0
        while done < 1.0:
            step = min(step, 1.0 - done)
            share = 1.0 if done + step > 1.0 - 1e-12 else done + step
            for i in range(4):
                c[i] = targets[k, i] - (1.0 - share) * dc[i]
            ahead = step * length
            if predict and known == 2:  # cubic through two states and their derivatives
                y = 1.0 + ahead / gone
                h0 = (2.0 * y - 3.0) * y * y + 1.0
                w0, w1 = gone * y * (y - 1.0) ** 2, gone * y * y * (y - 1.0)
                for i in range(ns):
                    guess[i] = h0 * s0[i] + (1.0 - h0) * s1[i] + w0 * d0[i] + w1 * d1[i]
            elif predict and known == 1:
                for i in range(ns):
                    guess[i] = s1[i] + ahead * d1[i]
            else:
                for i in range(ns):
                    guess[i] = s1[i]
            load_state(model, mesh, guess)
            status, its, sign = newton(model, loads, string, mesh, old, flat, work, False, ctrl, level, c, unit,
                                    mu, tol, most, hist)
            count[k, 0] += its
            if status != CONVERGED:
                step *= 0.5
                if step < 0.2:
                    known = 0  # the extrapolation may be what fails
                if step < finest:
                    return (SINGULAR if status == SINGULAR else STEP_FLOOR), k, sign
                continue
            count[k, 1] += 1
            done = share
            for i in range(ns):
                s0[i], d0[i] = s1[i], d1[i]
            save_state(mesh, work, s1, d1)
            known = min(known + 1, 2)
            gone = ahead
            step *= 2.0
        for i in range(ns):
            state[k, i] = s1[i]
        for b in range(ne + 1):
            for i in range(3):
                react[k, b, i] = work.react[b, i]
        report(model, loads, string, mesh, work, c, point[k], scalar[k], contact[k])
        if scalar[k, 6] > limit:
            return BEYOND_TABLE, k + 1, sign
    for i in range(ns):
        tangent[i] = d1[i]
    tangent[ns] = 1.0
    return CONVERGED, targets.shape[0], sign
