"""Cantilever bent round a rigid circle by a dead tip load: lift-off, and what the circle carries.

The part on the circle has the circle's curvature and needs no solving. The free part is a
cantilever clamped along the circle's tangent; where it lifts off is where its own bending moment
there is that of the circle. No contact code of the package takes part.
"""

from collections.abc import Mapping

import numpy as np
from scipy.optimize import brentq

from benchmarks.cases import TIGHT, Array, Case, columns, reference
from bowfem.rod import Force, Path, Rod, clamp, follow

ONSET = columns(reference("11", "wrap_on_circle_onset"))
TABLE = columns(reference("11", "wrap_on_circle"))


def free_part(n_elements: int, radius: float, load: float, angle: float) -> Path:
    """Bend what is left of the unit length after wrapping through `angle`."""
    origin = (radius * np.sin(angle), radius * (1.0 - np.cos(angle)))
    nodes = np.linspace(0.0, 1.0 - radius * angle, n_elements + 1)
    rod = Rod.from_curvature(nodes, EI=1.0, origin=origin, angle=angle)
    return follow(rod, [clamp(0)], [Force(y=load)], settings=TIGHT)


def root_moment(path: Path) -> float:
    """Bending moment at the clamp."""
    return -float(path.reaction[0, 0, 2])


def run(n_elements: int) -> Mapping[str, Array]:
    """Root moment at the onset; lift-off angle, tip over L and force over the load beyond."""
    begin = [
        root_moment(free_part(n_elements, r, p, 0.0)) * r
        for r, p in zip(ONSET["R_L"], ONSET["PL2_EI_onset"], strict=True)
    ]
    found = []
    for r, p in zip(TABLE["R_L"], TABLE["PL2_EI"], strict=True):

        def beyond(angle: float, r=r, p=p) -> float:
            return root_moment(free_part(n_elements, r, p, angle)) - 1.0 / r

        angle = float(np.asarray(brentq(beyond, 0.0, 0.95 / r, xtol=1e-13)))
        path = free_part(n_elements, r, p, angle)
        # what the wrapped part holds the free part with: the circle pushes with its shear at the
        # lift-off, and presses with its pull over R before
        held, c, sine = path.reaction[0, 0, :2] / p, np.cos(angle), np.sin(angle)
        push, pull = held @ [sine, -c], -held @ [c, sine]
        found.append([angle, angle + path.turn[0, -1], *path.tip[0], push, pull])
    return {"moment at onset": np.array(begin)} | dict(zip(NAMES, np.array(found).T, strict=True))


NAMES = {
    "angle": "phi",
    "theta": "theta_L",
    "x": "x_L",
    "w": "w_L",
    "lift-off force": "liftoff_force_over_P",
    "pressure": "pressure_LR_over_P",
}

CASE = Case(
    title="cantilever wrapped on a circle, lift-off",
    source="first integral by quadrature, 3 onsets and 15 loads; Frisch-Fay, Flexible Bars, 1962",
    kind="recomputed digits (11)",
    expected={"moment at onset": np.ones(3)} | {new: TABLE[old] for new, old in NAMES.items()},
    run=run,
    tolerance=1e-9,
    reason="eleven digits of the reference; a lift-off angle amplifies a moment's error ten times",
    n_elements=4,
    floor=1.0,
    coarse=1,
    order=6.0,
)
