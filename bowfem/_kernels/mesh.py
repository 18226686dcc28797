"""The active mesh: base elements, cut where contact ends; the state taken from one to another."""

import numpy as np

from bowfem._kernels.basis import CUMUL_COEF, GAUSS_COEF, GAUSS_X, NODE_COEF, NODE_X, P
from bowfem._kernels.compiled import kernel
from bowfem._kernels.records import (
    BELLY,
    BELLY_SLOPE,
    ELEMENT,
    INNER,
    KAPPA0,
    MAX_CUTS,
    OUTER,
    SHEAR,
    STRETCH,
    THETA0,
    XI,
)


@kernel
def poly(coef, j, x):
    """Evaluate row ``j`` of a coefficient table."""
    n = coef.shape[1]
    y = coef[j, n - 1]
    for k in range(n - 2, -1, -1):
        y = y * x + coef[j, k]
    return y


@kernel
def poly_slope(coef, j, x):
    """Evaluate the derivative of row ``j`` of a coefficient table."""
    n = coef.shape[1]
    y = (n - 1) * coef[j, n - 1]
    for k in range(n - 2, 0, -1):
        y = y * x + k * coef[j, k]
    return y


@kernel
def place(mesh, i, side):
    """Return where a piece of contact ends, in base elements from the root."""
    return mesh.contact[i, side, ELEMENT] + mesh.contact[i, side, XI]


@kernel
def find_cuts(mesh, cuts):
    """List the (element, coordinate) at which contact ends inside an element, in order."""
    m = 0
    for i in range(mesh.pieces + mesh.lost):
        for side in range(2):
            e, x = mesh.contact[i, side, ELEMENT], mesh.contact[i, side, XI]
            known = not 0.0 < x < 1.0
            for q in range(m):
                known = known or (cuts[q, ELEMENT] == e and cuts[q, XI] == x)
            if known:
                continue
            q = m
            while q > 0 and cuts[q - 1, ELEMENT] + cuts[q - 1, XI] > e + x:
                cuts[q, ELEMENT], cuts[q, XI] = cuts[q - 1, ELEMENT], cuts[q - 1, XI]
                q -= 1
            cuts[q, ELEMENT], cuts[q, XI] = e, x
            m += 1
    return m


@kernel
def lay_element(model, mesh, a, e, x0, x1):
    """Lay active element ``a`` over a span of base element ``e``; interpolate its properties."""
    mesh.base[a] = e
    mesh.xi[a, 0], mesh.xi[a, 1] = x0, x1
    mesh.h[a] = (x1 - x0) * model.h[e]
    mesh.wrapped[a] = 0
    whole = x0 == 0.0 and x1 == 1.0
    for g in range(P):
        prop = mesh.prop[a, g]
        for j in range(6):
            prop[j] = 0.0
        for j in range(g if whole else 0, g + 1 if whole else P):
            w = 1.0 if whole else poly(GAUSS_COEF, j, x0 + (x1 - x0) * GAUSS_X[g])
            mesh.weight[a, g, j] = w
            prop[THETA0] += w * model.theta0[e, j]
            prop[KAPPA0] += w * model.kappa0[e, j]
            prop[STRETCH] += w * model.stretch[e, j]
            prop[SHEAR] += w * model.shear[e, j]
            prop[BELLY] += w * model.belly[e, j]
            prop[BELLY_SLOPE] += w * model.belly_slope[e, j]


@kernel
def node_at(mesh, e, x):
    """Active node at a place where base element ``e`` is cut, or ends."""
    if x == 1.0:
        return mesh.first[e + 1]
    n = mesh.first[e]
    while x > 0.0 and mesh.xi[n, 0] < x:
        n += 1
    return n


@kernel
def build(model, mesh):
    """Lay the active mesh: base elements, cut where a piece of contact ends inside one."""
    cuts = np.empty((MAX_CUTS, 2))
    m = find_cuts(mesh, cuts)
    ne = model.h.shape[0]
    a = q = 0
    for e in range(ne):
        mesh.first[e] = a
        x0 = 0.0
        while q < m and cuts[q, ELEMENT] == e:
            lay_element(model, mesh, a, e, x0, cuts[q, XI])
            x0 = cuts[q, XI]
            a += 1
            q += 1
        lay_element(model, mesh, a, e, x0, 1.0)
        a += 1
    mesh.first[ne] = a
    mesh.active = a
    for i in range(mesh.pieces):
        for side in range(2):
            e = int(mesh.contact[i, side, ELEMENT])
            mesh.node[i, side] = node_at(mesh, e, mesh.contact[i, side, XI])
        for n in range(mesh.node[i, INNER], mesh.node[i, OUTER]):
            mesh.wrapped[n] = 1


@kernel
def locate(mesh, e, x):
    """Active element and local coordinate of base coordinate ``x`` in base element ``e``."""
    a = mesh.first[e]
    while mesh.xi[a, 1] < x and mesh.xi[a, 1] < 1.0:
        a += 1
    return a, (x - mesh.xi[a, 0]) / (mesh.xi[a, 1] - mesh.xi[a, 0])


@kernel
def copy(to, mesh):
    """Copy the state of a mesh, and what locates it."""
    to.active, to.pieces, to.lost, to.T = mesh.active, mesh.pieces, mesh.lost, mesh.T
    for e in range(mesh.first.shape[0]):
        to.first[e] = mesh.first[e]
    for a in range(mesh.active + 1):
        to.r[a, 0], to.r[a, 1] = mesh.r[a, 0], mesh.r[a, 1]
    for a in range(mesh.active):
        to.base[a], to.h[a] = mesh.base[a], mesh.h[a]
        for i in range(2):
            to.xi[a, i], to.G[a, i] = mesh.xi[a, i], mesh.G[a, i]
        for i in range(P + 1):
            to.psi[a, i] = mesh.psi[a, i]
        for g in range(P):
            to.z[a, g, 0], to.z[a, g, 1] = mesh.z[a, g, 0], mesh.z[a, g, 1]


@kernel
def uncut(model, flat, mesh):
    """Copy the state on to the uncut base mesh, for the contact search.

    The search must not see the cuts: curvature jumps there by the discretisation's error, and a
    lift-off found on the cut mesh would sit on a jump of its own making.
    """
    ne = model.h.shape[0]
    flat.active = ne
    flat.T = mesh.T
    for e in range(ne):
        flat.first[e], flat.base[e], flat.h[e] = e, e, model.h[e]
        flat.xi[e, 0], flat.xi[e, 1] = 0.0, 1.0
        a = mesh.first[e]
        flat.r[e, 0], flat.r[e, 1] = mesh.r[a, 0], mesh.r[a, 1]
        if mesh.xi[a, 1] == 1.0:
            for i in range(P + 1):
                flat.psi[e, i] = mesh.psi[a, i]
            for g in range(P):
                flat.z[e, g, 0], flat.z[e, g, 1] = mesh.z[a, g, 0], mesh.z[a, g, 1]
            continue
        for i in range(P + 1):
            a, t = locate(mesh, e, NODE_X[i])
            flat.psi[e, i] = 0.0
            for j in range(P + 1):
                flat.psi[e, i] += poly(NODE_COEF, j, t) * mesh.psi[a, j]
        for g in range(P):
            a, t = locate(mesh, e, GAUSS_X[g])
            flat.z[e, g, 0] = flat.z[e, g, 1] = 0.0
            for j in range(P):
                w = poly(GAUSS_COEF, j, t)
                flat.z[e, g, 0] += w * mesh.z[a, j, 0]
                flat.z[e, g, 1] += w * mesh.z[a, j, 1]
    flat.first[ne] = ne
    na = mesh.active
    flat.r[ne, 0], flat.r[ne, 1] = mesh.r[na, 0], mesh.r[na, 1]


@kernel
def transfer(mesh, old):
    """Take the state of ``old`` over to the freshly laid ``mesh``."""
    na = mesh.active
    for a in range(na):
        e = mesh.base[a]
        x0, x1 = mesh.xi[a, 0], mesh.xi[a, 1]
        for i in range(P + 1):
            b, t = locate(old, e, x0 + (x1 - x0) * NODE_X[i])
            y = 0.0
            for j in range(P + 1):
                y += poly(NODE_COEF, j, t) * old.psi[b, j]
            mesh.psi[a, i] = y
        b, t = locate(old, e, x0)
        x, y = old.r[b, 0], old.r[b, 1]
        for j in range(P):
            B = old.h[b] * poly(CUMUL_COEF, j, t)
            x += B * old.z[b, j, 0]
            y += B * old.z[b, j, 1]
        mesh.r[a, 0], mesh.r[a, 1] = x, y
        if x0 == 0.0:
            mesh.r[a, 0], mesh.r[a, 1] = old.r[old.first[e], 0], old.r[old.first[e], 1]
        b, t = locate(old, e, 0.5 * (x0 + x1))
        mesh.G[a, 0], mesh.G[a, 1] = old.G[b, 0], old.G[b, 1]
    for a in range(na - 1):
        mesh.psi[a, P] = mesh.psi[a + 1, 0]
    mesh.r[na, 0], mesh.r[na, 1] = old.r[old.active, 0], old.r[old.active, 1]
    mesh.T = old.T
