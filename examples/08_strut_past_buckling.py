"""Load a straight strut past Euler's load: where it buckles, and the branch it goes on along.

Run it: python examples/08_strut_past_buckling.py
"""

import numpy as np

from bowfem.rod import (
    Force,
    Rod,
    clamp,
    critical_point,
    displace,
    follow,
    switch_branch,
    unstable_modes,
)

SLOPES = np.radians([20.0, 40.0, 60.0, 90.0])


def run(n_elements: int = 16) -> tuple[float, list[int], np.ndarray]:
    """Return the load it buckles at, unstable ways before and after, and loads on the branch."""
    strut, held, push = Rod.straight(1.0, n_elements, EI=1.0), [clamp(0)], [Force(x=-1.0)]
    straight = follow(strut, held, push, [2.0, 3.0])  # goes on straight where nothing disturbs it
    ways = [unstable_modes(straight, held, push, state=state) for state in (0, 1)]
    point = critical_point(straight, held, push, 0)
    bent = switch_branch(point, held, push, size=0.1)
    branch = displace(strut, held, push, -1, "turn", SLOPES, start=bent)
    return point.factor, ways, branch.factor / point.factor


if __name__ == "__main__":
    load, ways, branch = run()
    print(f"buckles at {load:.9f}, Euler: {np.pi**2 / 4:.9f}; unstable ways {ways}")
    for slope, over in zip(np.degrees(SLOPES), branch, strict=True):
        print(f"end slope {slope:3.0f} deg: {over:.5f} of that load")
