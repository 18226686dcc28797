"""Residual and tangent of the whole rod and string, as a banded matrix with a border.

Unknowns: (x, y, psi) of each active node and the force between, 5 a node in band order. Border: the
string tension, one for each bridge of string between two pieces of contact. ``rhs`` columns: the
residual, the border columns, the derivative along the path.
"""

import math

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import kernel, part, piece
from bowfem._kernels.element import (
    IN_BAND,
    PATH,
    PSI0,
    RES,
    ROW_X,
    ROW_Y,
    TEN,
    condense,
    element,
)
from bowfem._kernels.records import (
    BORDER,
    BORDER_PATH,
    BORDER_RESIDUAL,
    DIAG,
    FX,
    KL,
    LENGTH,
    LOAD,
    MAX_BORDER,
    NODE,
    PSI,
    RESIDUAL,
    WIDTH,
    X,
    Y,
    clear,
)
from bowfem._kernels.strands import add, add_strands


@kernel
def supports(loads, mesh, work, c, dc):
    """Nodal loads, springs and prescribed displacements, on the base nodes."""
    lam, dlam = c[LOAD], dc[LOAD]
    rhs, path = work.rhs, work.path
    for b in range(mesh.first.shape[0]):
        a = mesh.first[b]
        n = NODE * a
        psi = mesh.psi[a, 0] if a < mesh.active else mesh.psi[a - 1, P]
        co, si = math.cos(psi), math.sin(psi)
        f = loads.follower
        f0, f1 = f[0, b, 0] + lam * f[1, b, 0], f[0, b, 1] + lam * f[1, b, 1]
        rhs[n + X, RESIDUAL] -= co * f0 - si * f1
        rhs[n + Y, RESIDUAL] -= si * f0 + co * f1
        path[n + X] -= dlam * (co * f[1, b, 0] - si * f[1, b, 1])
        path[n + Y] -= dlam * (si * f[1, b, 0] + co * f[1, b, 1])
        add(work.band, n + X, n + PSI, si * f0 + co * f1)
        add(work.band, n + Y, n + PSI, -co * f0 + si * f1)
        for i in range(3):
            rhs[n + i, RESIDUAL] -= loads.dead[0, b, i] + lam * loads.dead[1, b, i]
            path[n + i] -= dlam * loads.dead[1, b, i]
            u = psi if i == PSI else mesh.r[a, i] - work.reference[b, i]
            rhs[n + i, RESIDUAL] += loads.spring[b, i] * u
            add(work.band, n + i, n + i, loads.spring[b, i])
            work.react[b, i] = rhs[n + i, RESIDUAL]
            if loads.fixed[b, i]:
                for j in range(max(0, n + i - KL), min(NODE * mesh.active + 3, n + i + KL + 1)):
                    work.band[j, DIAG + n + i - j] = 0.0
                work.band[n + i, DIAG] = 1.0
                for j in range(rhs.shape[1]):
                    rhs[n + i, j] = 0.0
                rhs[n + i, RESIDUAL] = u - loads.value[0, b, i] - lam * loads.value[1, b, i]
                path[n + i] = -dlam * loads.value[1, b, i]


@part
def add_element(loads, mesh, work, a):
    """Add one condensed element, and what its force does to the nodes on either side."""
    A, band, rhs = work.local, work.band, work.rhs
    i0 = NODE * a
    for r in range(6 if loads.spread else 4):
        p = PSI0 + r if r < 4 else ROW_X + r - 4
        row = i0 + IN_BAND[r] if r < 4 else i0 + r - 4
        for q in range(4):
            add(band, row, i0 + IN_BAND[q], A[p, PSI0 + q])
        rhs[row, BORDER] += A[p, TEN]
        work.path[row] += A[p, PATH]
        rhs[row, RESIDUAL] += A[p, RES]
    if mesh.wrapped[a]:
        for q in range(4):
            work.row[0, i0 + IN_BAND[q]] += A[TEN, PSI0 + q]
        work.border[0, 0] += A[TEN, TEN]
        work.border[0, BORDER_PATH] += A[TEN, PATH]
        work.border[0, BORDER_RESIDUAL] += A[TEN, RES]
    for i in range(2):
        near, force, far = i0 + i, i0 + FX + i, i0 + NODE + i
        rhs[force, RESIDUAL] += mesh.r[a + 1, i] - mesh.r[a, i]
        rhs[near, RESIDUAL] -= mesh.G[a, i]
        rhs[far, RESIDUAL] += mesh.G[a, i]
        add(band, force, far, 1.0)
        add(band, force, near, -1.0)
        add(band, far, force, 1.0)
        add(band, near, force, -1.0)


@piece
def assemble(model, loads, string, mesh, work, c, dc):
    """Assemble everything at control ``c``; return the number of border unknowns."""
    n = NODE * mesh.active + 3
    clear(work.band, n, WIDTH)
    clear(work.rhs, n, 1 + MAX_BORDER)
    clear(work.row, MAX_BORDER, n)
    clear(work.border, MAX_BORDER, MAX_BORDER + 2)
    for i in range(n):
        work.path[i] = 0.0
    rows = ROW_Y + 1 if loads.spread else TEN + 1  # without such loads, nothing acts on position
    for a in range(mesh.active):
        element(model, mesh, work, loads, a, dc[LOAD])
        condense(work.local, work.inner[a], rows)
        add_element(loads, mesh, work, a)
    m = 0
    if string.present:
        m = add_strands(model, string, mesh, work, c, dc)
        stretch = 1.0 + string.compliance * mesh.T
        work.border[0, 0] -= c[LENGTH] * string.compliance
        work.border[0, BORDER_RESIDUAL] -= c[LENGTH] * stretch
        work.border[0, BORDER_PATH] -= dc[LENGTH] * stretch
    supports(loads, mesh, work, c, dc)
    return m
