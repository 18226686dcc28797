"""The wall of a section stretched along and across: what bending round the section costs.

Each point of the wall is in plane stress, along the limb (x) and round the section (t). Its energy

    W(x, t) = S(n) + f(r) D(n),   n^2 = (x^2 + t^2 + 2 nu x t) / (1 - nu^2),
    r = (x + t) / (1 - nu) / n,   f(r) = r (15 - 10 r^2 + 3 r^4) / 8 within +-1, else its sign

is that of a law known in tension and in compression, F+ and F-: S is their mean and D half their
difference. `n` is the strain that alone would store as much in an elastic wall; r, one in tension
and minus one in compression, tells how much of either the state is. f is flat at both, so that
under stress along the limb alone t = -nu x, n = |x|, and W = F+(x) or F-(-x), exactly.

A point of the mid-wall has no force across, so its own crosswise strain m is the one of least
energy: it is found here, and condensed out of gradient and Hessian. Across, the strain is that of
a thin bent plate, ``t = m + c z``; along, that of the mid-wall. Its change through the wall would
make sections stiffer than solid models of them are, by 1 to 2 per cent; what else a thin wall
leaves out makes them softer, and left out together they nearly cancel.
"""

import numpy as np

from bowfem._kernels.compiled import entry, kernel

#: Iterations for the crosswise strain, and its last step over the strain: quadratic, so exact.
ITERATIONS, LAST_STEP = 40, 1e-7
#: Curvature of a formed wall over that with no inner radius, at most.
SHARP = 0.85
#: Rows of a law's table: S and D with two derivatives each.
S, S1, S2, D, D1, D2 = range(6)


@kernel
def read(table, step, n, out):
    """Read S and D with two derivatives at n >= 0: quintics through the knots; then parabolas."""
    last = table.shape[1] - 1
    i = int(n / step)
    if i >= last:
        u = n - last * step
        for k in (0, 3):
            v, d, c = table[k, last], table[k + 1, last], table[k + 2, last]
            out[k], out[k + 1], out[k + 2] = v + u * (d + 0.5 * u * c), d + u * c, c
        return
    u = n / step - i
    for k in (0, 3):
        v0, v1 = table[k, i], table[k, i + 1]
        d0, d1 = table[k + 1, i] * step, table[k + 1, i + 1] * step
        c0, c1 = table[k + 2, i] * step * step, table[k + 2, i + 1] * step * step
        rise = v1 - v0 - d0 - 0.5 * c0
        turn = d1 - d0 - c0
        bend = c1 - c0
        a3 = 10.0 * rise - 4.0 * turn + 0.5 * bend
        a4 = -15.0 * rise + 7.0 * turn - bend
        a5 = 6.0 * rise - 3.0 * turn + 0.5 * bend
        out[k] = v0 + u * (d0 + u * (0.5 * c0 + u * (a3 + u * (a4 + u * a5))))
        out[k + 1] = (d0 + u * (c0 + u * (3.0 * a3 + u * (4.0 * a4 + u * 5.0 * a5)))) / step
        out[k + 2] = (c0 + u * (6.0 * a3 + u * (12.0 * a4 + u * 20.0 * a5))) / (step * step)


@kernel
def plane(table, step, nu, x, t, q, g):
    """Energy of a point less that of x alone, and its derivatives: g = value, x, t, xx, xt, tt."""
    minor, one = 1.0 - nu * nu, 1.0 / (1.0 - nu)
    n = np.sqrt((x * x + t * t + 2.0 * nu * x * t) / minor)
    read(table, step, n, q)
    if n < 1e-12:  # at rest: the law's first slope
        g[0], g[1], g[2] = q[S], 0.0, 0.0
        g[3], g[4], g[5] = q[S2] * (1.0 / minor - 1.0), q[S2] * nu / minor, q[S2] / minor
        return
    nx, nt = (x + nu * t) / (minor * n), (t + nu * x) / (minor * n)
    nxx, nxt, ntt = (1 / minor - nx * nx) / n, (nu / minor - nx * nt) / n, (1 / minor - nt * nt) / n
    r = (x + t) * one / n
    f, f1, f2 = 1.0 if r > 0.0 else -1.0, 0.0, 0.0
    if abs(r) < 1.0:
        r2 = r * r
        f = 0.125 * r * (15.0 + r2 * (3.0 * r2 - 10.0))
        f1 = 1.875 * (1.0 - r2) ** 2
        f2 = -7.5 * r * (1.0 - r2)
    rx, rt = (one - r * nx) / n, (one - r * nt) / n
    slope, curve, across = q[S1] + f * q[D1], q[S2] + f * q[D2], f1 * q[D]
    g[0] = q[S] + f * q[D]
    g[1] = slope * nx + across * rx
    g[2] = slope * nt + across * rt
    both, twice = f1 * q[D1], f2 * q[D]
    g[3] = curve * nx * nx + slope * nxx + 2.0 * both * rx * nx + twice * rx * rx
    g[3] -= across * (2.0 * rx * nx + r * nxx) / n
    g[4] = curve * nx * nt + slope * nxt + both * (rx * nt + rt * nx) + twice * rx * rt
    g[4] -= across * (rx * nt + rt * nx + r * nxt) / n
    g[5] = curve * nt * nt + slope * ntt + 2.0 * both * rt * nt + twice * rt * rt
    g[5] -= across * (2.0 * rt * nt + r * ntt) / n
    read(table, step, abs(x), q)
    sign = 1.0 if x >= 0.0 else -1.0
    g[0] -= q[S] + sign * q[D]
    g[1] -= sign * q[S1] + q[D1]
    g[3] -= q[S2] + sign * q[D2]


@kernel
def nearer(at, force, rate, low, high, size):
    """Next Newton iterate for a growing force, kept inside its bracket and limited in length."""
    far = 0.5 * size + 1e-12
    new = at - min(max(force / rate, -far), far) if rate > 0.0 else (at - far * np.sign(force))
    return new if low <= new <= high else 0.5 * (low + high)


@entry
def bent_wall(table, step, nu, strain, lever, depth, share, change):
    """Return what bending round the section costs at every point of every mid-wall.

    Parameters
    ----------
    table, step :
        A law's S, S', S'', D, D', D'' over its modulus on knots a step apart, (6, n).
    nu :
        Poisson's ratio.
    strain, lever : (b, m)
        Strain of the mid-wall along the limb, and its rate by p, see below.
    depth : (b, n_wall)
        Distance of points through the wall from the mid-wall.
    share : (n_wall,)
        Weights through the wall.
    change : (b, m)
        Change of the wall's curvature, c.

    Returns
    -------
    (7, b, m)
        Energy h over modulus and wall; its derivatives by p and c, where the strain is
        ``lever (p + ...)``: hp, hc, hpp, hpc, hcc; crosswise strain m of the mid-wall.
    """
    b, m = strain.shape
    out = np.empty((7, b, m))
    q, g = np.empty(6), np.empty(6)
    for i in range(b):
        for j in range(m):
            x, c, by = strain[i, j], change[i, j], lever[i, j]
            size = abs(x) + 0.5 * abs(c)
            middle, low, high = -nu * x, -np.inf, np.inf
            for _ in range(ITERATIONS):
                force, rate = 0.0, 0.0
                for k in range(len(share)):
                    plane(table, step, nu, x, middle + depth[i, k] * c, q, g)
                    force += share[k] * g[2]
                    rate += share[k] * g[5]
                low, high = (middle, high) if force < 0.0 else (low, middle)
                new = nearer(middle, force, rate, low, high, size)
                move = middle - new
                middle = new
                if not abs(move) > LAST_STEP * size:
                    break
            h, hx, hc, hm = 0.0, 0.0, 0.0, 0.0
            xx, xc, cc, xm, cm, mm = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
            for k in range(len(share)):
                z, w = depth[i, k], share[k]
                plane(table, step, nu, x, middle + z * c, q, g)
                h += w * g[0]
                hx += w * g[1]
                hc += w * z * g[2]
                hm += w * g[2]
                xx += w * g[3]
                xc += w * z * g[4]
                cc += w * z * z * g[5]
                xm += w * g[4]
                cm += w * z * g[5]
                mm += w * g[5]
            # what is left of the force across is taken out to first order
            left = hm / mm
            out[0, i, j] = (h - 0.5 * hm * left) / by
            out[1, i, j] = hx - xm * left
            out[2, i, j] = (hc - cm * left) / by
            out[3, i, j] = (xx - xm * xm / mm) * by
            out[4, i, j] = xc - xm * cm / mm
            out[5, i, j] = (cc - cm * cm / mm) / by
            out[6, i, j] = middle - left
    return out


@entry
def thick_wall(table, step, nu, strain, change, bend, depth, share):
    """Return strain and stress round the section through a wall that was formed curved.

    The strain of a thick curved bar, ``-nu x + (m + c z) / (1 + z b)`` with b the wall's curvature
    as formed, m such that there is no force across. Such a bar is also stiffer than a thin one, by
    ``6 (1 / (2 s) - 1 / ln((1 + s) / (1 - s))) / s`` with ``s`` half its thickness times b. The
    square root of it is taken off the change of curvature: half way between an edge that is given
    its moment and one that is given its turn, and within a tenth of solid models (D). A wall folded
    nearly sharp is taken as one with an inner radius left (`SHARP`): of a crease no stress can be
    told.

    Parameters
    ----------
    table, step, nu :
        As in `bent_wall`.
    strain, change, bend : (n,)
        Of the mid-wall: strain along the limb, change of curvature, curvature as formed.
    depth, share : (n_depth,)
        Distances from the mid-wall, that of the outer surface last, and weights through the wall,
        which may be zero.

    Returns
    -------
    (3, n, n_depth)
        Strain across; stress across, and what it adds to the stress along, over the modulus.
    """
    n, n_depth = len(strain), len(depth)
    out = np.empty((3, n, n_depth))
    q, g = np.empty(6), np.empty(6)
    sharp = SHARP / depth[n_depth - 1]
    for i in range(n):
        x, c, b = strain[i], change[i], min(max(bend[i], -sharp), sharp)
        half = b * depth[n_depth - 1]
        if abs(half) > 0.05:
            off = 0.5 / half - 1.0 / np.log((1.0 + half) / (1.0 - half))
            c /= np.sqrt(6.0 * off / half)
        middle, free, low, high = 0.0, -nu * x, -np.inf, np.inf
        size = abs(x) + abs(c * depth[n_depth - 1])
        for _ in range(ITERATIONS):
            force, rate = 0.0, 0.0
            for k in range(n_depth):
                if share[k] > 0.0:
                    by = 1.0 / (1.0 + depth[k] * b)
                    plane(table, step, nu, x, free + (middle + c * depth[k]) * by, q, g)
                    force += share[k] * g[2]
                    rate += share[k] * g[5] * by
            low, high = (middle, high) if force < 0.0 else (low, middle)
            new = nearer(middle, force, rate, low, high, size)
            move = middle - new
            middle = new
            if not abs(move) > LAST_STEP * size:
                break
        for k in range(n_depth):
            t = free + (middle + c * depth[k]) / (1.0 + depth[k] * b)
            plane(table, step, nu, x, t, q, g)
            out[0, i, k], out[1, i, k], out[2, i, k] = t, g[2], g[1]
    return out
