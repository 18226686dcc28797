"""Deep circular arch of 215 degrees: whole load paths, and where it first sways.

Crown displacements of the paths are given and the loads found, so that the arches that sway before
their limit are followed as well. The hinged arch sways where a nudge at its crown meets no
resistance: the stiffness against it is extrapolated to zero from loads below.
"""

from collections.abc import Mapping

import numpy as np
from numpy.polynomial import Polynomial

from benchmarks.cases import TIGHT, Array, Case, columns, reference
from benchmarks.cases.c07_deep_arch import ANGLE
from bowfem.rod import Force, Rod, Support, clamp, displace, follow, guide, pin

CLAMPED_HINGED = columns(reference("07", "clamped_hinged_path"))
HINGED, CLAMPED = (
    columns(reference("07", f"{end}_path")) for end in ("hinged_hinged", "clamped_clamped")
)
SWAY = reference("07", "hinged_hinged_sway_bifurcation")
#: Loads below the sway, over EI/R^2, and a nudge whose square is nothing beside them.
BELOW, NUDGE = np.linspace(2.9, 3.2, 7), 1e-7


def whole(n_elements: int) -> Rod:
    """Build the arch, its crown at node `n_elements`."""
    nodes = np.linspace(0.0, ANGLE, 2 * n_elements + 1)
    return Rod.from_curvature(nodes, EI=1.0, curvature0=-1.0, angle=ANGLE / 2)


def half(n_elements: int) -> Rod:
    """Build its left half, for the symmetric branch."""
    nodes = np.linspace(0.0, ANGLE / 2, n_elements + 1)
    return Rod.from_curvature(nodes, EI=1.0, curvature0=-1.0, angle=ANGLE / 2)


def symmetric(n_elements: int, end: Support, down: Array) -> Array:
    """Load on the whole arch for crown displacements of its symmetric branch."""
    supports = [end, guide(-1, along="y")]
    return displace(half(n_elements), supports, [Force(y=-0.5)], -1, "y", -down).factor


def sway(n_elements: int) -> tuple[float, float, float]:
    """Load, crown displacement and thrust of the hinged arch where it is first free to sway."""
    rod, crown = whole(n_elements), n_elements
    loads = [Force(node=crown, y=-1.0), Force(node=crown, x=NUDGE, constant=True)]
    path = follow(rod, [pin(0), pin(-1)], loads, BELOW, settings=TIGHT)
    stiffness = NUDGE / (path.nodes[:, crown, 0] - rod.position0[crown, 0])
    left = Polynomial.fit(BELOW, stiffness, BELOW.size - 1).roots()
    load = float(min((z.real for z in left if z.imag == 0.0 and z.real > BELOW[0]), default=np.nan))
    arch = half(n_elements)
    straight = follow(arch, [pin(0), guide(-1, along="y")], [Force(y=-0.5)], [load], settings=TIGHT)
    down = float(arch.position0[-1, 1] - straight.tip[0, 1])
    return load, down, -float(straight.reaction[0, 0, 0])


def run(n_elements: int) -> Mapping[str, Array]:
    """Load on the arch over EI/R^2, displacements over R."""
    rod, crown = whole(n_elements), n_elements
    path = displace(
        rod, [clamp(0), pin(-1)], [Force(node=crown, y=-1.0)], crown, "y", -CLAMPED_HINGED["v_R"]
    )
    load, down, thrust = sway(n_elements)
    return {
        "P, clamped-hinged": path.factor,
        "u, clamped-hinged": path.nodes[:, crown, 0] - rod.position0[crown, 0],
        "P, hinged": symmetric(n_elements, pin(0), HINGED["v_R"]),
        "P, clamped": symmetric(n_elements, clamp(0), CLAMPED["v_R"]),
        "P, sway": np.array([load]),
        "v, sway": np.array([down]),
        "H, sway": np.array([thrust]),
    }


CASE = Case(
    title="deep arches, load paths and sway",
    source="shooting with continuation; posed by DaDeppo, Schmidt, 1969, 1975 (from memory)",
    kind="recomputed digits (9 on the paths, 8 of the sway)",
    expected={
        "P, clamped-hinged": CLAMPED_HINGED["PR2_EI"],
        "u, clamped-hinged": CLAMPED_HINGED["u_R"],
        "P, hinged": HINGED["PR2_EI"],
        "P, clamped": CLAMPED["PR2_EI"],
        "P, sway": SWAY["P"],
        "v, sway": SWAY["v_R"],
        "H, sway": SWAY["H_R2_EI"],
    },
    run=run,
    tolerance=1e-7,
    reason="eight digits of the reference's sway; discretisation of the paths",
    n_elements=8,
    floor=1.0,
    coarse=4,
    order=5.0,
)
