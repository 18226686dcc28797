"""The straight pieces of string: from the end to the rod, over hollows, and to the drawn point."""

import math

from bowfem._kernels.compiled import kernel, part
from bowfem._kernels.records import (
    BORDER,
    BORDER_PATH,
    BORDER_RESIDUAL,
    DIAG,
    ELEMENT,
    INNER,
    NODE,
    OUTER,
    POINT_X,
    POINT_Y,
    PSI,
    RESIDUAL,
    XI,
)
from bowfem._kernels.surface import frame


@part
def add(band, i, j, value):
    """Add to entry (i, j) of the banded matrix, stored by columns."""
    band[j, DIAG + i - j] += value


@kernel
def length_slopes(work, arm, sign, ux, uy):
    """Fill the derivatives of a piece's length, and of its turn times its length, by an end's node.

    ``arm``: from the node to the end, which a rotation psi moves by ``psi (-arm_y, arm_x)``.
    ``sign``: 1 at the outer end, -1 at the inner; (ux, uy): from there to here.
    """
    work.along[0], work.along[1] = sign * ux, sign * uy
    work.along[2] = sign * (uy * arm[0] - ux * arm[1])
    work.across[0], work.across[1] = -sign * uy, sign * ux
    work.across[2] = sign * (ux * arm[0] + uy * arm[1])


@kernel
def strand(work, bridge, o, i, dx, dy, T, dc):
    """Add one straight piece of string, ``(dx, dy)`` long, to the system.

    Its energy is T times its length l, and with ``g`` the derivatives of l by an end's
    (x, y, psi), the force is T g. The stiffness is ``T/l h h^T``, h the turn times l, and T times
    the second derivative of l by psi at either end.

    ``o``, ``i``: the nodes at its outer and inner end; ``work.arm`` leads from there to the string.
    ``bridge``: the border unknown of a piece between two contacts, which are far apart in the
    band: scaled by the root of T/l, it is what ``h`` turns by. It is 0 for the last piece, whose
    inner end is the point drawn to, moving with ``dc``.
    """
    size = math.sqrt(dx * dx + dy * dy)
    ux, uy = dx / size, dy / size
    stiff = T / size
    w = math.sqrt(abs(stiff))
    drawn_x, drawn_y = dc[POINT_X], dc[POINT_Y]
    band, rhs, row, path = work.band, work.rhs, work.row, work.path
    along, across = work.along, work.across
    for end in range(2 if bridge else 1):
        sign = 1.0 - 2.0 * end
        arm = work.arm[end]
        n = NODE * (i if end else o)
        length_slopes(work, arm, sign, ux, uy)
        add(band, n + PSI, n + PSI, -T * sign * (ux * arm[0] + uy * arm[1]))
        turned = (uy * drawn_x - ux * drawn_y) * sign * stiff
        for p in range(3):
            rhs[n + p, RESIDUAL] += T * along[p]
            rhs[n + p, BORDER] += along[p]
            row[0, n + p] += along[p]
            if bridge:
                row[bridge, n + p] += w * across[p]
                rhs[n + p, BORDER + bridge] += w * across[p]
            else:
                path[n + p] += turned * across[p]
                for q in range(3):
                    add(band, n + p, n + q, stiff * across[p] * across[q])
    if bridge:
        work.border[bridge, bridge] = -1.0 if stiff >= 0.0 else 1.0
    else:
        work.border[0, BORDER_PATH] -= ux * drawn_x + uy * drawn_y
    work.border[0, BORDER_RESIDUAL] += size


@kernel
def tie(model, mesh, e, x, n, along, across, arm):
    """Point fixed in the rod's frame at node ``n``: its position; ``arm`` leads there."""
    th, _ = frame(model, mesh, e, x)
    c, s = math.cos(th), math.sin(th)
    arm[0], arm[1] = along * c - across * s, along * s + across * c
    return mesh.r[n, 0] + arm[0], mesh.r[n, 1] + arm[1]


@kernel
def tie_contact(model, mesh, work, k, side, at):
    """Point on the belly where a piece of contact ends; ``work.arm[at]`` leads there."""
    e, x = int(mesh.contact[k, side, ELEMENT]), mesh.contact[k, side, XI]
    _, b = frame(model, mesh, e, x)
    return tie(model, mesh, e, x, mesh.node[k, side], 0.0, b, work.arm[at])


@kernel
def add_strands(model, string, mesh, work, c, dc):
    """Add all straight pieces of string; return the number of border unknowns."""
    last = model.h.shape[0] - 1
    o = mesh.active
    px, py = tie(model, mesh, last, 1.0, o, string.along, string.across, work.arm[OUTER])
    border = 1
    nc = mesh.pieces
    for k in range(nc + 1):
        if k > 0 or nc == 0 or not string.on_surface:  # else the string starts on the rod
            bridge = border if k < nc else 0
            i, qx, qy = o, c[POINT_X], c[POINT_Y]
            if bridge:
                i = mesh.node[k, OUTER]
                qx, qy = tie_contact(model, mesh, work, k, OUTER, INNER)
                border += 1
            strand(work, bridge, o, i, px - qx, py - qy, mesh.T, dc)
        if k < nc:
            o = mesh.node[k, INNER]
            px, py = tie_contact(model, mesh, work, k, INNER, OUTER)
    work.leaves_x, work.leaves_y = px, py
    return border
