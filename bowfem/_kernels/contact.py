"""The taut string on the belly side: where it touches the rod and where it leaves."""

import math

from bowfem._kernels.basis import (
    CUMUL_AT,
    CUMUL_COEF,
    GAUSS_AT,
    GAUSS_COEF,
    GAUSS_X,
    NODE_AT,
    NODE_COEF,
    NODE_X,
    SAMPLES,
    P,
)
from bowfem._kernels.compiled import kernel
from bowfem._kernels.mesh import MAX_CONTACTS, SNAP, locate, poly, poly_slope

#: Hollows under the string shallower than this fraction of the rod's length are closed.
SHALLOW = 1e-6


@kernel
def surface(model, mesh, e, x):
    """Belly surface point and its derivative along the rod, at a base coordinate."""
    a, t = locate(mesh, e, x)
    h = mesh.h[a]
    px, py = mesh.r[a, 0], mesh.r[a, 1]
    zx = zy = psi = k = th = ka = b = db = 0.0
    for j in range(P):
        B = h * poly(CUMUL_COEF, j, t)
        w = poly(GAUSS_COEF, j, t)
        px += B * mesh.z[a, j, 0]
        py += B * mesh.z[a, j, 1]
        zx += w * mesh.z[a, j, 0]
        zy += w * mesh.z[a, j, 1]
        wb = poly(GAUSS_COEF, j, x)
        th += wb * model.theta0[e, j]
        ka += wb * model.kappa0[e, j]
        b += wb * model.belly[e, j]
        db += wb * model.belly_slope[e, j]
    for i in range(P + 1):
        psi += poly(NODE_COEF, i, t) * mesh.psi[a, i]
        k += poly_slope(NODE_COEF, i, t) * mesh.psi[a, i]
    kappa = ka + k / h
    c, s = math.cos(th + psi), math.sin(th + psi)
    return px - b * s, py + b * c, zx - db * s - b * kappa * c, zy + db * c - b * kappa * s


@kernel
def frame(model, mesh, e, x):
    """Angle of the rod and belly offset at a base coordinate."""
    a, t = locate(mesh, e, x)
    th = b = 0.0
    for i in range(P + 1):
        th += poly(NODE_COEF, i, t) * mesh.psi[a, i]
    for j in range(P):
        w = poly(GAUSS_COEF, j, x)
        th += w * model.theta0[e, j]
        b += w * model.belly[e, j]
    return th, b


@kernel
def turn(model, mesh, e, x, qx, qy):
    """Return the cross product of the vector to ``q`` and the surface tangent at a point.

    Positive while the string, bound for ``q``, still wraps the surface here; zero where the tangent
    points at ``q`` or straight away from it.
    """
    px, py, tx, ty = surface(model, mesh, e, x)
    return ty * (qx - px) - tx * (qy - py)


@kernel
def split(i, ne):
    """Return base element and coordinate of sample ``i``."""
    e = i // SAMPLES
    if e == ne:
        return ne - 1, 1.0
    return e, (i - e * SAMPLES) / SAMPLES


@kernel
def lift_off(model, mesh, i, qx, qy, step):
    """Find where the string bound for ``q`` leaves the surface, from sample ``i``.

    ``step``: -1 if it leaves toward the root, +1 toward the end.
    """
    ne = model.h.shape[0]
    e, x = split(i, ne)
    f = turn(model, mesh, e, x, qx, qy)
    px, py, tx, ty = surface(model, mesh, e, x)
    if f > 0.0 and step * (tx * (qx - px) + ty * (qy - py)) < 0.0:
        return e, x  # bound the other way, past the rod's end: it does not double back
    way = step if f > 0.0 else -step
    while True:  # walk to the change of sign
        j = i + way
        if j < 0 or j > ne * SAMPLES:
            return split(i, ne)
        e, x = split(j, ne)
        fj = turn(model, mesh, e, x, qx, qy)
        if (fj > 0.0) != (f > 0.0):
            break
        i, f = j, fj
    e = min(i, j) // SAMPLES
    xa, xb, fa, fb = i / SAMPLES - e, j / SAMPLES - e, f, fj
    for _ in range(60):  # Illinois; both samples lie in one base element
        if fb == 0.0 or abs(xb - xa) < 1e-14:
            break
        x = (xa * fb - xb * fa) / (fb - fa)
        fx = turn(model, mesh, e, x, qx, qy)
        near = abs(x - xb)
        if (fx > 0.0) == (fb > 0.0):
            fa *= 0.5
        else:
            xa, fa = xb, fb
        xb, fb = x, fx
        if near < 1e-13:
            break
    return e, xb


@kernel
def put_contact(mesh, i, side, e, x, ne):
    """Store a contact end, snapped to a node where it is very near to one."""
    if x < SNAP:
        x = 0.0
    elif x > 1.0 - SNAP:
        x = 1.0
        if e + 1 < ne:
            e, x = e + 1, 0.0
    mesh.contact[i, 2 * side], mesh.contact[i, 2 * side + 1] = e, x


@kernel
def missed(model, mesh, at, outer, inner):
    """Find a touch between samples on the straight piece from sample ``outer`` to ``inner``.

    Returns the nearest sample, or -1. Without this, a contact would be lost, with a jump, when the
    last sample on it leaves the string.
    """
    ne = model.h.shape[0]
    last = ne * SAMPLES
    ax, ay = at[outer, 0], at[outer, 1]
    ux, uy = at[inner, 0] - ax, at[inner, 1] - ay
    size = math.sqrt(ux * ux + uy * uy)
    low = inner if inner <= last else 0
    best, top = -1, -1e300
    for k in range(min(outer, last) - 2, low + 1, -1):
        g = uy * (at[k, 0] - ax) - ux * (at[k, 1] - ay)
        above = uy * (at[k + 1, 0] - ax) - ux * (at[k + 1, 1] - ay)
        below = uy * (at[k - 1, 0] - ax) - ux * (at[k - 1, 1] - ay)
        beside = ux * (at[k, 0] - ax) + uy * (at[k, 1] - ay) > 0.0  # else behind the outer end
        if beside and g > top and g >= above and g >= below:
            best, top = k, g
    if best < 0:
        return -1
    dx, dy = at[best + 1, 0] - at[best, 0], at[best + 1, 1] - at[best, 1]
    if -top > 0.25 * size * math.sqrt(dx * dx + dy * dy):
        return -1  # too far off for what curvature can hide between samples
    # the surface's point nearest the string: tangent along it, by bisection on either side
    way = 0
    e, x = split(best, ne)
    _, _, tx, ty = surface(model, mesh, e, x)
    way = 1 if uy * tx - ux * ty > 0.0 else -1
    e = min(best, best + way) // SAMPLES
    xa, xb = best / SAMPLES - e, (best + way) / SAMPLES - e
    for _ in range(40):
        x = 0.5 * (xa + xb)
        px, py, tx, ty = surface(model, mesh, e, x)
        if (uy * tx - ux * ty > 0.0) == (way > 0):
            xa = x
        else:
            xb = x
    px, py, _, _ = surface(model, mesh, e, xa)
    return best if uy * (px - ax) - ux * (py - ay) > 1e-13 else -1


@kernel
def find_contact(model, string, mesh, work, px, py):
    """Lay the taut string from the end's attachment to ``p`` along the belly side.

    A convex chain over surface samples gives the pieces of contact; their ends are then found on
    the smooth surface.
    """
    ne = model.h.shape[0]
    last = ne * SAMPLES
    at = work.sample
    for e in range(ne):  # as `surface` does, on a mesh without cuts
        h, z, psi = mesh.h[e], mesh.z[e], mesh.psi[e]
        for j in range(SAMPLES):
            x, y = mesh.r[e, 0], mesh.r[e, 1]
            th = b = 0.0
            for k in range(P):
                w = h * CUMUL_AT[j, k]
                x += w * z[k, 0]
                y += w * z[k, 1]
                th += GAUSS_AT[j, k] * model.theta0[e, k]
                b += GAUSS_AT[j, k] * model.belly[e, k]
            if b != 0.0:
                for k in range(P + 1):
                    th += NODE_AT[j, k] * psi[k]
                x -= b * math.sin(th)
                y += b * math.cos(th)
            at[e * SAMPLES + j, 0], at[e * SAMPLES + j, 1] = x, y
    x, y, _, _ = surface(model, mesh, ne - 1, 1.0)
    at[last, 0], at[last, 1] = x, y
    th, _ = frame(model, mesh, ne - 1, 1.0)
    na = mesh.count[0]
    c, s = math.cos(th), math.sin(th)
    at[last + 1, 0] = mesh.r[na, 0] + string.number[0] * c - string.number[1] * s
    at[last + 1, 1] = mesh.r[na, 1] + string.number[0] * s + string.number[1] * c
    at[last + 2, 0], at[last + 2, 1] = px, py
    chain = work.chain
    n = 1
    chain[0] = last if string.flag[1] else last + 1
    for k in range(chain[0] - 1, -2, -1):
        i = k if k >= 0 else last + 2
        hidden = False
        while n >= 2:
            a, b = chain[n - 2], chain[n - 1]
            ux, uy = at[b, 0] - at[a, 0], at[b, 1] - at[a, 1]
            wx, wy = at[i, 0] - at[b, 0], at[i, 1] - at[b, 1]
            if ux * wy - uy * wx > 1e-14:
                back = ux * wx + uy * wy < 0.0  # no smooth rod makes its string double back there
                hidden = back and k >= 0
                # nor does a string bound outward, past the end, first run inward
                if not (back and k < 0 and b == chain[0] - (n - 1)):
                    break
            n -= 1
        if not hidden:
            chain[n] = i
            n += 1
    n -= 1  # p itself
    loose = 1  # pieces with fewer samples than this between them count as one: if too many, more
    nc = p = 0
    while True:
        nc = p = 0
        while p < n and nc < MAX_CONTACTS:
            q = p
            if chain[p] <= last:
                while q + 1 < n and chain[q + 1] >= chain[q] - loose:
                    q += 1
                work.run[nc, 0], work.run[nc, 1] = chain[p], chain[q]
                for side in range(2):
                    e, x = split(work.run[nc, side], ne)
                    put_contact(mesh, nc, side, e, x, ne)
                nc += 1
            if nc < MAX_CONTACTS:
                k = missed(model, mesh, at, chain[q], chain[q + 1])
                if k >= 0:
                    work.run[nc, 0], work.run[nc, 1] = k, k
                    for side in range(2):
                        e, x = split(k, ne)
                        put_contact(mesh, nc, side, e, x, ne)
                    nc += 1
            p = q + 1
        if p >= n or loose > SAMPLES:
            break
        loose *= 2
    mesh.count[1] = nc
    fixed = string.flag[1] == 1
    for _ in range(1 if nc == 1 else 5):
        for i in range(nc):
            for side in range(2):
                if side == 0 and i == 0 and fixed:
                    continue
                qx, qy = at[last + 1 + side, 0], at[last + 1 + side, 1]
                j = i - 1 + 2 * side
                if 0 <= j < nc:
                    k = 2 - 2 * side
                    e, x = int(mesh.contact[j, k]), mesh.contact[j, k + 1]
                    qx, qy, _, _ = surface(model, mesh, e, x)
                e, x = lift_off(model, mesh, work.run[i, side], qx, qy, 1 - 2 * side)
                put_contact(mesh, i, side, e, x, ne)
            so = mesh.contact[i, 0] + mesh.contact[i, 1]
            si = mesh.contact[i, 2] + mesh.contact[i, 3]
            if so - si < SNAP:  # a touch without length
                mesh.contact[i, 2], mesh.contact[i, 3] = mesh.contact[i, 0], mesh.contact[i, 1]
    join(model, mesh)


@kernel
def join(model, mesh):
    """Merge neighbouring pieces of contact that meet: a free piece of no length has no direction.

    Also merge neighbours whose gap is shallower than SHALLOW; otherwise the gap opens and closes
    between iterations.
    """
    if mesh.count[1] == 0:
        return
    n = 0
    for i in range(1, mesh.count[1]):
        here = mesh.contact[n, 2] + mesh.contact[n, 3]
        there = mesh.contact[i, 0] + mesh.contact[i, 1]
        if here - there >= SNAP and sag(model, mesh, here, there) > SHALLOW:
            n += 1
            for j in range(2):
                mesh.contact[n, j] = mesh.contact[i, j]
        for j in range(2, 4):
            mesh.contact[n, j] = mesh.contact[i, j]
    mesh.count[1] = n + 1


@kernel
def sag(model, mesh, outer, inner):
    """Return how far the surface strays from the straight line between two of its places."""
    last = model.h.shape[0] - 1
    e = min(int(outer), last)
    ax, ay, _, _ = surface(model, mesh, e, outer - e)
    e = min(int(inner), last)
    bx, by, _, _ = surface(model, mesh, e, inner - e)
    ux, uy = bx - ax, by - ay
    deep = 0.0
    for k in range(1, 4):
        at = outer + 0.25 * k * (inner - outer)
        e = min(int(at), last)
        x, y, _, _ = surface(model, mesh, e, at - e)
        deep = max(deep, abs(ux * (y - ay) - uy * (x - ax)))
    return deep / math.sqrt(ux * ux + uy * uy)


@kernel
def flatten(model, flat, mesh):
    """Copy the state on to the uncut base mesh, for the contact search.

    The search must not see the cuts: curvature jumps there by the discretisation's error, and a
    lift-off found on the cut mesh would sit on a jump of its own making.
    """
    ne = model.h.shape[0]
    flat.count[0] = ne
    flat.T[0] = mesh.T[0]
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
    na = mesh.count[0]
    flat.r[ne, 0], flat.r[ne, 1] = mesh.r[na, 0], mesh.r[na, 1]


@kernel
def move(mesh, old):
    """Carry the state of ``old`` over to the freshly laid ``mesh``."""
    na = mesh.count[0]
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
    mesh.r[na, 0], mesh.r[na, 1] = old.r[old.count[0], 0], old.r[old.count[0], 1]
    mesh.T[0] = old.T[0]
