"""A slice twisted: both ends warp alike, so that the torque is that of free torsion."""

from __future__ import annotations

import numpy as np

from benchmarks.solid.cases import COARSE, FINE, PIPES
from benchmarks.solid.ccx import run as run_ccx
from benchmarks.solid.mesh import Mesh, half_wall, through
from benchmarks.solid.slice import LENGTH, Plastic
from benchmarks.solid.stored import store, stored
from bowfem.section import Outline, Pipe, pressed

#: Pipe and pressed thickness, mm.
CASES = (
    ("3/4 in Sch 40", 8.5),
    ("3/4 in Sch 40", 12.0),
    ("3/4 in Sch 40", 16.0),
    ("1 in Sch 40", 11.0),
    ("1/2 in Sch 40", 9.0),
)
#: Torque on half the section, N mm: small.
TORQUE = 10.0


def name_of(pipe: str, thickness: float) -> str:
    """Return its name in the results."""
    return f"torsion {pipe} {thickness:g} mm"


def outline_of(pipe: str, thickness: float) -> Outline:
    """Return the section."""
    diameter, wall = PIPES[pipe]
    return pressed(Pipe(1e-3 * diameter, 1e-3 * wall), 1e-3 * thickness)


def solid(outline: Outline, mesh: tuple[tuple[int, int], int]) -> float:
    """Return the torsion constant of the whole section, mm4."""
    counts, layers = mesh
    wall = through(*half_wall(outline, counts), 1e3 * outline.wall, layers)
    planes = [
        np.dstack([wall, np.full(wall.shape[:2], share * LENGTH)]) for share in (0.0, 0.5, 1.0)
    ]
    body = Mesh.swept(np.stack(planes, axis=2))
    reference = len(body.nodes) + 1
    equations = []
    ends = body.grid[:, :, 0], body.grid[:, :, -1]
    for first, last in zip(*(end[end > 0].tolist() for end in ends), strict=True):
        x, y, _ = body.nodes[last]
        for freedom, arm in ((1, y), (2, -x), (3, 0.0)):
            terms = [(last, freedom, 1.0), (first, freedom, -1.0)]
            equations.append([*terms, (reference, 2, arm)] if arm else terms)
    # half of the section: across the middle plane torsion is its own mirror image, reversed
    middle = body.grid[[0, -1], :, :-1]
    fixed = [(int(node), freedom) for node in middle[middle > 0] for freedom in (2, 3)]
    fixed += [(int(body.grid[0, 0, 0]), 1), (int(body.grid[-1, 0, 0]), 1), (reference, 1)]
    plastic = Plastic()
    loads = [(reference, 2, TORQUE)]
    found = run_ccx(body, plastic.deck, equations, fixed, {}, [reference], loads=loads)
    shear = plastic.modulus / (2.0 * (1.0 + plastic.poisson))
    return 2.0 * TORQUE * LENGTH / (shear * abs(float(found.moved[reference][1])))


def show(words: list[str], again: bool, keep: bool, about: dict[str, str]) -> None:
    """Print torsion constants, solid and own."""
    for pipe, thickness in CASES:
        name, outline = name_of(pipe, thickness), outline_of(pipe, thickness)
        if not all(word in name for word in words):
            continue
        found = stored().get("torsions", {}).get(name)
        if again:
            coarse, fine = (solid(outline, mesh) for mesh in (COARSE, FINE))
            found = {"constant": fine, "spread": abs(coarse / fine - 1.0)}
        if found is None:
            print(f"\n{name}: not stored")
            continue
        own = 1e12 * outline.torsion_constant
        print(
            f"\n{name}\n  J {found['constant']:.1f} mm4, own {own:.1f}, "
            f"off {100 * (own / found['constant'] - 1):+.2f} %, two meshes {found['spread']:.1e}"
        )
        if keep:
            store("torsions", {name: found}, about)
