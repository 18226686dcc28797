"""Lee's frame: its whole load path, the sideways displacement of the load given."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.rod import Force, Rod, displace, follow, pin

TABLE = columns(reference("08", "inext_path"))


def run(n_elements: int) -> Mapping[str, Array]:
    """Follow the frame to every row; load over EI/L^2, drop over L and angle at the load.

    The load does not move sideways at first, so the first row's load is given instead.
    """
    frame = Rod.polyline([[0, 0], [0, 1], [0.2, 1], [1, 1]], n_elements, EI=1.0)
    at = 2 * n_elements
    held, load = [pin(0), pin(-1)], [Force(node=at, y=-1.0)]
    first = follow(frame, held, load, TABLE["PL2_EI"][:1])
    path = displace(frame, held, load, at, "x", TABLE["u_L"][1:], start=first)
    parts = (first, path)
    return {
        "P": np.concatenate([part.factor for part in parts]),
        "v": np.concatenate([1.0 - part.nodes[:, at, 1] for part in parts]),
        "theta": np.concatenate([part.turn[:, at] for part in parts]),
    }


CASE = Case(
    title="Lee's frame, load path through both limits",
    source="shooting with continuation, 25 states; Lee, Manuel, Rossow, 1968 (from memory)",
    kind="recomputed digits (9)",
    expected={"P": TABLE["PL2_EI"], "v": TABLE["v_L"], "theta": TABLE["theta"]},
    run=run,
    tolerance=1e-7,
    reason="nine digits of the reference, given and compared",
    n_elements=8,
    floor=1.0,
    coarse=1,
    order=4.0,
)
