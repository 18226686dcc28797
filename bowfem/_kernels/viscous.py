"""Viscous branches beside the bending law: moments that follow changes of bending and fade.

Branch ``j`` of a Gauss point obeys ``H' + H / tau = g k'`` with ``g`` its stiffness and ``tau`` its
time, so that with ``k`` linear over a step of ``h``, ``e = exp(-h / tau)``,

    H1 = e H0 + g tau / h (1 - e) (k1 - k0).

It stores ``H^2 / (2 g)`` and loses ``H^2 / (g tau)`` per time.
"""

import math

from bowfem._kernels.basis import GAUSS_W, GAUSS_X, NODE_COEF, P
from bowfem._kernels.compiled import kernel
from bowfem._kernels.mesh import locate, poly_slope

#: Rows of ``branch``: share of the law's stiffness at rest, time.
GAIN, FADE = range(2)


@kernel
def bending(mesh, k):
    """Read the bending strain at the stations off the active mesh."""
    for e in range(k.shape[0]):
        for g in range(P):
            a, t = locate(mesh, e, GAUSS_X[g])
            slope = 0.0
            for i in range(P + 1):
                slope += poly_slope(NODE_COEF, i, t) * mesh.psi[a, i]
            k[e, g] = slope / mesh.h[a]


@kernel
def follows(work, branch, stiff, H, k, step):
    """Fill ``work.felt`` for a step from bending ``k``; with no step the branches stand still."""
    for e in range(k.shape[0]):
        for g in range(P):
            work.felt[e, g, 0] = work.felt[e, g, 1] = 0.0
    for j in range(branch.shape[1]):
        x = step / branch[FADE, j]
        left = math.exp(-x)
        q = branch[GAIN, j] * (-math.expm1(-x) / x if step > 0.0 else 0.0)
        for e in range(k.shape[0]):
            for g in range(P):
                work.felt[e, g, 0] += left * H[j, e, g] - q * stiff[e, g] * k[e, g]
                work.felt[e, g, 1] += q * stiff[e, g]


@kernel
def remember(model, branch, stiff, H, k0, k1, step):
    """Take the branches over a step; return what they lost on it, before the law's scale."""
    lost = 0.0
    for j in range(branch.shape[1]):
        tau = branch[FADE, j]
        x = step / tau
        left, gone = math.exp(-x), -math.expm1(-x)
        both = -math.expm1(-2.0 * x)
        for e in range(k0.shape[0]):
            for g in range(P):
                gain = branch[GAIN, j] * stiff[e, g]
                if gain == 0.0:
                    continue
                # H runs from H0 to the plateau of this rate of bending
                plateau = gain * tau / step * (k1[e, g] - k0[e, g])
                off = H[j, e, g] - plateau
                square = plateau * plateau * step + 2.0 * plateau * off * tau * gone
                square += 0.5 * off * off * tau * both
                lost += model.h[e] * GAUSS_W[g] * square / (gain * tau)
                H[j, e, g] = plateau + off * left
    return lost


@kernel
def kept_in_branches(model, branch, stiff, H):
    """Sum the energy in the branches, before the law's scale."""
    kept = 0.0
    for j in range(branch.shape[1]):
        for e in range(stiff.shape[0]):
            for g in range(P):
                gain = branch[GAIN, j] * stiff[e, g]
                if gain > 0.0:
                    kept += model.h[e] * GAUSS_W[g] * 0.5 * H[j, e, g] ** 2 / gain
    return kept
