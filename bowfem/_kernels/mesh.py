"""Records the kernels share, and the active mesh: base elements cut where contact ends.

The rod is mixed: rotation ``psi`` (from the unstressed shape) is a polynomial in each element, the
internal force ``G`` is one vector an element, position is exact quadrature of the tangent. The
Lagrangian of an element of length ``h`` is

    L = sum_g w h [W(k) - H(theta, kappa, G_g, T)] + G . (r1 - r0)

with ``k = psi'``, ``kappa = kappa0 + k`` and ``H`` the Legendre transform of stretch and shear, the
string's ``T |a|`` included where it lies on the rod (``a``: derivative of the surface point). So
inextensible rods need no special case, and nothing locks. All quantities are nondimensional.
Control: ``c = (load factor, Px, Py, string length)``.
"""

import math
from typing import NamedTuple

import numpy as np

from bowfem._kernels.basis import GAUSS_COEF, GAUSS_X, SAMPLES, P
from bowfem._kernels.compiled import kernel, shared

KL = 7  # half bandwidth: (x, y, psi) of two nodes and the force between them
DIAG = 2 * KL
WIDTH = 3 * KL + 1
MAX_CONTACTS = 6
MAX_CUTS = 2 * MAX_CONTACTS
MAX_BORDER = 2 + MAX_CONTACTS
SNAP = 1e-6  # a contact end this near (in element lengths) to a node is the node


class Model(NamedTuple):
    """Base mesh; element axis first, Gauss points second."""

    h: np.ndarray
    theta0: np.ndarray
    kappa0: np.ndarray
    EI: np.ndarray
    knot: np.ndarray
    reach: np.ndarray  # (ne, P, 2) bending strain the law is good for, negative and positive
    moment: np.ndarray
    tangent: np.ndarray
    energy: np.ndarray
    stretch: np.ndarray
    shear: np.ndarray
    belly: np.ndarray
    belly_slope: np.ndarray
    reference: np.ndarray


class Loads(NamedTuple):
    """First axis: constant part, part times the load factor."""

    dead: np.ndarray
    follower: np.ndarray
    line: np.ndarray
    pressure: np.ndarray
    spring: np.ndarray
    fixed: np.ndarray
    value: np.ndarray
    spread: bool  # any distributed load at all


class String(NamedTuple):
    """The string: attachment in the end's frame, compliance 1/EA."""

    present: bool
    along: float
    across: float
    on_surface: bool
    compliance: float


# Model, Loads and String again, as kernels pass them on.
_model = shared(
    "ModelRef",
    {
        "h": 1,
        "theta0": 2,
        "kappa0": 2,
        "EI": 2,
        "knot": 2,
        "reach": 3,
        "moment": 3,
        "tangent": 3,
        "energy": 3,
        "stretch": 2,
        "shear": 2,
        "belly": 2,
        "belly_slope": 2,
        "reference": 2,
    },
)
_loads = shared(
    "LoadsRef",
    {
        "dead": 3,
        "follower": 3,
        "line": 4,
        "pressure": 3,
        "spring": 2,
        "fixed": -2,
        "value": 3,
        "spread": -1,
    },
)
_string = shared("StringRef", {"flag": -1, "number": 1})

# Active mesh (base elements cut where contact ends) and the state on it.
_mesh = shared(
    "Mesh",
    {
        "count": -1,  # (3,) active elements, pieces of contact, pieces just lost
        "base": -1,
        "xi": 2,  # (na, 2) span in the base element
        "h": 1,
        "wrapped": -1,
        "first": -1,  # (ne+1,) active node of each base node
        "weight": 3,  # (na, P, P) base Gauss values to active ones, cut elements only
        "prop": 3,  # (na, P, 6) theta0, kappa0, stretch, shear, belly, belly slope
        "psi": 2,  # (na, P+1)
        "r": 2,  # (na+1, 2)
        "G": 2,  # (na, 2)
        "T": 1,  # (1,)
        "kin": 3,  # (na, P, 11) cos, sin, k, kappa, v1, v2, u1, u2, |a|, N, Q
        "load": 3,  # (na, P, 5) distributed force, its load-factor part, pressure
        "z": 3,  # (na, P, 2) derivative of position
        "contact": 2,  # (MAX_CONTACTS, 4) outer base, xi, inner base, xi; then those lost
        "node": -2,  # (MAX_CONTACTS, 2) active nodes, outer and inner
    },
)

# Scratch of one solve.
_work = shared(
    "Work",
    {
        "band": 2,
        "rhs": 2,
        "row": 2,
        "pivot": -1,
        "local": 2,
        "inner": 3,
        "react": 2,
        "reference": 2,
        "path": 1,
        "place": 2,
        "end": 1,
        "sample": 2,
        "chain": -1,
        "run": -2,
        "border": 2,
        "cross": 2,
    },
)


@kernel
def new_mesh(ne):
    """Allocate an active mesh for ``ne`` base elements."""
    na = ne + MAX_CUTS
    m = _mesh()
    m.count = np.zeros(3, np.int64)
    m.base = np.zeros(na, np.int64)
    m.xi = np.zeros((na, 2))
    m.h = np.zeros(na)
    m.wrapped = np.zeros(na, np.int64)
    m.first = np.zeros(ne + 1, np.int64)
    m.weight = np.zeros((na, P, P))
    m.prop = np.zeros((na, P, 6))
    m.psi = np.zeros((na, P + 1))
    m.r = np.zeros((na + 1, 2))
    m.G = np.zeros((na, 2))
    m.T = np.zeros(1)
    m.kin = np.zeros((na, P, 11))
    m.load = np.zeros((na, P, 5))
    m.z = np.zeros((na, P, 2))
    m.contact = np.zeros((MAX_CONTACTS, 4))
    m.node = np.zeros((MAX_CONTACTS, 2), np.int64)
    return m


@kernel
def new_work(reference):
    """Allocate the scratch for a base mesh with these reference nodes."""
    ne = reference.shape[0] - 1
    n = 5 * (ne + MAX_CUTS) + 3
    w = _work()
    w.band = np.zeros((n, WIDTH))
    w.rhs = np.zeros((n, 1 + MAX_BORDER))
    w.row = np.zeros((MAX_BORDER, n))
    w.pivot = np.zeros(n, np.int64)
    w.local = np.zeros((10, 10))
    w.inner = np.zeros((ne + MAX_CUTS, 3, 7))
    w.react = np.zeros((ne + 1, 3))
    w.reference = reference
    w.path = np.zeros(n)
    w.place = np.zeros((2, 4))
    w.end = np.zeros(4)
    w.sample = np.zeros((ne * SAMPLES + 3, 2))
    w.chain = np.zeros(ne * SAMPLES + 3, np.int64)
    w.run = np.zeros((MAX_CONTACTS, 2), np.int64)
    w.border = np.zeros((MAX_BORDER, MAX_BORDER + 2))
    w.cross = np.zeros((2, 3))
    return w


@kernel
def share_model(model):
    """Put the caller's model where kernels pass it as one pointer."""
    m = _model()
    m.h, m.theta0, m.kappa0, m.EI = model.h, model.theta0, model.kappa0, model.EI
    m.knot, m.reach, m.moment = model.knot, model.reach, model.moment
    m.tangent, m.energy = model.tangent, model.energy
    m.stretch, m.shear, m.belly = model.stretch, model.shear, model.belly
    m.belly_slope, m.reference = model.belly_slope, model.reference
    return m


@kernel
def share_loads(loads):
    """Put the caller's loads where kernels pass them as one pointer."""
    m = _loads()
    m.dead, m.follower, m.line, m.pressure = loads.dead, loads.follower, loads.line, loads.pressure
    m.spring, m.value = loads.spring, loads.value
    m.fixed = loads.fixed.astype(np.int64)
    m.spread = np.full(1, 1 if loads.spread else 0)
    return m


@kernel
def share_string(string):
    """Put the caller's string where kernels pass it as one pointer."""
    m = _string()
    m.flag, m.number = np.zeros(2, np.int64), np.zeros(3)
    m.flag[0], m.flag[1] = 1 if string.present else 0, 1 if string.on_surface else 0
    m.number[0], m.number[1], m.number[2] = string.along, string.across, string.compliance
    return m


@kernel
def clear(a):
    """Set a matrix to zero; a plain loop compiles far faster than a slice."""
    for i in range(a.shape[0]):
        for j in range(a.shape[1]):
            a[i, j] = 0.0


@kernel
def poly(coef, j, x):
    """Evaluate row ``j`` of a coefficient table."""
    n = coef.shape[1]
    y = coef[j, n - 1]
    for k in range(n - 2, -1, -1):
        y = y * x + coef[j, k]
    return y


@kernel
def poly_slope(coef, j, x):
    """Evaluate the derivative of row ``j`` of a coefficient table."""
    n = coef.shape[1]
    y = (n - 1) * coef[j, n - 1]
    for k in range(n - 2, 0, -1):
        y = y * x + k * coef[j, k]
    return y


@kernel
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


@kernel
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


@kernel
def build(model, mesh):
    """Lay the active mesh: base elements, cut where a contact interval ends inside one."""
    ne = model.h.shape[0]
    nc = mesh.count[1]
    cuts = np.empty((MAX_CUTS, 2))
    m = 0
    for i in range(nc + mesh.count[2]):
        for j in range(2):
            e, x = mesh.contact[i, 2 * j], mesh.contact[i, 2 * j + 1]
            if 0.0 < x < 1.0:
                known = False
                for q in range(m):
                    known = known or (cuts[q, 0] == e and cuts[q, 1] == x)
                if not known:
                    q = m
                    while q > 0 and cuts[q - 1, 0] + cuts[q - 1, 1] > e + x:
                        cuts[q, 0], cuts[q, 1] = cuts[q - 1, 0], cuts[q - 1, 1]
                        q -= 1
                    cuts[q, 0], cuts[q, 1] = e, x
                    m += 1
    a = 0
    q = 0
    for e in range(ne):
        mesh.first[e] = a
        x0 = 0.0
        while True:
            last = not (q < m and cuts[q, 0] == e)
            x1 = 1.0 if last else cuts[q, 1]
            mesh.base[a] = e
            mesh.xi[a, 0], mesh.xi[a, 1] = x0, x1
            mesh.h[a] = (x1 - x0) * model.h[e]
            mesh.wrapped[a] = 0
            whole = x0 == 0.0 and x1 == 1.0
            for g in range(P):
                pr = mesh.prop[a, g]
                if whole:
                    pr[0], pr[1] = model.theta0[e, g], model.kappa0[e, g]
                    pr[2], pr[3] = model.stretch[e, g], model.shear[e, g]
                    pr[4], pr[5] = model.belly[e, g], model.belly_slope[e, g]
                else:
                    x = x0 + (x1 - x0) * GAUSS_X[g]
                    for j in range(6):
                        pr[j] = 0.0
                    for j in range(P):
                        w = poly(GAUSS_COEF, j, x)
                        mesh.weight[a, g, j] = w
                        pr[0] += w * model.theta0[e, j]
                        pr[1] += w * model.kappa0[e, j]
                        pr[2] += w * model.stretch[e, j]
                        pr[3] += w * model.shear[e, j]
                        pr[4] += w * model.belly[e, j]
                        pr[5] += w * model.belly_slope[e, j]
            a += 1
            if last:
                break
            x0 = x1
            q += 1
    mesh.first[ne] = a
    mesh.count[0] = a
    for i in range(nc):
        for j in range(2):
            e, x = int(mesh.contact[i, 2 * j]), mesh.contact[i, 2 * j + 1]
            n = mesh.first[e]
            if x == 1.0:
                n = mesh.first[e + 1]
            elif x > 0.0:
                while mesh.xi[n, 0] < x:
                    n += 1
            mesh.node[i, j] = n
        for n in range(mesh.node[i, 1], mesh.node[i, 0]):
            mesh.wrapped[n] = 1


@kernel
def locate(mesh, e, x):
    """Active element and local coordinate of base coordinate ``x`` in base element ``e``."""
    a = mesh.first[e]
    while mesh.xi[a, 1] < x and mesh.xi[a, 1] < 1.0:
        a += 1
    return a, (x - mesh.xi[a, 0]) / (mesh.xi[a, 1] - mesh.xi[a, 0])
