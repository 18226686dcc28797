"""Clamped-free strut far past buckling, the end slope given and the load found."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, pick, reference
from bowfem.rod import Force, Rod, clamp, displace, follow

TABLE = columns(reference("04")["rows"])
SPECIAL = reference("04")["special"]
FARTHEST = SPECIAL["max_deflection"]
#: Where the end is back above the clamp, and where it is farthest aside, among the rows.
ASIDE, BACK = FARTHEST["alpha_deg"], SPECIAL["ends_meet_alpha_deg"]
SLOPES = np.radians(np.sort(np.append(TABLE["alpha_deg"], [ASIDE, BACK])))


def run(n_elements: int) -> Mapping[str, Array]:
    """Bend into an arc of the first slope, from there to the buckled branch; load over Euler's."""
    rod = Rod.straight(1.0, n_elements, EI=1.0)
    arc = follow(rod, [clamp(0)], [Force(couple=SLOPES[0])])
    thrust = Force(x=-(np.pi**2) / 4)
    path = displace(rod, [clamp(0)], [thrust], -1, "turn", SLOPES, start=arc)
    rows = np.isin(SLOPES, np.radians(TABLE["alpha_deg"]))
    aside, back = (int(np.argmin(abs(SLOPES - np.radians(a)))) for a in (ASIDE, BACK))
    return {
        "P": path.factor[rows],
        "x": path.tip[rows, 0],
        "y": path.tip[rows, 1],
        "farthest aside": np.array([path.factor[aside], path.tip[aside, 1]]),
        "end above clamp": np.array([path.factor[back], path.tip[back, 0]]),
    }


CASE = Case(
    title="strut past buckling, end slope 20 to 176 deg",
    source="Timoshenko, Gere, Theory of Elastic Stability, 1961, table of the elastica",
    kind="recomputed digits (elliptic integrals; printed digits from memory)",
    expected=pick(TABLE, P="P_Pcr", x="xa_l", y="ya_l")
    | {
        "farthest aside": np.array([FARTHEST["P_Pcr"], FARTHEST["ya_l"]]),
        "end above clamp": np.array([SPECIAL["P_Pcr"], 0.0]),
    },
    run=run,
    tolerance=1e-8,
    reason="discretisation; the rod is nearly a loop at 176 deg",
    n_elements=16,
    floor=0.1,
    coarse=8,
    order=6.0,
)
