"""A frame of three rods: loaded until it sways to the side.

Run it: python examples/12_portal_frame.py
"""

import numpy as np

from bowfem.rod import Frame, FramePath, Joint, Rod

#: Load on each corner, over EI / L^2.
LOADS = (1.0, 3.0, 5.0, 7.0, 7.3, 7.45)


def portal(push: float = 0.0, stiff: float = 1e5) -> Frame:
    """Join two posts and a beam of unit length and stiffness, the feet held.

    `push` sideways at a corner, as a share of the load on it; `stiff`: EA over EI / L^2.
    """
    post = {"EI": 1.0, "EA": stiff, "angle": 0.5 * np.pi}
    rods = [
        Rod.straight(1.0, 4, **post),
        Rod.straight(1.0, 4, **post, origin=(1.0, 0.0)),
        Rod.straight(1.0, 4, EI=1.0, EA=stiff, origin=(0.0, 1.0)),
    ]
    joints = [
        Joint([(0, 0)], holds=("x", "y", "turn")),
        Joint([(1, 0)], holds=("x", "y", "turn")),
        Joint([(0, -1), (2, 0)], x=push, y=-1.0),
        Joint([(1, -1), (2, -1)], y=-1.0),
    ]
    return Frame(rods, joints)


def swayed() -> FramePath:
    """Load a portal that is pushed a little to the side."""
    return portal(push=1e-3).follow(LOADS)


def main() -> None:
    """Print how far the corner goes, and where a straight portal would sway by itself."""
    found = swayed()
    for load, corner in zip(found.factor, found.rods[0].tip, strict=True):
        print(f"load {load:5.2f} EI/L2: corner {corner[0]:.4f} L to the side")
    straight = portal().follow([7.3, 7.45])
    print(f"unstable ways of a straight one at 7.30 and 7.45: {straight.unstable.tolist()}")


if __name__ == "__main__":
    main()
