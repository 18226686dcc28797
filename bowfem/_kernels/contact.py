"""The taut string on the belly side: where it touches the rod and where it leaves."""

import math

from bowfem._kernels.basis import SAMPLES
from bowfem._kernels.compiled import kernel
from bowfem._kernels.mesh import place
from bowfem._kernels.records import ELEMENT, INNER, MAX_CONTACTS, OUTER, XI
from bowfem._kernels.surface import sag, sample_belly, split, surface, turn

SNAP = 1e-6  # a contact end this near (in element lengths) to a node is the node
#: Hollows under the string shallower than this fraction of the rod's length are closed.
SHALLOW = 1e-6
EASY, HARD = 4, 6  # iterations after which contact is moved with care, or not at all if ...
STILL = 1e-3  # ... it lies this near, in element lengths, to where it was; later on ...
DEEP = 5e-5  # ... over a stretch straight to this share of the rod's length


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
    mesh.contact[i, side, ELEMENT], mesh.contact[i, side, XI] = e, x


@kernel
def copy_end(to, i, mesh, j, side):
    """Make the end of contact ``i`` of one mesh that of contact ``j`` of another."""
    to.contact[i, side, ELEMENT] = mesh.contact[j, side, ELEMENT]
    to.contact[i, side, XI] = mesh.contact[j, side, XI]


@kernel
def put_run(mesh, work, i, outer, inner, ne):
    """Store a piece of contact from sample ``outer`` to ``inner``, its ends not yet refined."""
    work.run[i, OUTER], work.run[i, INNER] = outer, inner
    for side in range(2):
        e, x = split(work.run[i, side], ne)
        put_contact(mesh, i, side, e, x, ne)


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
def taut_chain(work, last, on_surface):
    """Lay a convex chain from the attachment over the samples to ``p``; return its length less 1.

    ``work.chain`` takes its samples; the last is ``p``.
    """
    at, chain = work.sample, work.chain
    n = 1
    chain[0] = last if on_surface else last + 1
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
    return n - 1


@kernel
def find_pieces(model, mesh, work, n, loose):
    """Gather the chain's samples in pieces of contact; return whether all found room.

    Pieces with fewer samples than ``loose`` between them count as one.
    """
    ne = model.h.shape[0]
    chain = work.chain
    nc = p = 0
    while p < n and nc < MAX_CONTACTS:
        q = p
        if chain[p] <= ne * SAMPLES:
            while q + 1 < n and chain[q + 1] >= chain[q] - loose:
                q += 1
            put_run(mesh, work, nc, chain[p], chain[q], ne)
            nc += 1
        if nc < MAX_CONTACTS:
            k = missed(model, mesh, work.sample, chain[q], chain[q + 1])
            if k >= 0:
                put_run(mesh, work, nc, k, k, ne)
                nc += 1
        p = q + 1
    mesh.pieces = nc
    return p >= n


@kernel
def refine(model, mesh, work, i, side):
    """Find an end of a piece of contact on the smooth surface, by where the string goes next."""
    ne = model.h.shape[0]
    at = ne * SAMPLES + 1 + side
    qx, qy = work.sample[at, 0], work.sample[at, 1]
    j = i - 1 + 2 * side
    if 0 <= j < mesh.pieces:
        facing = 1 - side
        e, x = int(mesh.contact[j, facing, ELEMENT]), mesh.contact[j, facing, XI]
        qx, qy, _, _ = surface(model, mesh, e, x)
    e, x = lift_off(model, mesh, work.run[i, side], qx, qy, 1 - 2 * side)
    put_contact(mesh, i, side, e, x, ne)


@kernel
def find_contact(model, string, mesh, work, px, py):
    """Lay the taut string from the end's attachment to ``p`` along the belly side.

    A convex chain over surface samples gives the pieces of contact; their ends are then found on
    the smooth surface.
    """
    sample_belly(model, string, mesh, work, px, py)
    n = taut_chain(work, model.h.shape[0] * SAMPLES, string.on_surface)
    loose = 1
    while not find_pieces(model, mesh, work, n, loose) and loose <= SAMPLES:
        loose *= 2
    nc = mesh.pieces
    for _ in range(1 if nc == 1 else 5):  # an end between two pieces depends on the other
        for i in range(nc):
            if i > 0 or not string.on_surface:  # else the string starts at the rod's end
                refine(model, mesh, work, i, OUTER)
            refine(model, mesh, work, i, INNER)
            if place(mesh, i, OUTER) - place(mesh, i, INNER) < SNAP:  # a touch without length
                mesh.contact[i, INNER, ELEMENT] = mesh.contact[i, OUTER, ELEMENT]
                mesh.contact[i, INNER, XI] = mesh.contact[i, OUTER, XI]
    join(model, mesh)


@kernel
def join(model, mesh):
    """Merge neighbouring pieces of contact that meet: a free piece of no length has no direction.

    Also merge neighbours whose gap is shallower than SHALLOW; otherwise the gap opens and closes
    between iterations.
    """
    if mesh.pieces == 0:
        return
    n = 0
    for i in range(1, mesh.pieces):
        here, there = place(mesh, n, INNER), place(mesh, i, OUTER)
        if here - there >= SNAP and sag(model, mesh, here, there) > SHALLOW:
            n += 1
            copy_end(mesh, n, mesh, i, OUTER)
        copy_end(mesh, n, mesh, i, INNER)
    mesh.pieces = n + 1


@kernel
def renew_contact(model, mesh, flat, it):
    """Take over the contact found, and keep the cuts of contact lost since the last iteration.

    Return whether any end moved. A touch that comes and goes between iterations would otherwise see
    two meshes that may disagree on it for ever. The end of a contact can swing the same way, since
    cutting the mesh there shifts what the search sees: it is first moved halfway, then kept. The
    string's length is least where it is tangent, so an end off by d costs d^3 of length and d^2 of
    force.
    """
    nc, ne = flat.pieces, mesh.first.shape[0] - 1
    if it >= EASY and mesh.pieces == nc:
        for i in range(nc):
            for side in range(2):
                hold_back(model, mesh, flat, i, side, it)
    lost = 0
    for i in range(mesh.pieces + mesh.lost):
        was = place(mesh, i, OUTER)
        far = was < ne
        for k in range(nc):
            far = far and abs(place(flat, k, OUTER) - was) > 1.0
        if far and nc + lost < MAX_CONTACTS:
            for side in range(2):
                copy_end(flat, nc + lost, mesh, i, side)
            lost += 1
    moved = mesh.pieces != nc or mesh.lost != lost
    for i in range(nc + lost):
        for side in range(2):
            for j in (ELEMENT, XI):
                moved = moved or mesh.contact[i, side, j] != flat.contact[i, side, j]
            copy_end(mesh, i, flat, i, side)
    mesh.pieces, mesh.lost = nc, lost
    return moved


@kernel
def hold_back(model, mesh, flat, i, side, it):
    """Damp the move of a contact's end: halved at first; later, dropped if it is small."""
    last = mesh.first.shape[0] - 2
    e, x = int(mesh.contact[i, side, ELEMENT]), mesh.contact[i, side, XI]
    y = flat.contact[i, side, ELEMENT] - e + flat.contact[i, side, XI]
    far = abs(y - x) >= STILL
    if far and it > HARD:
        far = sag(model, flat, e + max(x, y), e + min(x, y)) > DEEP
    if it < HARD or far:
        x = 0.5 * (x + y)
    to = min(e + math.floor(x), last)
    put_contact(flat, i, side, to, x - (to - e), last + 1)
