"""The energy of a Gauss point: the bending law, and the Legendre transform of stretch and shear.

The rod is mixed: rotation ``psi`` (from the unstressed shape) is a polynomial in each element, the
internal force ``G`` is one vector an element, position is exact quadrature of the tangent. The
Lagrangian of an element of length ``h`` is

    L = sum_g w h [W(k) - H(theta, kappa, G_g, T)] + G . (r1 - r0)

with ``k = psi'`` and ``kappa = kappa0 + k``. ``H`` is the Legendre transform of the energy of
stretch and shear, the string's ``T |a|`` included where it lies on the rod:

    H = F . v - (v - e1) . S^-1 (v - e1) / 2 - T |a|,  v such that H is stationary.

``F = (N, Q)`` is ``G`` in the rod's frame; ``v`` the stretch vector, ``e1`` when unstretched; ``S``
the compliances of stretch and shear; ``a = (v1 - b kappa, v2 + b')`` the derivative of the belly
surface, at the distance ``b`` from the axis. So inextensible rods need no special case, and nothing
locks.
"""

import math
from typing import NamedTuple

from bowfem._kernels.basis import P
from bowfem._kernels.compiled import part
from bowfem._kernels.records import (
    BELLY,
    COS,
    N_ALL,
    Q_ALL,
    SHEAR,
    SIN,
    SIZE,
    STRETCH,
    U1,
    U2,
    V1,
    V2,
)


class Derivatives(NamedTuple):
    """First and second derivatives of H by theta (t), kappa (k), Gx (x), Gy (y), tension (T).

    Those by Gx, Gy and T alone are the tangent and ``-|a|``, kept in ``mesh.z`` and ``kin``.
    """

    t: float
    k: float
    tt: float
    tk: float
    tx: float
    ty: float
    tT: float
    kk: float
    kx: float
    ky: float
    kT: float
    xx: float
    xy: float
    yy: float
    xT: float
    yT: float
    TT: float


@part
def law(model, e, g, k):
    """Moment, tangent, energy and share of its reach at bending strain ``k`` of a Gauss point."""
    n = model.moment.shape[2]
    if n == 0:
        EI = model.EI[e, g]
        return EI * k, EI, 0.5 * EI * k * k, 0.0
    d = model.knot[e, g]
    x = k / d + 0.5 * (n - 1)
    share = max(k / model.reach[e, g, 1], -k / model.reach[e, g, 0])
    j = min(max(math.floor(x), 0), n - 2)
    t = x - j
    if t < 0.0 or t > 1.0:  # straight on from the table's end
        i = j if t < 0.0 else j + 1
        q = (x - i) * d
        M, C = model.moment[e, g, i], model.tangent[e, g, i]
        return M + C * q, C, model.energy[e, g, i] + q * (M + 0.5 * C * q), share
    m0, m1 = model.moment[e, g, j], model.moment[e, g, j + 1]
    c0, c1 = d * model.tangent[e, g, j], d * model.tangent[e, g, j + 1]
    a2 = 3.0 * (m1 - m0) - 2.0 * c0 - c1
    a3 = 2.0 * (m0 - m1) + c0 + c1
    M = m0 + t * (c0 + t * (a2 + t * a3))
    C = (c0 + t * (2.0 * a2 + 3.0 * t * a3)) / d
    W = model.energy[e, g, j] + d * t * (m0 + t * (c0 / 2.0 + t * (a2 / 3.0 + t * a3 / 4.0)))
    return M, C, W, share


@part
def law_at(model, mesh, a, g, k):
    """Law at an active Gauss point: in a cut element, interpolated along the base element."""
    e = mesh.base[a]
    if mesh.xi[a, 0] == 0.0 and mesh.xi[a, 1] == 1.0:
        return law(model, e, g, k)
    M = C = W = share = 0.0
    for j in range(P):
        w = mesh.weight[a, g, j]
        m, c, u, s = law(model, e, j, k)
        M += w * m
        C += w * c
        W += w * u
        share = max(share, s)
    return M, C, W, share


@part
def legendre(kin, prop, T, wrapped):
    """Return the `Derivatives` of H at a Gauss point.

    With ``u = a / |a|``, H is stationary at ``v = e1 + S (F - T u)``, so that its derivatives are
    those at fixed v: ``F_theta . v``, with ``F_theta = (Q, -N)``; ``T b u1`` by kappa; v in the
    fixed frame, the rod's tangent; ``-|a|``.

    To differentiate again, ``du = q (dv - e1 b dkappa) / T`` with ``q = T (1 - u u^T) / |a|``,
    which gives ``dv = S* d`` with ``S* = (1 + S q)^-1 S`` and the drive ``d`` of each variable:
    ``F_theta``, ``p = b q e1``, F by Gx and by Gy, and ``-u``. The second derivatives are
    ``d_m . S* d_n`` and what those at fixed v give.
    """
    c, s, v1, v2 = kin[COS], kin[SIN], kin[V1], kin[V2]
    N, Q, b = kin[N_ALL], kin[Q_ALL], prop[BELLY]
    s11, s12, s22 = prop[STRETCH], 0.0, prop[SHEAR]
    p1 = p2 = wound = u1 = u2 = 0.0
    if wrapped:
        u1, u2, size = kin[U1], kin[U2], kin[SIZE]
        q11, q12, q22 = T * u2 * u2 / size, -T * u1 * u2 / size, T * u1 * u1 / size
        m11, m12, m21, m22 = 1.0 + s11 * q11, s11 * q12, s22 * q12, 1.0 + s22 * q22
        det = m11 * m22 - m12 * m21
        s11, s12, s22 = m22 * s11 / det, -m12 * s22 / det, m11 * s22 / det
        p1, p2 = b * q11, b * q12
        wound = -q11 * b * b
    # S* d by theta, kappa, Gx, Gy, T
    t1, t2 = s11 * Q - s12 * N, s12 * Q - s22 * N
    k1, k2 = s11 * p1 + s12 * p2, s12 * p1 + s22 * p2
    x1, x2 = s11 * c - s12 * s, s12 * c - s22 * s
    y1, y2 = s11 * s + s12 * c, s12 * s + s22 * c
    T1, T2 = -s11 * u1 - s12 * u2, -s12 * u1 - s22 * u2
    return Derivatives(
        t=v1 * Q - v2 * N,
        k=T * b * u1,
        tt=Q * t1 - N * t2 - (N * v1 + Q * v2),
        tk=Q * k1 - N * k2,
        tx=Q * x1 - N * x2 - s * v1 - c * v2,
        ty=Q * y1 - N * y2 + c * v1 - s * v2,
        tT=Q * T1 - N * T2,
        kk=p1 * k1 + p2 * k2 + wound,
        kx=p1 * x1 + p2 * x2,
        ky=p1 * y1 + p2 * y2,
        kT=p1 * T1 + p2 * T2 + b * u1,
        xx=c * x1 - s * x2,
        xy=c * y1 - s * y2,
        yy=s * y1 + c * y2,
        xT=c * T1 - s * T2,
        yT=s * T1 + c * T2,
        TT=-(u1 * T1 + u2 * T2),
    )
