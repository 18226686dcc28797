"""Tangent, strains, forces and loads at the Gauss points of a state."""

import math

from bowfem._kernels.basis import LOAD_TO_FORCE, SHAPE, SLOPE, P
from bowfem._kernels.compiled import kernel, part
from bowfem._kernels.records import (
    BELLY,
    BELLY_SLOPE,
    BENDING,
    COS,
    KAPPA,
    KAPPA0,
    LOAD_RATE_X,
    LOAD_RATE_Y,
    LOAD_X,
    LOAD_Y,
    N_ALL,
    PRESSURE,
    Q_ALL,
    SHEAR,
    SIN,
    SIZE,
    STRETCH,
    THETA0,
    U1,
    U2,
    V1,
    V2,
)


@part
def pointwise(N, Q, kappa, cA, cS, b, db, T, wrapped):
    """Stretch vector ``v`` and string direction ``u`` from the joint force of rod and string."""
    v1, v2 = 1.0 + cA * N, cS * Q
    if not wrapped:
        return v1, v2, 0.0, 0.0, 0.0
    u1 = u2 = size = 0.0
    for _ in range(12):  # contracts by about T/EA a turn; exact at once if inextensible
        a1, a2 = v1 - b * kappa, v2 + db
        size = math.sqrt(a1 * a1 + a2 * a2)
        u1, u2 = a1 / size, a2 / size
        w1, w2 = 1.0 + cA * (N - T * u1), cS * (Q - T * u2)
        d = abs(w1 - v1) + abs(w2 - v2)
        v1, v2 = w1, w2
        if d < 1e-15:
            break
    return v1, v2, u1, u2, size


@kernel
def line_load(loads, mesh, a, g, lam, c, s):
    """Distributed force at an active Gauss point, its load-factor part, and the pressure."""
    e = mesh.base[a]
    if mesh.xi[a, 0] == 0.0 and mesh.xi[a, 1] == 1.0:
        p0, p1 = loads.pressure[0, e, g], loads.pressure[1, e, g]
        x0, x1 = loads.line[0, e, g, 0], loads.line[1, e, g, 0]
        y0, y1 = loads.line[0, e, g, 1], loads.line[1, e, g, 1]
    else:
        p0 = p1 = x0 = x1 = y0 = y1 = 0.0
        for j in range(P):
            w = mesh.weight[a, g, j]
            p0 += w * loads.pressure[0, e, j]
            p1 += w * loads.pressure[1, e, j]
            x0 += w * loads.line[0, e, j, 0]
            x1 += w * loads.line[1, e, j, 0]
            y0 += w * loads.line[0, e, j, 1]
            y1 += w * loads.line[1, e, j, 1]
    p = p0 + lam * p1
    return x0 + lam * x1 - p * s, y0 + lam * y1 + p * c, x1 - p1 * s, y1 + p1 * c, p


@part
def force_at(loads, mesh, a, g):
    """Return the internal force at an active Gauss point: the element's, and its load's part."""
    fx, fy = mesh.G[a, 0], mesh.G[a, 1]
    if loads.spread:
        for j in range(P):
            fx += mesh.h[a] * LOAD_TO_FORCE[g, j] * mesh.load[a, j, LOAD_X]
            fy += mesh.h[a] * LOAD_TO_FORCE[g, j] * mesh.load[a, j, LOAD_Y]
    return fx, fy


@kernel
def kinematics(loads, mesh, lam):
    """Tangent, strains and string direction at every active Gauss point of the current state."""
    for a in range(mesh.active):
        h = mesh.h[a]
        wrapped = mesh.wrapped[a] == 1
        for g in range(P):
            kin, prop = mesh.kin[a, g], mesh.prop[a, g]
            psi = k = 0.0
            for i in range(P + 1):
                psi += SHAPE[g, i] * mesh.psi[a, i]
                k += SLOPE[g, i] * mesh.psi[a, i]
            kin[COS], kin[SIN] = math.cos(prop[THETA0] + psi), math.sin(prop[THETA0] + psi)
            kin[BENDING], kin[KAPPA] = k / h, prop[KAPPA0] + k / h
        if loads.spread:
            for g in range(P):
                kin, load = mesh.kin[a, g], mesh.load[a, g]
                x, y, x1, y1, p = line_load(loads, mesh, a, g, lam, kin[COS], kin[SIN])
                load[LOAD_X], load[LOAD_Y], load[PRESSURE] = x, y, p
                load[LOAD_RATE_X], load[LOAD_RATE_Y] = x1, y1
        for g in range(P):
            kin, prop = mesh.kin[a, g], mesh.prop[a, g]
            c, s = kin[COS], kin[SIN]
            fx, fy = force_at(loads, mesh, a, g)
            N, Q = fx * c + fy * s, fy * c - fx * s
            cA, cS, b, db = prop[STRETCH], prop[SHEAR], prop[BELLY], prop[BELLY_SLOPE]
            v1, v2, u1, u2, size = pointwise(N, Q, kin[KAPPA], cA, cS, b, db, mesh.T, wrapped)
            kin[V1], kin[V2], kin[U1], kin[U2], kin[SIZE] = v1, v2, u1, u2, size
            kin[N_ALL], kin[Q_ALL] = N, Q
            mesh.z[a, g, 0] = c * v1 - s * v2
            mesh.z[a, g, 1] = s * v1 + c * v2
