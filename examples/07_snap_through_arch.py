"""Press a shallow arch down at its crown until it snaps through: both limits of its path.

Run it: python examples/07_snap_through_arch.py
"""

from bowfem.rod import Force, Path, Rod, follow_arc_length, pin, unstable_modes

#: Half the angle of the arch, rad; its stiffness against stretching over that against bending.
HALF, STRETCH = 0.5, 100.0


def run(n_elements: int = 8) -> tuple[Path, list[int]]:
    """Follow the arch through both limits; count the ways in which it would leave each state."""
    arch = Rod.arc(2.0, -2.0 * HALF, n_elements, EI=1.0, EA=STRETCH, start=HALF)
    push = Force(node=n_elements // 2, y=-1.0)
    held = [pin(0), pin(-1)]
    path = follow_arc_length(arch, held, [push], until=lambda path: path.factor[-1] > 20.0)
    return path, [unstable_modes(path, held, [push], state=state) for state in range(len(path))]


if __name__ == "__main__":
    path, ways = run()
    crown = path.nodes[:, path.nodes.shape[1] // 2, 1]
    for name, state in zip(("snaps down at", "and back at"), path.limits, strict=True):
        print(f"{name} {path.factor[state]:.4f}, crown at {crown[state]:+.4f}")
    print(f"unstable ways from state to state: {ways}")
