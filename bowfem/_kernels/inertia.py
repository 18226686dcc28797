"""Inertia in the equations: mass at the stations and on the string's far end; small vibrations.

A station's position is a cubic through position and direction of its element's ends (Hermite), so
that mass enters the equations of nodes alone.
"""

import math

import numpy as np

from bowfem._kernels.assembly import assemble
from bowfem._kernels.basis import GAUSS_COEF, GAUSS_X, P
from bowfem._kernels.compiled import entry, kernel
from bowfem._kernels.mesh import locate, poly
from bowfem._kernels.newton import renew
from bowfem._kernels.records import (
    BORDER,
    DIAG,
    INNER,
    KL,
    NODE,
    POINT_X,
    POINT_Y,
    PSI,
    RESIDUAL,
    X,
    Y,
    new_mesh,
    new_work,
    share_loads,
    share_model,
    share_string,
)
from bowfem._kernels.state import load_state
from bowfem._kernels.strands import add


@kernel
def hermite(model, mesh, e, g, put_at):
    """Read a station off the ends of its active element; return that element.

    ``put_at`` (8, 2): place, then its derivative by x, y, psi of either end, then directions times
    their weights (second derivative by psi, less the sign).
    """
    a, t = locate(mesh, e, GAUSS_X[g])
    h = mesh.h[a]
    w0, w1 = (1.0 + 2.0 * t) * (1.0 - t) ** 2, t * t * (3.0 - 2.0 * t)
    d0, d1 = h * t * (1.0 - t) ** 2, h * t * t * (t - 1.0)
    th0 = th1 = 0.0
    for j in range(P):
        th0 += poly(GAUSS_COEF, j, mesh.xi[a, 0]) * model.theta0[e, j]
        th1 += poly(GAUSS_COEF, j, mesh.xi[a, 1]) * model.theta0[e, j]
    th0 += mesh.psi[a, 0]
    th1 += mesh.psi[a, P]
    c0, s0, c1, s1 = math.cos(th0), math.sin(th0), math.cos(th1), math.sin(th1)
    put_at[0, 0] = w0 * mesh.r[a, 0] + w1 * mesh.r[a + 1, 0] + d0 * c0 + d1 * c1
    put_at[0, 1] = w0 * mesh.r[a, 1] + w1 * mesh.r[a + 1, 1] + d0 * s0 + d1 * s1
    put_at[1, 0], put_at[1, 1] = w0, w1
    put_at[2, 0], put_at[2, 1] = -d0 * s0, d0 * c0
    put_at[3, 0], put_at[3, 1] = -d1 * s1, d1 * c1
    put_at[4, 0], put_at[4, 1] = d0 * c0, d0 * s0
    put_at[5, 0], put_at[5, 1] = d1 * c1, d1 * s1
    return a


@kernel
def add_mass(model, mesh, work, mass, ends, base, stiff, at):
    """Add the inertia of stations and ends: ``stiff (place - base)`` is an acceleration."""
    ne = model.h.shape[0]
    band, rhs = work.band, work.rhs
    move = np.zeros((6, 2))
    index = np.zeros(6, np.int64)
    for e in range(ne):
        for g in range(P):
            m = mass[e, g]
            if m == 0.0:
                continue
            a = hermite(model, mesh, e, g, at)
            ax = stiff * (at[0, 0] - base[P * e + g, 0])
            ay = stiff * (at[0, 1] - base[P * e + g, 1])
            for side in range(2):
                n = NODE * (a + side)
                index[3 * side], index[3 * side + 1], index[3 * side + 2] = n + X, n + Y, n + PSI
                move[3 * side, 0], move[3 * side + 1, 1] = at[1, side], at[1, side]
                move[3 * side + 2, 0], move[3 * side + 2, 1] = at[2 + side, 0], at[2 + side, 1]
                turned = at[4 + side, 0] * ax + at[4 + side, 1] * ay
                add(band, n + PSI, n + PSI, -m * turned)
            for i in range(6):
                rhs[index[i], RESIDUAL] += m * (move[i, 0] * ax + move[i, 1] * ay)
                for j in range(6):
                    both = move[i, 0] * move[j, 0] + move[i, 1] * move[j, 1]
                    add(band, index[i], index[j], stiff * m * both)
    for side in range(2):
        b = mesh.active if side else 0
        n = NODE * b
        for i in range(2):
            rhs[n + i, RESIDUAL] += ends[side] * stiff * (mesh.r[b, i] - base[P * ne + side, i])
            add(band, n + i, n + i, stiff * ends[side])


@kernel
def hold(loads, mesh, work, kept, back_again):
    """Keep the rows of what is held, or put them back; what they lack is the support's force."""
    k = 0
    for b in range(mesh.first.shape[0]):
        for i in range(3):
            if not loads.fixed[b, i]:
                continue
            row = NODE * mesh.first[b] + i
            if back_again:
                for j in range(max(0, row - KL), min(NODE * mesh.active + 3, row + KL + 1)):
                    work.band[j, DIAG + row - j] = 0.0
                work.band[row, DIAG] = 1.0
                work.react[b, i] += work.rhs[row, RESIDUAL] - kept[k]
                for j in range(1, work.rhs.shape[1]):
                    work.rhs[row, j] = 0.0
                work.rhs[row, RESIDUAL] = kept[k]
            else:
                kept[k] = work.rhs[row, RESIDUAL]
            k += 1


@kernel
def places(model, mesh, at, found):
    """Read where each mass is: stations, root, tip."""
    ne = model.h.shape[0]
    for e in range(ne):
        for g in range(P):
            hermite(model, mesh, e, g, at)
            found[P * e + g, 0], found[P * e + g, 1] = at[0, 0], at[0, 1]
    for i in range(2):
        found[P * ne, i], found[P * ne + 1, i] = mesh.r[0, i], mesh.r[mesh.active, i]


@kernel
def drawn(loads, mesh, work, c, ways, along, across, pull):
    """Find what moving the string's far end does; return the node that feels it.

    ``ways`` (nq, 2): directions it can move in. ``along`` (nq,) and ``across`` (nq, nq): first and
    second derivatives of the straight piece's length by how far; ``pull`` (nq, 3): those by that
    and by the node's (x, y, psi).
    """
    o = mesh.node[mesh.pieces - 1, INNER] if mesh.pieces else mesh.active
    dx, dy = work.leaves_x - c[POINT_X], work.leaves_y - c[POINT_Y]
    size = math.sqrt(dx * dx + dy * dy)
    ux, uy = dx / size, dy / size
    for j in range(ways.shape[0]):
        turned = (uy * ways[j, 0] - ux * ways[j, 1]) / size
        along[j] = -(ux * ways[j, 0] + uy * ways[j, 1])
        for i in range(j + 1):
            other = uy * ways[i, 0] - ux * ways[i, 1]
            across[j, i] = across[i, j] = turned * other
        for p in range(3):
            pull[j, p] = turned * work.across[p]
    for b in range(mesh.first.shape[0]):
        if mesh.first[b] == o:
            for p in range(3):
                if loads.fixed[b, p]:
                    for j in range(ways.shape[0]):
                        pull[j, p] = 0.0
    return o


@kernel
def fill_end(loads, mesh, work, c, ways, by_end, end):
    """Fill the stiffness between all unknowns and the string's far end, and of that alone."""
    nq, n = ways.shape[0], NODE * mesh.active + 3
    along, across, pull = np.zeros(nq), np.zeros((nq, nq)), np.zeros((nq, 3))
    o = drawn(loads, mesh, work, c, ways, along, across, pull)
    for j in range(nq):
        by_end[n, j] = along[j]
        for p in range(3):
            by_end[NODE * o + p, j] = mesh.T * pull[j, p]
        for i in range(nq):
            end[j, i] = mesh.T * across[j, i]


@entry
def linearised(model_, loads_, string_, state, c, ways, mass, ends, K, M, by_end, end):
    """Fill stiffness and mass about a state, dense; return their size.

    Unknowns: those of the band, then of the border. ``by_end`` (size, nq) and ``end`` (nq, nq): the
    stiffness between them and the string's far end, and of that alone.
    """
    model, loads, string = share_model(model_), share_loads(loads_), share_string(string_)
    ne = model.h.shape[0]
    mesh, old, flat, work = new_mesh(ne), new_mesh(ne), new_mesh(ne), new_work(model.reference)
    base, at, kept = np.zeros((P * ne + 2, 2)), np.zeros((6, 2)), np.zeros(3 * ne + 3)
    load_state(model, mesh, state)
    for it in range(2):  # the second time contact is at rest
        renew(model, loads, string, mesh, old, flat, work, c, it)
    m = assemble(model, loads, string, mesh, work, c, np.zeros(4))
    n = NODE * mesh.active + 3
    for i in range(n):
        for j in range(max(0, i - KL), min(n, i + KL + 1)):
            K[i, j] = work.band[j, DIAG + i - j]
            work.band[j, DIAG + i - j] = 0.0
        for b in range(m):
            K[i, n + b] = work.rhs[i, BORDER + b]
            K[n + b, i] = work.row[b, i]
    for b in range(m):
        for j in range(m):
            K[n + b, n + j] = work.border[b, j]
    if m:
        fill_end(loads, mesh, work, c, ways, by_end, end)
    places(model, mesh, at, base)
    hold(loads, mesh, work, kept, False)
    add_mass(model, mesh, work, mass, ends, base, 1.0, at)
    hold(loads, mesh, work, kept, True)
    for i in range(n):
        for j in range(max(0, i - KL), min(n, i + KL + 1)):
            M[i, j] = work.band[j, DIAG + i - j]
    for b in range(mesh.first.shape[0]):
        for i in range(3):
            if loads.fixed[b, i]:
                M[NODE * mesh.first[b] + i, NODE * mesh.first[b] + i] = 0.0
    return n + m
