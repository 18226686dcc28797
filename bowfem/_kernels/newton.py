"""Newton's method for one state."""

import math

import numpy as np

from bowfem._kernels.assembly import assemble
from bowfem._kernels.basis import P
from bowfem._kernels.compiled import kernel
from bowfem._kernels.contact import find_contact, flatten, move, put_contact, sag
from bowfem._kernels.kinematics import kinematics
from bowfem._kernels.mesh import MAX_CONTACTS, build, clear
from bowfem._kernels.solve import correct
from bowfem._kernels.state import copy

EASY, HARD = 4, 6  # iterations after which contact is moved with care, or not at all if ...
NEAR = 1e-3  # ... it lies this near, in element lengths, to where it was; later on ...
DEEP = 5e-5  # ... over a stretch straight to this share of the rod's length
CONVERGED, DIVERGED, SINGULAR, STEP_FLOOR, BEYOND_TABLE = 0, 1, 2, 3, 4


@kernel
def newton(
    model, loads, string, mesh, old, flat, work, control, ctrl, target, c, dc, mu, tol, most, hist
):
    """Iterate to equilibrium; return (status, iterations, determinant's sign).

    ``hist`` (most, 2) takes the norms of residual and step. ``mu`` (1,) is the path parameter when
    it is unknown. On return ``work.rhs[:, 1]`` holds the derivative of the state along the path.
    """
    out = np.zeros(5)
    clear(hist)
    before = 1e300
    sign = 0
    for it in range(most):
        kinematics(loads, mesh, c[0])
        if string.flag[0]:
            flatten(model, flat, mesh)
            find_contact(model, string, flat, work, c[1], c[2])
            if renew_contact(model, mesh, flat, it):
                copy(old, mesh)
                build(model, mesh)
                move(mesh, old)
                kinematics(loads, mesh, c[0])
        m = assemble(model, loads, string, mesh, work, c, dc)
        na = mesh.count[0]
        n = 5 * na + 3
        res = 0.0
        for i in range(n):
            res += work.rhs[i, 0] ** 2
        hist[it, 0] = math.sqrt(res)
        out[3] = mu[0]
        sign = correct(model, mesh, work, m, control, ctrl, target, c, dc, out)
        if sign == 0:
            # later on it is where the iterations have led, not the structure
            return (SINGULAR if it == 0 else DIVERGED), it, 0
        x = work.rhs
        big = 0.0
        for a in range(na):
            keep = work.inner[a]
            i0 = 5 * a
            for k in range(3):
                d = -keep[k, 6] - keep[k, 4] * out[0] - keep[k, 5] * out[2]
                for j in range(3):
                    d -= keep[k, j] * x[i0 + 2 + j, 0]
                d -= keep[k, 3] * x[i0 + 7, 0]
                mesh.psi[a, k + 1] += d
                big = max(big, abs(d))
            mesh.psi[a, 0] += x[i0 + 2, 0]
            mesh.psi[a, P] += x[i0 + 7, 0]
            mesh.G[a, 0] += x[i0 + 3, 0]
            mesh.G[a, 1] += x[i0 + 4, 0]
        for a in range(na + 1):
            for i in range(2):
                mesh.r[a, i] += x[5 * a + i, 0]
            for i in range(3):
                big = max(big, abs(x[5 * a + i, 0]))
        mesh.T[0] += out[0]
        if control:
            mu[0] += out[2]
            for i in range(4):
                c[i] += out[2] * dc[i]
        hist[it, 1] = big
        if not big < 1e3:
            return DIVERGED, it + 1, sign
        # reactions, forces and the determinant's sign are those before this step
        force = 1e-9
        for a in range(na):
            force = max(force, abs(mesh.G[a, 0]), abs(mesh.G[a, 1]))
        # the next step is at most this one times the last ratio: stop when that is round-off
        small = big <= tol or (it > 0 and big < 1e-4 and big * big / before <= 0.01 * tol)
        # and there is a floor, set by the contact's own search
        floor = it > 2 and big < 1e-7 and big > 0.3 * before
        if (small and hist[it, 0] <= 1e-6 * force) or floor:
            work.end[2], work.end[3] = out[1], out[4]
            return CONVERGED, it + 1, sign
        if it > HARD + 2 and big > 0.5 * before and big > 1e-5:
            return DIVERGED, it + 1, sign
        before = big
    return DIVERGED, most, sign


@kernel
def renew_contact(model, mesh, flat, it):
    """Take over the contact found, and keep the cuts of contact lost since the last iteration.

    Return whether any end moved. A touch that comes and goes between iterations would otherwise see
    two meshes that may disagree on it for ever. The end of a contact can swing the same way, since
    cutting the mesh there shifts what the search sees: it is first moved halfway, then kept. The
    string's length is least where it is tangent, so an end off by d costs d^3 of length and d^2 of
    force.
    """
    nc, last = flat.count[1], mesh.first.shape[0] - 2
    if it >= EASY and mesh.count[1] == nc:
        for i in range(nc):
            for side in range(2):
                j = 2 * side
                e, x = int(mesh.contact[i, j]), mesh.contact[i, j + 1]
                y = flat.contact[i, j] - e + flat.contact[i, j + 1]
                far = abs(y - x) >= NEAR
                if far and it > HARD:
                    far = sag(model, flat, e + max(x, y), e + min(x, y)) > DEEP
                if it < HARD or far:
                    x = 0.5 * (x + y)
                e, x = min(e + math.floor(x), last), x - (min(e + math.floor(x), last) - e)
                put_contact(flat, i, side, e, x, last + 1)
    lost = 0
    for i in range(mesh.count[1] + mesh.count[2]):
        far = mesh.contact[i, 0] + mesh.contact[i, 1] < mesh.first.shape[0] - 1
        for k in range(nc):
            gap = flat.contact[k, 0] + flat.contact[k, 1] - mesh.contact[i, 0] - mesh.contact[i, 1]
            far = far and abs(gap) > 1.0
        if far and nc + lost < MAX_CONTACTS:
            for j in range(4):
                flat.contact[nc + lost, j] = mesh.contact[i, j]
            lost += 1
    moved = mesh.count[1] != nc or mesh.count[2] != lost
    for i in range(nc + lost):
        for j in range(4):
            moved = moved or mesh.contact[i, j] != flat.contact[i, j]
            mesh.contact[i, j] = flat.contact[i, j]
    mesh.count[1], mesh.count[2] = nc, lost
    return moved
