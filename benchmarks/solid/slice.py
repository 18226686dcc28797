"""Exact uniform bending of a section as a solid: one element long, ends stay plane, N = 0.

The end plane of the slice turns by the change of curvature times its length: its nodes obey
``n . (X + u) = c`` with n its normal then and c free, which is linear in the displacements. So the
last state is exact; those on the way to it do not matter to a material without memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from benchmarks.solid.ccx import Run, run
from benchmarks.solid.mesh import Mesh, half_wall, through
from bowfem.section import Outline

#: Length of a slice, mm.
LENGTH = 1.0


@dataclass(frozen=True)
class Plastic:
    """Elastic, or Ramberg-Osgood deformation plasticity alike in tension and compression; MPa."""

    modulus: float = 2900.0
    poisson: float = 0.4
    reference: float = 0.0
    offset: float = 0.014
    exponent: float = 5.5

    @property
    def deck(self) -> str:
        """Its lines in an input file."""
        if not self.reference:
            return f"*MATERIAL,NAME=M\n*ELASTIC\n{self.modulus},{self.poisson}\n"
        alpha = self.offset * self.modulus / self.reference
        numbers = (self.modulus, self.poisson, self.reference, self.exponent, alpha)
        return f"*MATERIAL,NAME=M\n*DEFORMATION PLASTICITY\n{','.join(map(repr, numbers))}\n"


@dataclass(frozen=True)
class Bent:
    """What a slice answers, whole section: N m, mm, MPa; stresses at integration points."""

    moment: float
    force: float
    thickness: float
    hoop: float
    mises: float
    depth: float


def bend(
    outline: Outline,
    strain: float,
    natural: float,
    plastic: Plastic,
    *,
    counts: tuple[int, int] = (6, 8),
    layers: int = 3,
) -> Bent:
    """Bend a slice.

    Parameters
    ----------
    outline : Outline
        The section.
    strain : float
        Change of curvature times half the thickness, signed.
    natural : float
        Formed curvature, 1/mm.
    counts, layers :
        Elements on each flat and each side of half the section, and through the wall.
    """
    wall = through(*half_wall(outline, counts), 1e3 * outline.wall, layers)
    before = natural * LENGTH
    after = before + strain / (0.5e3 * outline.thickness) * LENGTH
    planes = [_plane(wall, share * before, natural, share * LENGTH) for share in (0.0, 0.5, 1.0)]
    mesh = Mesh.swept(np.stack(planes, axis=2))
    first, last = (mesh.grid[:, :, k][mesh.grid[:, :, k] > 0] for k in (0, -1))
    middle = np.unique(np.concatenate([mesh.grid[i][mesh.grid[i] > 0] for i in (0, -1)]))
    n = np.array([0.0, math.sin(after), math.cos(after)])
    reference = len(mesh.nodes) + 1
    equations = []
    for node in map(int, last):
        # the plane's place is the reference node's first freedom, how far it has turned its second
        terms = [(node, 2, n[1]), (node, 3, n[2]), (reference, 1, -1.0)]
        terms.append((reference, 2, float(n @ mesh.nodes[node])))
        equations.append(terms)
    fixed = [(int(node), 3) for node in first] + [(int(node), 1) for node in middle]
    # the back may not float off along y
    fixed.append((int(mesh.grid[0, layers, 0] or mesh.grid[0, 0, 0]), 2))
    found = run(mesh, plastic.deck, equations, fixed, {(reference, 2): 1.0}, list(map(int, first)))
    return _read(found, mesh, first, layers, outline)


def _plane(wall: np.ndarray, angle: float, natural: float, along: float) -> np.ndarray:
    x, y = wall[..., 0], wall[..., 1]
    if not natural:
        return np.stack([x, y, np.full_like(x, along)], axis=-1)
    reach = 1.0 / natural - y
    return np.stack([x, 1.0 / natural - reach * math.cos(angle), reach * math.sin(angle)], -1)


def _read(found: Run, mesh: Mesh, first: np.ndarray, layers: int, outline: Outline) -> Bent:
    y = np.array([mesh.nodes[int(node)][1] + found.moved[int(node)][1] for node in first])
    pull = np.array([found.reaction[int(node)][2] for node in first])
    ends = mesh.grid[[0, -1], :, 0]
    faces = [[mesh.nodes[int(n)][1] + found.moved[int(n)][1] for n in row if n > 0] for row in ends]
    stress = found.stress.reshape(-1, layers, *found.stress.shape[1:])  # wall, layer, point, 6
    xx, yy, zz, xy, xz, yz = np.moveaxis(stress, -1, 0)
    half = np.hypot(0.5 * (xx - yy), xy)
    plus, minus = 0.5 * (xx + yy) + half, 0.5 * (xx + yy) - half
    hoop = np.where(np.abs(plus) > np.abs(minus), plus, minus)
    shear = 3.0 * (xy**2 + xz**2 + yz**2)
    mises = np.sqrt(0.5 * ((xx - yy) ** 2 + (yy - zz) ** 2 + (zz - xx) ** 2) + shear)
    count = stress.shape[0]
    side = slice(count // 4, count - count // 4)
    inner = hoop[side, -1].ravel()
    point = 0.5 * (1.0 - 1.0 / math.sqrt(3.0)) / layers  # the innermost integration point
    return Bent(
        moment=float(2.0 * np.sum(pull * y)) / 1e3,
        force=float(2.0 * np.sum(pull)),
        thickness=float(np.max(faces[1]) - np.min(faces[0])),
        hoop=float(inner[np.argmax(np.abs(inner))]),
        mises=float(np.max(mises)),
        depth=(point - 0.5) * 1e3 * outline.wall,
    )
