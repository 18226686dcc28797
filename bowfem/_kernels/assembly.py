"""Residual and tangent of the whole rod and string, as a banded matrix with a border.

Unknowns: (x, y, psi) of each active node and the force between, 5 a node in band order. Border: the
string tension, one for each bridge of string between two pieces of contact. ``rhs`` columns: the
residual, the border columns, the derivative along the path.
"""

import math

from bowfem._kernels.basis import GAUSS_W, LOAD_TO_FORCE, SHAPE, SLOPE, P
from bowfem._kernels.compiled import kernel
from bowfem._kernels.contact import frame
from bowfem._kernels.mesh import DIAG, KL, MAX_BORDER, clear, law_at

INNER, PSI0, GX, GY, PSI1, TEN, PATH, RES = 0, 3, 4, 5, 6, 7, 8, 9


@kernel
def add(band, i, j, value):
    """Add to entry (i, j) of the banded matrix, stored by columns."""
    band[j, DIAG + i - j] += value


@kernel
def element(model, mesh, work, loads, a, dlam):
    """Fill the local matrix of one active element.

    Rows: inner rotations, psi0, Gx, Gy, psi1, tension, x0, y0. Columns: the first seven of these,
    tension, path, residual.
    """
    A = work.local
    clear(A)
    h = mesh.h[a]
    wrapped = mesh.wrapped[a] == 1
    T = mesh.T[0] if wrapped else 0.0
    pressed = loads.spread[0]
    for g in range(P):
        kin, prop = mesh.kin[a, g], mesh.prop[a, g]
        c, s, k = kin[0], kin[1], kin[2]
        v1, v2, u1, u2, size, N, Q = kin[4], kin[5], kin[6], kin[7], kin[8], kin[9], kin[10]
        cA, cS, b = prop[2], prop[3], prop[4]
        M, C, _, _ = law_at(model, mesh, a, g, k)
        wh = h * GAUSS_W[g]
        # stretch is condensed point by point: dv = S d(force - T u)
        s11, s12, s22 = cA, 0.0, cS
        pk1 = pk2 = hkk = 0.0
        if wrapped:
            q11, q12, q22 = T * u2 * u2 / size, -T * u1 * u2 / size, T * u1 * u1 / size
            m11, m12, m21, m22 = 1.0 + cA * q11, cA * q12, cS * q12, 1.0 + cS * q22
            det = m11 * m22 - m12 * m21
            s11, s12, s22 = m22 * cA / det, -m12 * cS / det, m11 * cS / det
            pk1, pk2 = b * q11, b * q12
            hkk = -q11 * b * b
        # H and its derivatives by theta (t), kappa (k), Gx (x), Gy (y), tension (T)
        e1, e2 = s11 * Q - s12 * N, s12 * Q - s22 * N
        ht = v1 * Q - v2 * N
        hk = T * b * u1
        htt = -(N * v1 + Q * v2) + Q * e1 - N * e2
        f1, f2 = s11 * pk1 + s12 * pk2, s12 * pk1 + s22 * pk2
        htk = Q * f1 - N * f2
        hkk += pk1 * f1 + pk2 * f2
        x1, x2 = s11 * c - s12 * s, s12 * c - s22 * s
        y1, y2 = s11 * s + s12 * c, s12 * s + s22 * c
        htx = -s * v1 - c * v2 + Q * x1 - N * x2
        hty = c * v1 - s * v2 + Q * y1 - N * y2
        hkx, hky = pk1 * x1 + pk2 * x2, pk1 * y1 + pk2 * y2
        hxx, hxy, hyy = c * x1 - s * x2, c * y1 - s * y2, s * y1 + c * y2
        htT = hkT = hxT = hyT = hTT = 0.0
        if wrapped:
            t1, t2 = -(s11 * u1 + s12 * u2), -(s12 * u1 + s22 * u2)
            htT = Q * t1 - N * t2
            hkT = b * u1 + pk1 * t1 + pk2 * t2
            hxT, hyT = c * t1 - s * t2, s * t1 + c * t2
            hTT = -(u1 * t1 + u2 * t2)
        for i in range(P + 1):
            p = i - 1 if 0 < i < P else (PSI0 if i == 0 else PSI1)
            n, d = wh * SHAPE[g, i], wh * SLOPE[g, i] / h
            A[p, RES] += d * (M - hk) - n * ht
            A[p, GX] -= n * htx + d * hkx
            A[p, GY] -= n * hty + d * hky
            A[p, TEN] -= n * htT + d * hkT
            kk, kt, tk, tt = d * (C - hkk), d * htk, n * htk, n * htt
            for j in range(P + 1):
                q = j - 1 if 0 < j < P else (PSI0 if j == 0 else PSI1)
                A[p, q] += (kk - tk) * SLOPE[g, j] / h - (kt + tt) * SHAPE[g, j]
        A[GX, GX] -= wh * hxx
        A[GX, GY] -= wh * hxy
        A[GY, GX] -= wh * hxy
        A[GY, GY] -= wh * hyy
        A[GX, TEN] -= wh * hxT
        A[GY, TEN] -= wh * hyT
        A[TEN, TEN] -= wh * hTT
        A[GX, RES] -= wh * mesh.z[a, g, 0]
        A[GY, RES] -= wh * mesh.z[a, g, 1]
        A[TEN, RES] += wh * size
        if pressed:
            q = mesh.load[a, g]
            A[8, RES] -= wh * q[0]
            A[9, RES] -= wh * q[1]
            A[8, PATH] -= wh * q[2] * dlam
            A[9, PATH] -= wh * q[3] * dlam
            for j in range(P + 1):  # a pressure turns with the rod
                col = j - 1 if 0 < j < P else (PSI0 if j == 0 else PSI1)
                A[8, col] += wh * q[4] * c * SHAPE[g, j]
                A[9, col] += wh * q[4] * s * SHAPE[g, j]
            for m in range(P):  # load at m felt as force at g
                load, km = mesh.load[a, m], mesh.kin[a, m]
                to = h * LOAD_TO_FORCE[g, m]
                for col in range(PATH + 1):
                    if col == PATH:
                        dx, dy = to * load[2] * dlam, to * load[3] * dlam
                    elif col in (GX, GY, TEN):
                        continue
                    else:
                        j = col + 1 if col < 3 else (0 if col == PSI0 else P)
                        dx, dy = (
                            -to * load[4] * km[0] * SHAPE[m, j],
                            -to * load[4] * km[1] * SHAPE[m, j],
                        )
                    for i in range(P + 1):
                        p = i - 1 if 0 < i < P else (PSI0 if i == 0 else PSI1)
                        n, d = wh * SHAPE[g, i], wh * SLOPE[g, i] / h
                        A[p, col] -= n * (htx * dx + hty * dy) + d * (hkx * dx + hky * dy)
                    A[GX, col] -= wh * (hxx * dx + hxy * dy)
                    A[GY, col] -= wh * (hxy * dx + hyy * dy)
                    A[TEN, col] -= wh * (hxT * dx + hyT * dy)
    for j in range(PSI1 + 1):
        if j < GX or j > GY:
            A[GX, j] += A[j, GX]
            A[GY, j] += A[j, GY]
            A[TEN, j] += A[j, TEN]
    A[TEN, GX] += A[GX, TEN]
    A[TEN, GY] += A[GY, TEN]


@kernel
def condense(A, keep):
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
        for i in range(10):
            f = A[i, k]
            if i != k and f != 0.0:
                for j in range(k + 1, 10):
                    A[i, j] -= f * A[k, j]
    for k in range(3):
        for j in range(7):
            keep[k, j] = A[k, 3 + j]


@kernel
def segment(work, bridge, outer, inner, o, i, dx, dy, T, dc):
    """Add one straight piece of string, ``(dx, dy)`` long, to the system.

    ``outer``/``inner``: its ends' places on the rod, derivative and second derivative by psi, at
    nodes ``o`` and ``i``. ``bridge``: the border of a piece between two contacts. It is 0 for the
    last piece, whose inner end is the moving point ``p`` with derivative ``dc[1:3]``.
    """
    size = math.sqrt(dx * dx + dy * dy)
    ux, uy = dx / size, dy / size
    stiff = T / size
    band, rhs, row, path = work.band, work.rhs, work.row, work.path
    cross = work.cross
    for end in range(2 if bridge else 1):
        sign = 1.0 - 2.0 * end
        place = inner if end else outer
        n = 5 * (i if end else o)
        cross[0, 0], cross[0, 1] = sign * ux, sign * uy
        cross[0, 2] = sign * (ux * place[0] + uy * place[1])
        cross[1, 0], cross[1, 1] = -sign * uy, sign * ux
        cross[1, 2] = sign * (ux * place[1] - uy * place[0])
        f = (uy * dc[1] - ux * dc[2]) * sign * stiff
        w = math.sqrt(abs(stiff))
        add(band, n + 2, n + 2, T * sign * (ux * place[2] + uy * place[3]))
        for p in range(3):
            g, h = cross[0, p], cross[1, p]
            rhs[n + p, 0] += T * g
            rhs[n + p, 1] += g
            row[0, n + p] += g
            if bridge:
                row[bridge, n + p] += w * h
                rhs[n + p, 1 + bridge] += w * h
            else:
                path[n + p] += f * h
                for q in range(3):
                    add(band, n + p, n + q, stiff * h * cross[1, q])
    if bridge:
        work.border[bridge, bridge] = -1.0 if stiff >= 0.0 else 1.0
    else:
        work.border[0, MAX_BORDER] -= ux * dc[1] + uy * dc[2]
    work.border[0, MAX_BORDER + 1] += size


@kernel
def place_on(model, mesh, e, x, n, along, across, out):
    """Point at a fixed place in the rod's frame at node ``n``: position; derivatives in ``out``."""
    th, _ = frame(model, mesh, e, x)
    c, s = math.cos(th), math.sin(th)
    ax, ay = along * c - across * s, along * s + across * c
    out[0], out[1], out[2], out[3] = -ay, ax, -ax, -ay
    return mesh.r[n, 0] + ax, mesh.r[n, 1] + ay


@kernel
def string_pieces(model, string, mesh, work, c, dc):
    """Add all straight pieces of string; return the number of border unknowns."""
    last = model.h.shape[0] - 1
    T = mesh.T[0]
    outer, inner = work.place[0], work.place[1]
    o = mesh.count[0]
    px, py = place_on(model, mesh, last, 1.0, o, string.number[0], string.number[1], outer)
    border = 1
    nc = mesh.count[1]
    for k in range(nc + 1):
        if k > 0 or nc == 0 or string.flag[1] == 0:  # else the string starts on the rod
            bridge = border if k < nc else 0
            i, qx, qy = o, c[1], c[2]
            if bridge:
                e, x = int(mesh.contact[k, 0]), mesh.contact[k, 1]
                _, b = frame(model, mesh, e, x)
                i = mesh.node[k, 0]
                qx, qy = place_on(model, mesh, e, x, i, 0.0, b, inner)
                border += 1
            segment(work, bridge, outer, inner, o, i, px - qx, py - qy, T, dc)
        if k < nc:
            o = mesh.node[k, 1]
            e, x = int(mesh.contact[k, 2]), mesh.contact[k, 3]
            _, b = frame(model, mesh, e, x)
            px, py = place_on(model, mesh, e, x, o, 0.0, b, outer)
    work.end[0], work.end[1] = px, py
    return border


@kernel
def supports(loads, mesh, work, c, dc):
    """Nodal loads, springs and prescribed displacements, on the base nodes."""
    lam, dlam = c[0], dc[0]
    rhs, path = work.rhs, work.path
    for b in range(mesh.first.shape[0]):
        a = mesh.first[b]
        n = 5 * a
        psi = mesh.psi[a, 0] if a < mesh.count[0] else mesh.psi[a - 1, P]
        co, si = math.cos(psi), math.sin(psi)
        f = loads.follower
        f0, f1 = f[0, b, 0] + lam * f[1, b, 0], f[0, b, 1] + lam * f[1, b, 1]
        rhs[n, 0] -= co * f0 - si * f1
        rhs[n + 1, 0] -= si * f0 + co * f1
        path[n] -= dlam * (co * f[1, b, 0] - si * f[1, b, 1])
        path[n + 1] -= dlam * (si * f[1, b, 0] + co * f[1, b, 1])
        add(work.band, n, n + 2, si * f0 + co * f1)
        add(work.band, n + 1, n + 2, -co * f0 + si * f1)
        for i in range(3):
            rhs[n + i, 0] -= loads.dead[0, b, i] + lam * loads.dead[1, b, i]
            path[n + i] -= dlam * loads.dead[1, b, i]
            u = psi if i == 2 else mesh.r[a, i] - work.reference[b, i]
            rhs[n + i, 0] += loads.spring[b, i] * u
            add(work.band, n + i, n + i, loads.spring[b, i])
            work.react[b, i] = rhs[n + i, 0]
            if loads.fixed[b, i]:
                for j in range(max(0, n + i - KL), min(5 * mesh.count[0] + 3, n + i + KL + 1)):
                    work.band[j, DIAG + n + i - j] = 0.0
                work.band[n + i, DIAG] = 1.0
                for j in range(rhs.shape[1]):
                    rhs[n + i, j] = 0.0
                rhs[n + i, 0] = u - loads.value[0, b, i] - lam * loads.value[1, b, i]
                path[n + i] = -dlam * loads.value[1, b, i]


@kernel
def assemble(model, loads, string, mesh, work, c, dc):
    """Assemble everything at control ``c``; return the number of border unknowns."""
    na = mesh.count[0]
    n = 5 * na + 3
    clear(work.band)
    clear(work.rhs)
    clear(work.row)
    clear(work.border)
    for i in range(n):
        work.path[i] = 0.0
    A = work.local
    for a in range(na):
        element(model, mesh, work, loads, a, dc[0])
        condense(A, work.inner[a])
        i0 = 5 * a
        for p in range(PSI0, RES + 1):
            if p == TEN:
                continue
            row = i0 + p - 1 if p < PSI1 else (i0 + 7 if p == PSI1 else i0 + p - 8)
            if p > TEN and not loads.spread[0]:
                break
            for q in range(PSI0, PSI1 + 1):
                add(work.band, row, i0 + q - 1 if q < PSI1 else i0 + 7, A[p, q])
            work.rhs[row, 1] += A[p, TEN]
            work.path[row] += A[p, PATH]
            work.rhs[row, 0] += A[p, RES]
        if mesh.wrapped[a]:
            for q in range(PSI0, PSI1 + 1):
                work.row[0, i0 + q - 1 if q < PSI1 else i0 + 7] += A[TEN, q]
            work.border[0, 0] += A[TEN, TEN]
            work.border[0, MAX_BORDER] += A[TEN, PATH]
            work.border[0, MAX_BORDER + 1] += A[TEN, RES]
        for i in range(2):
            force = mesh.G[a, i]
            work.rhs[i0 + 3 + i, 0] += mesh.r[a + 1, i] - mesh.r[a, i]
            work.rhs[i0 + i, 0] -= force
            work.rhs[i0 + 5 + i, 0] += force
            add(work.band, i0 + 3 + i, i0 + 5 + i, 1.0)
            add(work.band, i0 + 3 + i, i0 + i, -1.0)
            add(work.band, i0 + 5 + i, i0 + 3 + i, 1.0)
            add(work.band, i0 + i, i0 + 3 + i, -1.0)
    m = 0
    if string.flag[0]:
        m = string_pieces(model, string, mesh, work, c, dc)
        stretch = 1.0 + string.number[2] * mesh.T[0]
        work.border[0, 0] -= c[3] * string.number[2]
        work.border[0, MAX_BORDER + 1] -= c[3] * stretch
        work.border[0, MAX_BORDER] -= dc[3] * stretch
    supports(loads, mesh, work, c, dc)
    return m
