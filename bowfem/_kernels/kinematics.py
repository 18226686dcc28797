"""Tangent, strains, forces and loads at the Gauss points of a state."""

import math

from bowfem._kernels.basis import LOAD_TO_FORCE, SHAPE, SLOPE, P
from bowfem._kernels.compiled import kernel


@kernel
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


@kernel
def kinematics(loads, mesh, lam):
    """Tangent, strains and string direction at every active Gauss point of the current state."""
    for a in range(mesh.count[0]):
        h = mesh.h[a]
        wrapped = mesh.wrapped[a] == 1
        kin, prop = mesh.kin[a], mesh.prop[a]
        for g in range(P):
            psi = k = 0.0
            for i in range(P + 1):
                psi += SHAPE[g, i] * mesh.psi[a, i]
                k += SLOPE[g, i] * mesh.psi[a, i]
            q = kin[g]
            q[0], q[1] = math.cos(prop[g, 0] + psi), math.sin(prop[g, 0] + psi)
            q[2], q[3] = k / h, prop[g, 1] + k / h
        if loads.spread[0]:
            for g in range(P):
                q = mesh.load[a, g]
                q[0], q[1], q[2], q[3], q[4] = line_load(
                    loads, mesh, a, g, lam, kin[g, 0], kin[g, 1]
                )
        for g in range(P):
            q = kin[g]
            fx, fy = mesh.G[a, 0], mesh.G[a, 1]
            if loads.spread[0]:
                for j in range(P):
                    fx += h * LOAD_TO_FORCE[g, j] * mesh.load[a, j, 0]
                    fy += h * LOAD_TO_FORCE[g, j] * mesh.load[a, j, 1]
            N, Q = fx * q[0] + fy * q[1], fy * q[0] - fx * q[1]
            v1, v2, u1, u2, size = pointwise(
                N, Q, q[3], prop[g, 2], prop[g, 3], prop[g, 4], prop[g, 5], mesh.T[0], wrapped
            )
            q[4], q[5], q[6], q[7], q[8], q[9], q[10] = v1, v2, u1, u2, size, N, Q
            mesh.z[a, g, 0] = q[0] * v1 - q[1] * v2
            mesh.z[a, g, 1] = q[1] * v1 + q[0] * v2
