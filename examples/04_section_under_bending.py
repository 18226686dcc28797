"""Bend one section of pressed pipe: how its outline gives way, and what that costs.

Run it: python examples/04_section_under_bending.py
"""

import numpy as np
from matplotlib.figure import Figure

from bowfem import Pipe
from bowfem.findings import SectionState
from bowfem.section import RIGID_PVC
from bowfem.show import moment_curvature, section_picture


def run(size: str = "3/4 in Sch 40", thickness: float = 11e-3, strain: float = 0.03):
    """Return the section, bent until its surface would strain so much, and the moment it lost."""
    state = SectionState.from_pipe(Pipe.from_size(size), thickness, RIGID_PVC, strain)
    gives, kept = state.response, state.rigid
    moments = [np.interp(state.curvature, each.curvature, each.moment) for each in (gives, kept)]
    return state, 1.0 - moments[0] / moments[1]


def picture(state: SectionState) -> Figure:
    figure = Figure(figsize=(7.6, 8.6))
    moment_curvature(state, figure.add_axes((0.12, 0.61, 0.78, 0.28)))
    section_picture(state, figure.add_axes((0.12, 0.12, 0.66, 0.30)))
    return figure


if __name__ == "__main__":
    state, lost = run()
    print(f"at 3 % surface strain flattening costs {100 * lost:.1f} % of the moment")
    print(f"largest crosswise stress {np.max(np.abs(state.stress.crosswise)) / 1e6:.1f} MPa")
    picture(state).savefig("section_under_bending.png", dpi=80)
