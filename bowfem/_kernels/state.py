"""The state as a vector on the uncut mesh, and what is read off it."""

import math

import numpy as np

from bowfem._kernels.basis import GAUSS_W, GAUSS_X, NODE_COEF, NODE_X, P
from bowfem._kernels.compiled import kernel, piece
from bowfem._kernels.element import inner_change
from bowfem._kernels.energy import law, law_at
from bowfem._kernels.kinematics import force_at, kinematics, pointwise
from bowfem._kernels.mesh import build, locate, place, poly, poly_slope
from bowfem._kernels.records import (
    BEND_ENERGY,
    BENDING,
    FX,
    LEAVES_X,
    LEAVES_Y,
    LENGTH,
    LOAD,
    MAX_CONTACTS,
    N_ALL,
    NODE,
    POINT_ANGLE,
    POINT_K,
    POINT_M,
    POINT_N,
    POINT_Q,
    POINT_WRAPPED,
    PSI,
    Q_ALL,
    RATE,
    SHARE,
    SHEAR,
    STRETCH,
    STRETCH_ENERGY,
    STRING_ENERGY,
    TENSION,
    U1,
    U2,
)


@piece
def load_state(model, mesh, state):
    """Set the state from a base vector, on the uncut mesh.

    The vector: rotations (ne, P+1), positions (ne+1, 2), forces (ne, 2), tension.
    """
    mesh.pieces = mesh.lost = 0
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
    mesh.T = state[k]


@kernel
def turn_rate(mesh, work, a, j):
    """Return the derivative along the path of rotation ``j`` of an active element."""
    i0 = NODE * a
    if j == 0 or j == P:
        return work.rhs[i0 + (PSI if j == 0 else NODE + PSI), RATE]
    return inner_change(work.inner[a], j - 1, work.rhs, i0, RATE, work.T_rate, work.mu_rate)


@piece
def save_state(mesh, work, state, tangent):
    """Read the state, and its derivative along the path, off onto base vectors."""
    ne = mesh.first.shape[0] - 1
    x = work.rhs
    k = 0
    for e in range(ne):
        for i in range(P + 1):
            a, t = locate(mesh, e, NODE_X[i])
            y = dy = 0.0
            for j in range(P + 1):
                w = poly(NODE_COEF, j, t)
                y += w * mesh.psi[a, j]
                dy += w * turn_rate(mesh, work, a, j)
            state[k], tangent[k] = y, dy
            k += 1
    for e in range(ne + 1):
        a = mesh.first[e]
        for i in range(2):
            state[k], tangent[k] = mesh.r[a, i], x[NODE * a + i, RATE]
            k += 1
    for e in range(ne):
        a, _ = locate(mesh, e, 0.5)
        for i in range(2):
            state[k], tangent[k] = mesh.G[a, i], x[NODE * a + FX + i, RATE]
            k += 1
    state[k], tangent[k] = mesh.T, work.T_rate


@kernel
def report_energies(model, mesh, scalar):
    """Sum the rod's energies, and find the largest share of the laws' reach."""
    bend = other = most = 0.0
    for a in range(mesh.active):
        for g in range(P):
            kin, prop = mesh.kin[a, g], mesh.prop[a, g]
            _, _, W, share = law_at(model, mesh, a, g, kin[BENDING])
            most = max(most, share)
            wh = mesh.h[a] * GAUSS_W[g]
            N, Q = kin[N_ALL], kin[Q_ALL]
            if mesh.wrapped[a]:
                N, Q = N - mesh.T * kin[U1], Q - mesh.T * kin[U2]
            bend += wh * W
            other += 0.5 * wh * (prop[STRETCH] * N * N + prop[SHEAR] * Q * Q)
    scalar[BEND_ENERGY], scalar[STRETCH_ENERGY], scalar[SHARE] = bend, other, most


@kernel
def report_point(model, loads, mesh, e, g, out):
    """Read off a base element's Gauss point."""
    a, t = locate(mesh, e, GAUSS_X[g])
    psi = k = 0.0
    for i in range(P + 1):
        psi += poly(NODE_COEF, i, t) * mesh.psi[a, i]
        k += poly_slope(NODE_COEF, i, t) * mesh.psi[a, i]
    k /= mesh.h[a]
    th = model.theta0[e, g] + psi
    co, si = math.cos(th), math.sin(th)
    fx, fy = force_at(loads, mesh, a, g)  # elements under a load are never cut in practice
    N, Q = fx * co + fy * si, fy * co - fx * si
    wrapped = mesh.wrapped[a] == 1
    kappa, b, db = model.kappa0[e, g] + k, model.belly[e, g], model.belly_slope[e, g]
    cA, cS = model.stretch[e, g], model.shear[e, g]
    _, _, u1, u2, _ = pointwise(N, Q, kappa, cA, cS, b, db, mesh.T, wrapped)
    if wrapped:
        N, Q = N - mesh.T * u1, Q - mesh.T * u2
    M, _, _, _ = law(model, e, g, k)
    out[POINT_K], out[POINT_M], out[POINT_N], out[POINT_Q] = k, M, N, Q
    out[POINT_WRAPPED], out[POINT_ANGLE] = mesh.wrapped[a], math.atan2(u2, u1)


@piece
def report(model, loads, string, mesh, work, c, point, scalar, contact):
    """Read off a converged state.

    ``point`` (ne, P, POINT_SLOTS) and ``scalar`` (SCALAR_SLOTS,): see `records`. ``contact``
    (MAX_CONTACTS, 2): outer and inner end, in elements from the root.
    """
    kinematics(loads, mesh, c[LOAD])
    report_energies(model, mesh, scalar)
    for e in range(model.h.shape[0]):
        for g in range(P):
            report_point(model, loads, mesh, e, g, point[e, g])
    T = mesh.T
    scalar[TENSION], scalar[STRING_ENERGY] = T, 0.5 * string.compliance * T * T * c[LENGTH]
    scalar[LEAVES_X], scalar[LEAVES_Y] = work.leaves_x, work.leaves_y
    for i in range(MAX_CONTACTS):
        for side in range(2):
            contact[i, side] = place(mesh, i, side) if i < mesh.pieces else np.nan
