"""Press a pipe to an outline of one's own, and let it flatten under load.

Run it: python examples/13_own_outline.py
"""

import numpy as np
from scipy.optimize import brentq

from bowfem.section import Outline, Pipe, SectionFamily


def turned(gathered: float, pipe: Pipe) -> Outline:
    """Gather the bend at the sides: its curvature goes as ``1 + gathered cos(pi u)``.

    Beyond 1 it is flat from a share ``1 / gathered`` of the quarter on.
    """
    curved, g = 1.0 / max(gathered, 1.0), min(gathered, 1.0)

    def turn(u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        v = np.minimum(u / curved, 1.0)
        share = v + g * np.sin(np.pi * v) / np.pi
        return share, (1.0 + g * np.cos(np.pi * v)) / curved * (u < curved)

    return Outline.from_quarter(pipe, turn, "gathered")


def gathered(pipe: Pipe, thickness: float) -> Outline:
    """Find how far to gather it for a thickness, m."""
    thickness = pipe.check_thickness(thickness)
    if thickness >= turned(0.0, pipe).thickness:
        return turned(0.0, pipe)
    return turned(brentq(lambda g: turned(g, pipe).thickness - thickness, 0.0, 60.0), pipe)


def main() -> None:
    """Compare it with the pipe pressed between plates."""
    pipe = Pipe.from_size("3/4 in Sch 40")
    for name, shape in (("own", {"shape": gathered}), ("between plates", {})):
        found = SectionFamily.from_pipe(pipe, **shape, n_thickness=6).at(20e-3)
        print(f"{name}: EI {float(found.bending_stiffness):.1f} N m2, folds at", end=" ")
        print(f"{float(found.moment.max()):.1f} N m")


if __name__ == "__main__":
    main()
