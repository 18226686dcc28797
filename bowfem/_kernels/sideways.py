"""Out of the plane: the second variation of planar states, banded, and the weakest shape of each.

Unknowns: roll and turn of each node of the polynomials in turn. The string, which ties the last
node's shift to a point, and a held shift are borders: shift is an integral along the rod.
"""

import math

import numpy as np

from bowfem._kernels.basis import GAUSS_COEF, GAUSS_W, GAUSS_X, SHAPE, SLOPE, P
from bowfem._kernels.compiled import entry, kernel
from bowfem._kernels.mesh import poly
from bowfem._kernels.path import put
from bowfem._kernels.solve import dense

# Unknowns of an element, by which the next one's begin, and the band below the diagonal.
LOCAL, NEXT = 2 * (P + 1), 2 * P
BELOW = LOCAL - 1
# What is read at a Gauss point.
K_NOW, V1, V2, N, Q, M, SIDE, TWIST = range(8)
# What is held: at the first node and at the last.
FIRST_ROLL, FIRST_TURN, LAST_ROLL, LAST_TURN, LAST_SHIFT = range(5)
# Borders: the string's spring, the held shift.
TIE, HELD = range(2)
#: Share of stiffness taken below which nothing is; its last change, and the bracket it is in, both
#: as shares of it; trials at most.
NOTHING, EXACT, BRACKET, TRIALS = 1e-6, 1e-10, 1e-4, 80


@kernel
def lay(fields, h, whole, rest, at, length):
    """Copy the fields of whole elements, and interpolate those of a part; return how many."""
    for e in range(whole):
        length[e] = h[e]
        for g in range(P):
            for j in range(8):
                at[e, g, j] = fields[e, g, j]
    if not rest > 0.0:
        return whole
    length[whole] = rest * h[whole]
    for g in range(P):
        for j in range(8):
            at[whole, g, j] = 0.0
        for i in range(P):
            w = poly(GAUSS_COEF, i, rest * GAUSS_X[g])
            for j in range(8):
                at[whole, g, j] += w * fields[whole, i, j]
    return whole + 1


@kernel
def add_point(at, w, h, g, K, G, part, twist, first):
    """Add a Gauss point to both bands, to the element's shift, and to what a twist does."""
    k, v1, v2, B, GJ = at[K_NOW], at[V1], at[V2], w * at[SIDE], w * at[TWIST]
    couple = w * at[M]
    roll2 = w * at[Q] * v2 - couple * k
    turn2 = w * at[N] * v1 - couple * k
    both = -0.5 * w * (at[N] * v2 + at[Q] * v1)
    for i in range(P + 1):
        s, d = SHAPE[g, i], SLOPE[g, i] / h
        roll, turn = first + 2 * i, first + 2 * i + 1
        part[2 * i] += w * v2 * s
        part[2 * i + 1] -= w * v1 * s
        twist[roll] += GJ * d
        twist[turn] -= GJ * k * s
        for j in range(i + 1):
            ss, dd = s * SHAPE[g, j], d * SLOPE[g, j] / h
            ds, sd = d * SHAPE[g, j], s * SLOPE[g, j] / h
            gap = 2 * (i - j)
            K[roll, gap] += GJ * dd + B * k * k * ss
            K[turn, gap] += GJ * k * k * ss + B * dd
            K[turn, gap + 1] += k * (B * ds - GJ * sd)
            G[roll, gap] += roll2 * ss
            G[turn, gap] += turn2 * ss
            # roll with turn' less turn with roll'
            G[turn, gap + 1] += 0.5 * couple * (sd - ds) + both * ss
            if j < i:
                K[roll, gap - 1] += k * (B * sd - GJ * ds)
                G[roll, gap - 1] += 0.5 * couple * (ds - sd) + both * ss


@kernel
def assemble(at, length, n, held, end, K, G, part, twist):
    """Fill bands, shift and twist of one state; return the number of unknowns."""
    size = NEXT * n + 2
    for i in range(size):
        twist[i] = 0.0
        for d in range(LOCAL):
            K[i, d] = G[i, d] = 0.0
    for e in range(n):
        for a in range(LOCAL):
            part[e, a] = 0.0
        for g in range(P):
            w = length[e] * GAUSS_W[g]
            add_point(at[e, g], w, length[e], g, K, G, part[e], twist, NEXT * e)
    G[size - 2, 0] += end[0]
    G[size - 1, 1] += end[1]
    G[size - 1, 0] += end[2]
    for i in range(4):
        if held[i]:
            fix(K, G, twist, size, i if i < 2 else size - 4 + i)
    return size


@kernel
def fix(K, G, twist, size, i):
    """Hold an unknown at nothing."""
    twist[i] = 0.0
    for d in range(LOCAL):
        K[i, d] = G[i, d] = 0.0
        if 0 < d < size - i:
            K[i + d, d] = G[i + d, d] = 0.0
    K[i, 0] = 1.0


@kernel
def shift_at_end(part, n, size, held, row):
    """Fill the row that reads the last node's shift."""
    for i in range(size):
        row[i] = 0.0
    for e in range(n):
        for a in range(LOCAL):
            row[NEXT * e + a] += part[e, a]
    for i in range(4):
        if held[i]:
            row[i if i < 2 else size - 4 + i] = 0.0


@kernel
def factor(K, G, share, size, low, pivot):
    """Factor ``share K + G``, banded and symmetric; return how many pivots are below zero."""
    below = 0
    row = np.zeros(LOCAL)
    for i in range(size):
        reach = min(i, BELOW)
        most = share * K[i, 0] + G[i, 0]
        for d in range(reach, 0, -1):
            j = i - d
            value = share * K[i, d] + G[i, d]
            for q in range(d + 1, min(reach, d + BELOW) + 1):
                value -= row[q] * low[j, q - d]
            row[d] = value
        for d in range(1, reach + 1):
            low[i, d] = row[d] / pivot[i - d]
            most -= row[d] * low[i, d]
        if most == 0.0:
            most = 1e-300
        pivot[i] = most
        if most < 0.0:
            below += 1
    return below


@kernel
def back(low, pivot, size, x):
    """Solve with the factors, in place."""
    for i in range(size):
        for d in range(1, min(i, BELOW) + 1):
            x[i] -= low[i, d] * x[i - d]
    for i in range(size):
        x[i] /= pivot[i]
    for i in range(size - 1, -1, -1):
        for d in range(1, min(i, BELOW) + 1):
            x[i - d] -= low[i, d] * x[i]


@kernel
def dot(a, b, size):
    """Return the product of two vectors."""
    total = 0.0
    for i in range(size):
        total += a[i] * b[i]
    return total


@kernel
def times(A, size, x, y):
    """Put ``A x`` in ``y``."""
    for i in range(size):
        y[i] = A[i, 0] * x[i]
        for d in range(1, min(i, BELOW) + 1):
            y[i] += A[i, d] * x[i - d]
            y[i - d] += A[i, d] * x[i]


@kernel
def tied(K, G, share, size, border, flex, low, pivot, lean, small):
    """Factor with the borders on top; return how many eigenvalues are below zero.

    A border `b` of flexibility `f` adds ``b b^T / f``; at `f = 0` it holds ``b . x`` at nothing; at
    an infinite one it does nothing. ``lean`` takes what the band makes of each, ``small`` the
    borders' own matrix.
    """
    below = factor(K, G, share, size, low, pivot)
    for m in range(2):
        for i in range(size):
            lean[m, i] = border[m, i]
        if math.isfinite(flex[m]):
            back(low, pivot, size, lean[m])
    for m in range(2):
        for n in range(2):
            small[m, n] = 0.0
            if math.isfinite(flex[m]) and math.isfinite(flex[n]):
                small[m, n] = -dot(border[m], lean[n], size)
        small[m, m] = small[m, m] - flex[m] if math.isfinite(flex[m]) else -1.0
    det = small[0, 0] * small[1, 1] - small[0, 1] * small[1, 0]
    if det < 0.0:
        return below - 1
    return below if small[0, 0] < 0.0 else below - 2


@kernel
def untie(border, flex, low, pivot, lean, small, size, x):
    """Solve with what `tied` has left, in place."""
    back(low, pivot, size, x)
    a = np.zeros((2, 3))
    for m in range(2):
        for n in range(2):
            a[m, n] = small[m, n]
        if math.isfinite(flex[m]):
            a[m, 2] = -dot(border[m], x, size)
    dense(a, 2, 1)
    for m in range(2):
        if math.isfinite(flex[m]):
            for i in range(size):
                x[i] -= lean[m, i] * a[m, 2]


@kernel
def rayleigh(K, G, size, border, flex, x, y):
    """Scale ``x`` to an elastic energy of 1; return the share of it that the forces take."""
    times(K, size, x, y)
    big = math.sqrt(dot(x, y, size))
    for i in range(size):
        x[i] /= big
    times(G, size, x, y)
    gained = dot(x, y, size)
    for m in range(2):
        if math.isfinite(flex[m]) and flex[m] > 0.0:
            gained += dot(border[m], x, size) ** 2 / flex[m]
    return -gained


@entry
def weakest(K, G, size, border, flex, x):
    """Find the largest share of stiffness that the forces take, and the shape ``x`` it is in.

    The least ``t`` above which ``t K + G`` has no eigenvalue below zero: from above by counting
    them, from below by Rayleigh's quotient of an inverse iteration shifted there. ``x`` is where it
    begins.
    """
    low, pivot = np.zeros((size, LOCAL)), np.zeros(size)
    lean, small, y = np.zeros((2, size)), np.zeros((2, 2)), np.zeros(size)
    stiff = loaded = 0.0
    for i in range(size):
        stiff, loaded = max(stiff, abs(K[i, 0])), max(loaded, abs(G[i, 0]), abs(G[i, 1]))
    if not loaded > 1e-14 * stiff:
        return 0.0
    found = rayleigh(K, G, size, border, flex, x, y)
    under, over = 0.0, 1.03 * max(found, NOTHING)
    while tied(K, G, over, size, border, flex, low, pivot, lean, small) > 0:
        under, over = over, 2.0 * over
    fresh = under == 0.0
    for _ in range(TRIALS):
        if not fresh:
            tied(K, G, over, size, border, flex, low, pivot, lean, small)
        times(K, size, x, y)
        put(x, y)
        untie(border, flex, low, pivot, lean, small, size, x)
        before, found = found, rayleigh(K, G, size, border, flex, x, y)
        moved = abs(found - before)
        if over < NOTHING:
            return 0.0
        if moved <= EXACT * over and over - found <= BRACKET * over:
            break
        # a little above what is known from below, or halfway
        low_end = max(found, under)
        trial = min(low_end + max(4.0 * moved, 0.1 * BRACKET * over), 0.5 * (low_end + over))
        fresh = tied(K, G, trial, size, border, flex, low, pivot, lean, small) == 0
        if fresh:
            over = trial
        else:
            under = trial
    return found


@entry
def solve(A, size, border, flex, x):
    """Solve ``(A + borders) x = load``, in place, refined twice; count eigenvalues below zero.

    What a border at no flexibility carries is left in the residual, and does nothing there.
    """
    low, pivot = np.zeros((size, LOCAL)), np.zeros(size)
    lean, small = np.zeros((2, size)), np.zeros((2, 2))
    load, y, rest = x.copy(), np.zeros(size), np.zeros(size)
    below = tied(A, A, 0.0, size, border, flex, low, pivot, lean, small)
    untie(border, flex, low, pivot, lean, small, size, x)
    for _ in range(2):
        times(A, size, x, y)
        for i in range(size):
            rest[i] = load[i] - y[i]
        for m in range(2):
            if math.isfinite(flex[m]) and flex[m] > 0.0:
                pull = dot(border[m], x, size) / flex[m]
                for i in range(size):
                    rest[i] -= pull * border[m, i]
        untie(border, flex, low, pivot, lean, small, size, rest)
        for i in range(size):
            x[i] += rest[i]
    return below


@entry
def states(
    fields, h, whole, rest, held, end, tie, flex, length, K, G, part, twist, border, share, shape
):
    """Assemble each state and find its weakest shape.

    ``fields`` (ns, ne, P, 8); ``whole``, ``rest`` (ns,): whole elements and part of the next one;
    ``end`` (ns, 3): what is added to roll roll, roll turn, turn turn of the last node; ``tie``
    (ns, 2): its place along the tangent and the normal; ``flex`` (ns,): of the string sideways.
    ``share`` (ns,), ``shape`` (ns, size) take the results; the other arrays are left as they are
    for the last state, whose unknowns' number is returned.
    """
    at = np.zeros((h.shape[0] + 1, P, 8))
    two = np.zeros(2)
    size = last = 0
    for s in range(fields.shape[0]):
        n = lay(fields[s], h, whole[s], rest[s], at, length)
        size = assemble(at, length, n, held, end[s], K, G, part, twist)
        shift_at_end(part, n, size, held, border[HELD])
        for i in range(size):
            border[TIE, i] = border[HELD, i]
        if not held[LAST_ROLL]:
            border[TIE, size - 2] += tie[s, 1]
        if not held[LAST_TURN]:
            border[TIE, size - 1] -= tie[s, 0]
        two[TIE] = flex[s]
        two[HELD] = 0.0 if held[LAST_SHIFT] else np.inf
        alike = s > 0 and size == last and share[s - 1] > 0.0
        for i in range(size):  # from the last state's shape, or one that leaves out none
            shape[s, i] = shape[s - 1, i] if alike else math.cos(0.7 * i)
        last = size
        share[s] = weakest(K, G, size, border, two, shape[s])
    return size
