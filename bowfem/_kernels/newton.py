"""Newton's method for one state."""

import math

from bowfem._kernels.assembly import assemble
from bowfem._kernels.basis import P
from bowfem._kernels.compiled import kernel, piece
from bowfem._kernels.contact import find_contact, renew_contact
from bowfem._kernels.element import PSI0, RES, inner_change
from bowfem._kernels.kinematics import kinematics
from bowfem._kernels.mesh import build, copy, transfer, uncut
from bowfem._kernels.records import (
    FX,
    FY,
    LOAD,
    NODE,
    POINT_X,
    POINT_Y,
    PSI,
    RESIDUAL,
    STEP,
    clear,
)
from bowfem._kernels.solve import correct

CONVERGED, DIVERGED, SINGULAR, STEP_FLOOR, BEYOND_TABLE = 0, 1, 2, 3, 4
#: Iterations after which contact should be at rest, and each must halve the Newton step.
UNRULY = 8


@kernel
def update(mesh, work, T_step, mu_step):
    """Add the Newton step to the state; return its largest entry."""
    x = work.rhs
    big = 0.0
    for a in range(mesh.active):
        keep = work.inner[a]
        i0 = NODE * a
        for k in range(3):
            d = inner_change(keep, k, x, i0, STEP, T_step, mu_step) - keep[k, RES - PSI0]
            mesh.psi[a, k + 1] += d
            big = max(big, abs(d))
        mesh.psi[a, 0] += x[i0 + PSI, STEP]
        mesh.psi[a, P] += x[i0 + NODE + PSI, STEP]
        mesh.G[a, 0] += x[i0 + FX, STEP]
        mesh.G[a, 1] += x[i0 + FY, STEP]
    for a in range(mesh.active + 1):
        for i in range(2):
            mesh.r[a, i] += x[NODE * a + i, STEP]
        for i in range(3):
            big = max(big, abs(x[NODE * a + i, STEP]))
    mesh.T += T_step
    return big


@kernel
def residual_size(mesh, work):
    """Root of the summed squares of the residual."""
    res = 0.0
    for i in range(NODE * mesh.active + 3):
        res += work.rhs[i, RESIDUAL] ** 2
    return math.sqrt(res)


@kernel
def largest_force(mesh):
    """Largest component of the internal forces, kept above zero."""
    force = 1e-9
    for a in range(mesh.active):
        force = max(force, abs(mesh.G[a, 0]), abs(mesh.G[a, 1]))
    return force


@piece
def renew(model, loads, string, mesh, old, flat, work, c, it):
    """Bring what depends on the state up to date: strains, contact, and the mesh it cuts."""
    kinematics(loads, mesh, c[LOAD])
    if string.present:
        uncut(model, flat, mesh)
        find_contact(model, string, flat, work, c[POINT_X], c[POINT_Y])
        if renew_contact(model, mesh, flat, it):
            copy(old, mesh)
            build(model, mesh)
            transfer(mesh, old)
            kinematics(loads, mesh, c[LOAD])


@piece
def newton(
    model, loads, string, mesh, old, flat, work, control, ctrl, target, c, dc, mu, tol, most, hist
):
    """Iterate to equilibrium; return (status, iterations, determinant's sign).

    ``hist`` (most, 2) takes the norms of residual and step. ``mu`` (1,) is the path parameter when
    it is unknown. On return ``work.rhs[:, 1]`` holds the derivative of the state along the path.
    """
    clear(hist, most, 2)
    before = 1e300
    sign = 0
    for it in range(most):
        renew(model, loads, string, mesh, old, flat, work, c, it)
        m = assemble(model, loads, string, mesh, work, c, dc)
        res = residual_size(mesh, work)
        sign, T_step, T_rate, mu_step, mu_rate = correct(
            mesh, work, m, control, ctrl, target, mu[0]
        )
        hist[it, 0] = res
        if sign == 0:
            # later on it is where the iterations have led, not the structure
            return (SINGULAR if it == 0 else DIVERGED), it, 0
        big = update(mesh, work, T_step, mu_step)
        if control:
            mu[0] += mu_step
            for i in range(4):
                c[i] += mu_step * dc[i]
        hist[it, 1] = big
        if not big < 1e3:
            return DIVERGED, it + 1, sign
        # the next step is at most this one times the last ratio: stop when that is round-off
        small = big <= tol or (it > 0 and big < 1e-4 and big * big / before <= 0.01 * tol)
        # and there is a floor, set by the contact's own search
        floor = it > 2 and big < 1e-7 and big > 0.3 * before
        # reactions, forces and the determinant's sign are those before this step
        if (small and res <= 1e-6 * largest_force(mesh)) or floor:
            work.T_rate, work.mu_rate = T_rate, mu_rate
            return CONVERGED, it + 1, sign
        if it > UNRULY and big > 0.5 * before and big > 1e-5:
            return DIVERGED, it + 1, sign
        before = big
    return DIVERGED, most, sign
