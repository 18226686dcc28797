"""Banded elimination, and the border on top of it."""

import numpy as np

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import kernel
from bowfem._kernels.mesh import DIAG, KL, MAX_BORDER


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
                    u = (
                        mesh.r[k, i]
                        if i < 2
                        else (mesh.psi[k, 0] if k < na else mesh.psi[k - 1, P])
                    )
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
