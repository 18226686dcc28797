"""The belly surface, on which the string lies: points, tangents, samples."""

import math

from bowfem._kernels.basis import (
    CUMUL_AT,
    CUMUL_COEF,
    GAUSS_AT,
    GAUSS_COEF,
    NODE_AT,
    NODE_COEF,
    SAMPLES,
    P,
)
from bowfem._kernels.compiled import kernel
from bowfem._kernels.mesh import locate, poly, poly_slope


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
def sample_belly(model, string, mesh, work, px, py):
    """Fill ``work.sample``: the belly surface, the string's attachment, the point ``p``.

    As `surface` does, on a mesh without cuts.
    """
    ne = model.h.shape[0]
    last = ne * SAMPLES
    at = work.sample
    for e in range(ne):
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
    na = mesh.active
    c, s = math.cos(th), math.sin(th)
    at[last + 1, 0] = mesh.r[na, 0] + string.along * c - string.across * s
    at[last + 1, 1] = mesh.r[na, 1] + string.along * s + string.across * c
    at[last + 2, 0], at[last + 2, 1] = px, py
