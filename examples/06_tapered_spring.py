"""Bend a flat spring that is cut narrower toward its end, from small loads to large ones.

Run it: python examples/06_tapered_spring.py
"""

import numpy as np

from bowfem.rod import Force, MovingRod, Rod, clamp, follow, natural_frequencies

LENGTH, THICKNESS, WIDTH, E, DENSITY = 0.30, 2e-3, 30e-3, 205e9, 7850.0
LOADS = [1e-3, 20.0, 60.0, 120.0]


def spring(end: float, n_elements: int = 16) -> Rod:
    """Return a spring whose width falls evenly to a share of itself at the end."""
    EI = E * WIDTH * THICKNESS**3 / 12.0
    nodes = np.linspace(0.0, LENGTH, n_elements + 1)
    return Rod.from_curvature(nodes, EI=lambda s: EI * (1.0 - (1.0 - end) * s / LENGTH))


def run(end: float = 0.2, n_elements: int = 16) -> tuple[np.ndarray, np.ndarray, float]:
    """Return how far each load bends the end, the strain it needs, and the lowest frequency, Hz."""
    rod = spring(end, n_elements)
    path = follow(rod, [clamp(0)], [Force(y=1.0)], LOADS)
    strain = 0.5 * THICKNESS * np.max(np.abs(path.bending), axis=(1, 2))
    mass = DENSITY * THICKNESS * WIDTH
    moving = MovingRod(path, [clamp(0)], lambda s: mass * (1.0 - (1.0 - end) * s / LENGTH), state=0)
    return path.tip[:, 1], strain, float(natural_frequencies([moving], 1)[0])


if __name__ == "__main__":
    deflections, strains, frequency = run()
    for load, deflection, strain in zip(LOADS, deflections, strains, strict=True):
        print(f"{load:7.3f} N: {1e3 * deflection:8.4f} mm, strain {100 * strain:.4f} %")
    print(f"lowest frequency {frequency:.2f} Hz")
