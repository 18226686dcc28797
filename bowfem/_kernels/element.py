"""Residual and tangent of one element, its inner rotations condensed."""

import numpy as np

from bowfem._kernels.basis import GAUSS_W, LOAD_TO_FORCE, SHAPE, SLOPE, P
from bowfem._kernels.compiled import kernel, part
from bowfem._kernels.energy import law_at, legendre
from bowfem._kernels.records import (
    BENDING,
    COS,
    FX,
    FY,
    LOAD_RATE_X,
    LOAD_RATE_Y,
    LOAD_X,
    LOAD_Y,
    NODE,
    PRESSURE,
    PSI,
    SIN,
    SIZE,
    clear,
)

# Local matrix: three inner rotations, then
PSI0, GX, GY, PSI1, TEN = 3, 4, 5, 6, 7
# after them the columns of the path and of the residual, and the rows of position
PATH, RES = 8, 9
ROW_X, ROW_Y = 8, 9
#: Local index of the rotation at each Gauss-Lobatto node.
TURN = np.array([PSI0, 0, 1, 2, PSI1])
#: Index in the band, from the element's first node, of the local PSI0, GX, GY, PSI1.
IN_BAND = np.array([PSI, FX, FY, NODE + PSI])


@part
def felt(mesh, work, a, g, k, M, C):
    """Add what viscous branches make of the law's moment and tangent at a Gauss point."""
    e = mesh.base[a]
    whole = mesh.xi[a, 0] == 0.0 and mesh.xi[a, 1] == 1.0
    c0 = c1 = 0.0
    for j in range(g if whole else 0, g + 1 if whole else P):
        w = 1.0 if whole else mesh.weight[a, g, j]
        c0 += w * work.felt[e, j, 0]
        c1 += w * work.felt[e, j, 1]
    return work.scale * (M + c0 + c1 * k), work.scale * (C + c1)


@part
def turn_rows(A, g, h, wh, M, C, H):
    """Add a Gauss point's part of the rows of rotation: by theta and, with the slopes, by k."""
    for i in range(P + 1):
        p = TURN[i]
        n, d = wh * SHAPE[g, i], wh / h * SLOPE[g, i]
        A[p, RES] += d * (M - H.k) - n * H.t
        A[p, GX] -= n * H.tx + d * H.kx
        A[p, GY] -= n * H.ty + d * H.ky
        A[p, TEN] -= n * H.tT + d * H.kT
        by_k = (d * (C - H.kk) - n * H.tk) / h
        by_theta = d * H.tk + n * H.tt
        for j in range(i + 1):
            A[p, TURN[j]] += by_k * SLOPE[g, j] - by_theta * SHAPE[g, j]


@part
def force_rows(A, wh, tangent, size, H):
    """Add a Gauss point's part of the rows of the force and of the tension."""
    A[GX, GX] -= wh * H.xx
    A[GX, GY] -= wh * H.xy
    A[GY, GX] -= wh * H.xy
    A[GY, GY] -= wh * H.yy
    A[GX, TEN] -= wh * H.xT
    A[GY, TEN] -= wh * H.yT
    A[TEN, TEN] -= wh * H.TT
    A[GX, RES] -= wh * tangent[0]
    A[GY, RES] -= wh * tangent[1]
    A[TEN, RES] += wh * size


@kernel
def load_rows(A, g, wh, kin, load, dlam):
    """Add the load at a Gauss point to the rows of position; a pressure turns with the rod."""
    A[ROW_X, RES] -= wh * load[LOAD_X]
    A[ROW_Y, RES] -= wh * load[LOAD_Y]
    A[ROW_X, PATH] -= wh * load[LOAD_RATE_X] * dlam
    A[ROW_Y, PATH] -= wh * load[LOAD_RATE_Y] * dlam
    for j in range(P + 1):
        A[ROW_X, TURN[j]] += wh * load[PRESSURE] * kin[COS] * SHAPE[g, j]
        A[ROW_Y, TURN[j]] += wh * load[PRESSURE] * kin[SIN] * SHAPE[g, j]


@kernel
def felt_load(A, g, h, wh, dx, dy, col, H):
    """Add to column ``col`` the change (dx, dy) of the internal force at a Gauss point."""
    for i in range(P + 1):
        n, d = wh * SHAPE[g, i], wh * SLOPE[g, i] / h
        by_theta = H.tx * dx + H.ty * dy
        A[TURN[i], col] -= n * by_theta + d * (H.kx * dx + H.ky * dy)
    A[GX, col] -= wh * (H.xx * dx + H.xy * dy)
    A[GY, col] -= wh * (H.xy * dx + H.yy * dy)
    A[TEN, col] -= wh * (H.xT * dx + H.yT * dy)


@kernel
def add_loads(mesh, A, a, T, dlam):
    """Add the loads on an element: what they do to its nodes, and to the force inside.

    The force at a Gauss point is G and the load from the start to there, in the mean that keeps the
    Lagrangian's symmetry (LOAD_TO_FORCE).
    """
    h = mesh.h[a]
    for g in range(P):
        kin = mesh.kin[a, g]
        wh = h * GAUSS_W[g]
        H = legendre(kin, mesh.prop[a, g], T, mesh.wrapped[a] == 1)
        load_rows(A, g, wh, kin, mesh.load[a, g], dlam)
        for m in range(P):  # the load at m felt as force at g
            load, to = mesh.load[a, m], h * LOAD_TO_FORCE[g, m]
            dx, dy = to * load[LOAD_RATE_X] * dlam, to * load[LOAD_RATE_Y] * dlam
            felt_load(A, g, h, wh, dx, dy, PATH, H)
            px = -to * load[PRESSURE] * mesh.kin[a, m, COS]
            py = -to * load[PRESSURE] * mesh.kin[a, m, SIN]
            for j in range(P + 1):
                dx, dy = px * SHAPE[m, j], py * SHAPE[m, j]
                felt_load(A, g, h, wh, dx, dy, TURN[j], H)


@kernel
def element(model, mesh, work, loads, a, dlam):
    """Fill the local matrix of one active element.

    Rows: inner rotations, psi0, Gx, Gy, psi1, tension, x0, y0. Columns: the first seven of these,
    tension, path, residual. They are the derivatives of the Lagrangian (see `energy`), with theta
    and k taken through the shape functions: rotation i moves theta at Gauss point g by SHAPE[g, i]
    and k by SLOPE[g, i] / h. The residual of G is what closes the element: ``r1 - r0``, added on
    assembly, less the integral of the tangent.
    """
    A = work.local
    clear(A, 10, 10)
    h = mesh.h[a]
    wrapped = mesh.wrapped[a] == 1
    T = mesh.T if wrapped else 0.0
    for g in range(P):
        kin = mesh.kin[a, g]
        wh = h * GAUSS_W[g]
        M, C, _, _ = law_at(model, mesh, a, g, kin[BENDING])
        if work.viscous:
            M, C = felt(mesh, work, a, g, kin[BENDING], M, C)
        H = legendre(kin, mesh.prop[a, g], T, wrapped)
        turn_rows(A, g, h, wh, M, C, H)
        force_rows(A, wh, mesh.z[a, g], kin[SIZE], H)
    for j in range(P + 1):  # the rotations' part is symmetric, and half filled in
        for i in range(j):
            A[TURN[i], TURN[j]] = A[TURN[j], TURN[i]]
    if loads.spread:
        add_loads(mesh, A, a, T, dlam)
    for j in range(P + 1):
        for row in (GX, GY, TEN):
            A[row, TURN[j]] += A[TURN[j], row]
    A[TEN, GX] += A[GX, TEN]
    A[TEN, GY] += A[GY, TEN]


@kernel
def condense(A, keep, rows):
    """Eliminate the inner rotations; ``keep`` (3, 7) recovers them from the outer unknowns."""
    for k in range(3):
        p = k
        for i in range(k + 1, 3):
            if abs(A[i, k]) > abs(A[p, k]):
                p = i
        if p != k:
            for j in range(10):
                A[k, j], A[p, j] = A[p, j], A[k, j]
        inv = 1.0 / A[k, k]
        for j in range(k + 1, 10):
            A[k, j] *= inv
        for i in range(rows):
            f = A[i, k]
            if i != k and f != 0.0:
                for j in range(k + 1, 10):
                    A[i, j] -= f * A[k, j]
    for k in range(3):
        for j in range(7):
            keep[k, j] = A[k, 3 + j]


@kernel
def inner_change(keep, k, x, i0, column, dT, dmu):
    """Change of inner rotation ``k``, from a column of the outer unknowns' solution.

    ``dT``, ``dmu``: that of the tension and of the path parameter. The residual's part is not in.
    """
    change = -keep[k, TEN - PSI0] * dT - keep[k, PATH - PSI0] * dmu
    for q in range(4):
        change -= keep[k, q] * x[i0 + IN_BAND[q], column]
    return change
