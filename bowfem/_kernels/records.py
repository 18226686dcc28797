"""The records that kernels share, and the names of their slots.

All quantities are nondimensional: lengths over the rod's, forces over its largest EI over the
length squared. A pair of states lies on a path along which the control changes at a given rate;
"rate" below is the derivative along it.
"""

from typing import NamedTuple

import numpy as np

from bowfem._kernels.basis import SAMPLES, P
from bowfem._kernels.compiled import kernel, piece, shared

MAX_CONTACTS = 6
MAX_CUTS = 2 * MAX_CONTACTS
MAX_BORDER = 2 + MAX_CONTACTS

# Control: load factor, the point the string is drawn to, the string's length.
LOAD, POINT_X, POINT_Y, LENGTH = range(4)

# Unknowns of a node in band order: position, rotation, and the force of the element that follows.
NODE = 5
X, Y, PSI, FX, FY = range(NODE)
KL = 7  # half bandwidth: (x, y, psi) of two nodes and the force between them
DIAG = 2 * KL
WIDTH = 3 * KL + 1

# Columns of `rhs`: the residual, then those of the border unknowns, then the path's, two where a
# free end moves in two directions. Solved for, the first two are the Newton step and the rate.
RESIDUAL, BORDER = 0, 1
STEP, RATE = 0, 1
# Columns of `border` after those of its own unknowns.
BORDER_PATH, BORDER_RESIDUAL = MAX_BORDER, MAX_BORDER + 1

# A piece of contact has an outer and an inner end; each is a base element and a coordinate in it.
OUTER, INNER = range(2)
ELEMENT, XI = range(2)

# `prop`: an active Gauss point's properties.
THETA0, KAPPA0, STRETCH, SHEAR, BELLY, BELLY_SLOPE = range(6)
# `kin`: cosine and sine of the rod's angle, k, kappa, the stretch vector v, the string's direction
# u and the length of a (see `energy`), and the force in the rod's frame, the string's included.
COS, SIN, BENDING, KAPPA, V1, V2, U1, U2, SIZE, N_ALL, Q_ALL = range(11)
# `load`: distributed force, its part per load factor, pressure.
LOAD_X, LOAD_Y, LOAD_RATE_X, LOAD_RATE_Y, PRESSURE = range(5)

# What is read off a state, a Gauss point: k, M, N, Q, whether wrapped, the string's angle if so ...
POINT_K, POINT_M, POINT_N, POINT_Q, POINT_WRAPPED, POINT_ANGLE = range(6)
POINT_SLOTS = 6
# ... and once: tension; energy of bending, of stretch and shear, of the string; where the string's
# last straight piece leaves the rod; the largest share of the laws' reach.
TENSION, BEND_ENERGY, STRETCH_ENERGY, STRING_ENERGY, LEAVES_X, LEAVES_Y, SHARE = range(7)
SCALAR_SLOTS = 7


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
        "spread": int,
    },
)
_string = shared(
    "StringRef",
    {"present": int, "on_surface": int, "along": float, "across": float, "compliance": float},
)

# Active mesh (base elements cut where contact ends) and the state on it.
_mesh = shared(
    "Mesh",
    {
        "active": int,  # number of active elements
        "pieces": int,  # of contact ...
        "lost": int,  # ... and of those just lost, whose cuts are kept
        "base": -1,
        "xi": 2,  # (na, 2) span in the base element
        "h": 1,
        "wrapped": -1,
        "first": -1,  # (ne+1,) active node of each base node
        "weight": 3,  # (na, P, P) base Gauss values to active ones, cut elements only
        "prop": 3,  # (na, P, 6)
        "psi": 2,  # (na, P+1)
        "r": 2,  # (na+1, 2)
        "G": 2,  # (na, 2)
        "T": float,
        "kin": 3,  # (na, P, 11)
        "load": 3,  # (na, P, 5)
        "z": 3,  # (na, P, 2) derivative of position
        "contact": 3,  # (MAX_CONTACTS, 2, 2) piece, end, (element, xi); then those lost
        "node": -2,  # (MAX_CONTACTS, 2) active nodes, outer and inner
    },
)

# Scratch of one solve.
_work = shared(
    "Work",
    {
        "band": 2,
        "rhs": 2,
        "row": 2,  # border rows by the band's unknowns
        "border": 2,
        "path": 1,  # rate of the band's residual
        "pivot": -1,
        "viscous": int,
        "scale": float,  # of the law, where there are viscous branches beside it
        "felt": 3,  # (ne, P, 2) what the branches add to moment: at no bending, per bending
        "local": 2,
        "inner": 3,  # (na, 3, 7) what recovers each element's inner rotations
        "react": 2,
        "reference": 2,
        "arm": 2,  # (2, 2) from the node to the string's outer and inner end
        "along": 1,  # a straight piece's length by (x, y, psi) of the node at an end ...
        "across": 1,  # ... and its turn, times its length
        "leaves_x": float,
        "leaves_y": float,
        "T_rate": float,
        "mu_rate": float,
        "sample": 2,  # belly surface, the string's attachment, the point it is drawn to
        "chain": -1,
        "run": -2,  # (MAX_CONTACTS, 2) first and last sample of a piece
    },
)


@piece
def new_mesh(ne):
    """Allocate an active mesh for ``ne`` base elements."""
    na = ne + MAX_CUTS
    m = _mesh()
    m.active = m.pieces = m.lost = 0
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
    m.T = 0.0
    m.kin = np.zeros((na, P, 11))
    m.load = np.zeros((na, P, 5))
    m.z = np.zeros((na, P, 2))
    m.contact = np.zeros((MAX_CONTACTS, 2, 2))
    m.node = np.zeros((MAX_CONTACTS, 2), np.int64)
    return m


@piece
def new_work(reference):
    """Allocate the scratch for a base mesh with these reference nodes."""
    ne = reference.shape[0] - 1
    n = NODE * (ne + MAX_CUTS) + 3
    w = _work()
    w.band = np.zeros((n, WIDTH))
    w.rhs = np.zeros((n, 2 + MAX_BORDER))
    w.row = np.zeros((MAX_BORDER, n))
    w.border = np.zeros((MAX_BORDER, MAX_BORDER + 2))
    w.path = np.zeros(n)
    w.pivot = np.zeros(n, np.int64)
    w.viscous, w.scale, w.felt = 0, 1.0, np.zeros((ne, P, 2))
    w.local = np.zeros((10, 10))
    w.inner = np.zeros((ne + MAX_CUTS, 3, 7))
    w.react = np.zeros((ne + 1, 3))
    w.reference = reference
    w.arm = np.zeros((2, 2))
    w.along = np.zeros(3)
    w.across = np.zeros(3)
    w.leaves_x = w.leaves_y = w.T_rate = w.mu_rate = 0.0
    w.sample = np.zeros((ne * SAMPLES + 3, 2))
    w.chain = np.zeros(ne * SAMPLES + 3, np.int64)
    w.run = np.zeros((MAX_CONTACTS, 2), np.int64)
    return w


@piece
def share_model(model):
    """Put the caller's model where kernels pass it as one pointer."""
    m = _model()
    m.h, m.theta0, m.kappa0, m.EI = model.h, model.theta0, model.kappa0, model.EI
    m.knot, m.reach, m.moment = model.knot, model.reach, model.moment
    m.tangent, m.energy = model.tangent, model.energy
    m.stretch, m.shear, m.belly = model.stretch, model.shear, model.belly
    m.belly_slope, m.reference = model.belly_slope, model.reference
    return m


@piece
def share_loads(loads):
    """Put the caller's loads where kernels pass them as one pointer."""
    m = _loads()
    m.dead, m.follower, m.line, m.pressure = loads.dead, loads.follower, loads.line, loads.pressure
    m.spring, m.value = loads.spring, loads.value
    m.fixed = loads.fixed.astype(np.int64)
    m.spread = 1 if loads.spread else 0
    return m


@piece
def share_string(string):
    """Put the caller's string where kernels pass it as one pointer."""
    m = _string()
    m.present = 1 if string.present else 0
    m.on_surface = 1 if string.on_surface else 0
    m.along, m.across, m.compliance = string.along, string.across, string.compliance
    return m


@kernel
def clear(a, rows, columns):
    """Set a matrix's first rows and columns to zero; a loop compiles far faster than a slice."""
    for i in range(rows):
        for j in range(columns):
            a[i, j] = 0.0
