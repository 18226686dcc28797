"""Banded elimination, and the border on top of it."""

import numpy as np

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import kernel, part, piece
from bowfem._kernels.records import (
    BORDER,
    BORDER_PATH,
    BORDER_RESIDUAL,
    DIAG,
    KL,
    NODE,
    PSI,
    RATE,
    RESIDUAL,
    STEP,
)


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


@part
def border_rows(work, n, m, control, a):
    """Eliminate the band from the border's ``m`` rows; ``a`` takes what is left.

    Its columns: the border unknowns, with ``control`` the path parameter, then the right-hand sides
    of the step and of the rate.
    """
    rhs, border = work.rhs, work.border
    size = m + 1 if control else m
    for b in range(m):
        row = work.row[b]
        for j in range(m):
            a[b, j] = border[b, j]
        if control:
            a[b, m] = border[b, BORDER_PATH]
        a[b, size + STEP] = -border[b, BORDER_RESIDUAL]
        a[b, size + RATE] = 0.0 if control else -border[b, BORDER_PATH]
        for i in range(n):
            f = row[i]
            if f != 0.0:
                for j in range(m):
                    a[b, j] -= f * rhs[i, BORDER + j]
                a[b, m if control else size + RATE] += (-f if control else f) * rhs[i, BORDER + m]
                a[b, size + STEP] += f * rhs[i, RESIDUAL]


@part
def control_row(mesh, work, m, ctrl, target, mu, a):
    """Put the row ``ctrl . (nodes, path parameter) = target`` below the border's."""
    rhs = work.rhs
    size = m + 1
    weight = ctrl[ctrl.shape[0] - 1, 0]
    a[m, m] = weight
    a[m, size + RATE] = 1.0
    a[m, size + STEP] = target - weight * mu
    for b in range(mesh.first.shape[0]):
        k = mesh.first[b]
        for i in range(3):
            f = ctrl[b, i]
            if f != 0.0:
                u = mesh.r[k, i] if i < PSI else turn_at(mesh, k)
                a[m, size + STEP] += f * (rhs[NODE * k + i, RESIDUAL] - u)
                for j in range(m + 1):
                    a[m, j] -= f * rhs[NODE * k + i, BORDER + j]


@part
def turn_at(mesh, k):
    """Rotation of active node ``k``."""
    return mesh.psi[k, 0] if k < mesh.active else mesh.psi[k - 1, P]


@piece
def correct(mesh, work, m, control, ctrl, target, mu):
    """Factor and solve the bordered system; leave the Newton step and the rate in ``rhs``.

    The rate is by the path parameter, or with ``control`` by the control's target; ``mu``: the
    parameter now. Return the determinant's sign, 0 if singular; the tension's step and rate; the
    parameter's step and rate.
    """
    n = NODE * mesh.active + 3
    rhs = work.rhs
    for i in range(n):
        rhs[i, BORDER + m] = work.path[i]
    sign = factor(work.band, n, work.pivot)
    if sign == 0:
        return 0, 0.0, 0.0, 0.0, 0.0
    back(work.band, n, work.pivot, rhs, m + 2)
    size = m + 1 if control else m
    a = np.zeros((size, size + 2))
    border_rows(work, n, m, control, a)
    if control:
        control_row(mesh, work, m, ctrl, target, mu, a)
    if size:
        sign *= dense(a, size, 2)
    for i in range(n):
        step, rate = -rhs[i, RESIDUAL], 0.0 if control else -rhs[i, BORDER + m]
        for j in range(size):
            step -= rhs[i, BORDER + j] * a[j, size + STEP]
            rate -= rhs[i, BORDER + j] * a[j, size + RATE]
        rhs[i, STEP], rhs[i, RATE] = step, rate
    T_step = T_rate = mu_step = 0.0
    mu_rate = 1.0
    if m:
        T_step, T_rate = a[0, size + STEP], a[0, size + RATE]
    if control:
        mu_step, mu_rate = a[m, size + STEP], a[m, size + RATE]
    return sign, T_step, T_rate, mu_step, mu_rate
