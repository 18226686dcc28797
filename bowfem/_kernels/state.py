"""The state of a mesh: copied, kept on the uncut mesh, read off."""

import math

import numpy as np

from bowfem._kernels.basis import GAUSS_W, GAUSS_X, LOAD_TO_FORCE, NODE_COEF, NODE_X, P
from bowfem._kernels.compiled import kernel
from bowfem._kernels.kinematics import kinematics, pointwise
from bowfem._kernels.mesh import (
    MAX_CONTACTS,
    build,
    law,
    law_at,
    locate,
    poly,
    poly_slope,
)


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

    ``point`` (ne, P, 6): k, M, N, Q, wrapped, angle of the string where wrapped. ``scalar``:
    tension, energy of bending, of stretch and shear, of the string, straight end of the string
    (x, y), share of the law's reach used. ``contact`` (MAX_CONTACTS, 2): outer and inner end,
    element + coordinate.
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
            _, _, u1, u2, _ = pointwise(
                N,
                Q,
                model.kappa0[e, g] + k,
                model.stretch[e, g],
                model.shear[e, g],
                model.belly[e, g],
                model.belly_slope[e, g],
                T,
                wrapped,
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
