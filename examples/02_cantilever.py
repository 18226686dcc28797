"""Bend a straight cantilever by a heavy dead load at its tip: the rod knows nothing of bows.

Run it: python examples/02_cantilever.py
"""

from bowfem.rod import Force, Rod, clamp, follow

LENGTH, EI, FACTORS = 1.0, 1.0, [1.0, 2.0, 5.0, 10.0]


def run(n_elements: int = 8) -> list[tuple[float, float, float]]:
    """Load F L^2 / EI, height of the tip and its approach to the wall, over the length."""
    rod = Rod.straight(LENGTH, n_elements, EI=EI)
    path = follow(rod, [clamp(0)], [Force(y=EI / LENGTH**2)], FACTORS)
    heights, approaches = path.tip[:, 1] / LENGTH, 1.0 - path.tip[:, 0] / LENGTH
    return list(zip(FACTORS, heights.tolist(), approaches.tolist(), strict=True))


if __name__ == "__main__":
    for load, height, approach in run():
        print(f"F L2/EI {load:4.0f}: tip {height:.5f} L aside, {approach:.5f} L back")
