"""Elastic, perfectly plastic cantilever, rectangular, tip load up to 14/15 of collapse."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.rod import Force, MomentTable, Rod, clamp, follow

# at the collapse load, 1.5, the curvature at the root is infinite: no table reaches it
ROWS = columns(
    [row for row in reference("12", "elastoplastic_rect_cantilever") if row["P_Py"] < 1.5]
)
#: Yield moment and curvature are 1 and `SMALL`, so deflections are small.
SMALL, END, KNOTS = 1e-4, 3.0, 1201


def law(rod: Rod) -> MomentTable:
    """``M = k``, then ``1.5 - 0.5 / k^2`` beyond yield, over moment and curvature of yield."""
    k = np.linspace(-END, END, KNOTS)
    far = np.maximum(np.abs(k), 1.0)
    moment = np.where(np.abs(k) < 1.0, k, np.sign(k) * (1.5 - 0.5 / far**2))
    tangent = np.where(np.abs(k) < 1.0, 1.0, far**-3) / SMALL
    shape = (*rod.EI.shape, KNOTS)
    return MomentTable(
        *(np.broadcast_to(part, shape).copy() for part in (SMALL * k, moment, tangent))
    )


def run(n_elements: int) -> Mapping[str, Array]:
    """Load to each row; deflection over that at yield. A node stands where yielding ends."""
    found = []
    for load in ROWS["P_Py"]:
        yielded = 1.0 - 1.0 / load  # the moment falls to that of yield here
        nodes = np.concatenate(
            [
                np.linspace(0.0, yielded, n_elements + 1),
                np.linspace(yielded, 1.0, n_elements + 1)[1:],
            ]
        )
        rod = Rod.from_curvature(nodes, EI=1.0 / SMALL)
        path = follow(rod.with_table(law(rod)), [clamp(0)], [Force(y=1.0)], [load])
        found.append(path.tip[0, 1] / (SMALL / 3.0))
    return {"w": np.array(found)}


CASE = Case(
    title="elastic-plastic cantilever, deflection",
    source="w/wy = (5 - (3 + p) sqrt(3 - 2p)) / p^2, p = P/Py; rectangle",
    kind="closed form",
    expected={"w": ROWS["w_wy"]},
    run=run,
    tolerance=1e-7,
    reason="square of the small curvature, 1e-8; cells of the table",
    n_elements=8,
    coarse=1,
    order=4.0,
)
