"""A limb with its fade as a solid: what the stress rises to where round runs into flat.

Half a limb, x > 0, elastic: round, then the fade, then flat. Its root stays plane, its end too and
turns as far as bends the flat to some two per cent; sections between are free. What counts is the
stress along the limb in the middle of back and belly, just beyond the fade over far away.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass

import numpy as np

from benchmarks.solid.cases import PIPES
from benchmarks.solid.ccx import run as run_ccx
from benchmarks.solid.mesh import Mesh
from benchmarks.solid.slice import Plastic
from benchmarks.solid.stored import store, stored
from bowfem.section import FadeFactor, Pipe, fade_factor, pressed
from bowfem.section.ring import Ring
from bowfem.section.wall import sampled

#: Length of round and flat pipe, mm, and strain of the flat's surface.
ROUND, FLAT, STRAIN = 25.0, 130.0, 0.02
#: Elements along half the wall, through it, and in the fade at most this long, mm; a finer mesh,
#: and the fades that are run on it too.
MESH, FINER, BOTH = (12, 2, 5.0), (16, 3, 3.5), ("12 mm over 50 mm wedge middle",)


@dataclass(frozen=True)
class FadeCase:
    """One fade: pipe, pressed thickness and length, mm; ends; bump; whether it is fitted."""

    pipe: str
    thickness: float
    length: float
    rounded: bool = False
    bump: str = "middle"
    held_back: bool = False

    @property
    def name(self) -> str:
        """Its name in the results."""
        ends = "rounded" if self.rounded else "wedge"
        return f"fade {self.pipe} {self.thickness:g} mm over {self.length:g} mm {ends} {self.bump}"

    def own(self) -> FadeFactor:
        """Return the project's own factors."""
        diameter, wall = PIPES[self.pipe]
        return fade_factor(
            Pipe(1e-3 * diameter, 1e-3 * wall),
            1e-3 * self.thickness,
            1e-3 * self.length,
            rounded=self.rounded,
            bump=self.bump,
        )


M, L, S = PIPES
CASES = (
    *(FadeCase(M, 12.0, length) for length in (25.0, 50.0, 100.0)),
    FadeCase(M, 12.0, 50.0, rounded=True),
    FadeCase(M, 12.0, 50.0, bump="back"),
    FadeCase(M, 12.0, 50.0, bump="belly"),
    FadeCase(M, 9.0, 50.0),
    FadeCase(M, 15.0, 50.0),
    FadeCase(M, 9.0, 75.0, rounded=True),
    FadeCase(M, 15.0, 35.0, bump="belly"),
    FadeCase(L, 12.0, 60.0),
    FadeCase(M, 20.0, 50.0),
    FadeCase(M, 18.0, 50.0),
    FadeCase(M, 12.0, 75.0, held_back=True),
    FadeCase(M, 12.0, 35.0, rounded=True, held_back=True),
    FadeCase(M, 9.0, 35.0, held_back=True),
    FadeCase(M, 15.0, 75.0, bump="back", held_back=True),
    FadeCase(M, 12.0, 150.0, bump="belly", held_back=True),
    FadeCase(S, 9.0, 40.0, held_back=True),
    FadeCase(L, 15.0, 75.0, rounded=True, bump="back", held_back=True),
)


def _wall(pipe: Pipe, thickness: float, places: np.ndarray) -> np.ndarray:
    """Return place and outward normal at shares of the half wall's length, (n, 4), mm."""
    ring = Ring.from_outlines([pressed(pipe, thickness)])
    found = sampled(ring, np.zeros((1, 1, ring.size)), 129)
    arc = found.arc[0, 0]
    once = np.concatenate([[True], np.diff(arc) > 1e-12])
    at = places * arc[-1]
    x, y, angle = (np.interp(at, arc[once], part[0, 0][once]) for part in found[1:4])
    return np.stack([1e3 * x, 1e3 * y, np.sin(angle), -np.cos(angle)], axis=-1)


def _profile(case: FadeCase, z: np.ndarray, diameter: float) -> np.ndarray:
    u = np.clip((z - ROUND) / case.length, 0.0, 1.0)
    u = 0.5 * (1.0 - np.cos(np.pi * u)) if case.rounded else u
    return diameter + (case.thickness - diameter) * u


def solid(case: FadeCase, mesh: tuple[int, int, float]) -> dict[str, float]:
    """Run a fade; return stress in the middle of back and belly, MPa: peak and far away."""
    around, layers, longest = mesh
    diameter, wall = PIPES[case.pipe]
    pipe = Pipe(1e-3 * diameter, 1e-3 * wall)
    count = max(5, math.ceil(case.length / longest))
    near = np.linspace(0.0, 40.0, max(8, math.ceil(40.0 / longest)) + 1)
    ends = np.concatenate([
        np.linspace(0.0, ROUND, 5)[:-1],
        ROUND + case.length * np.linspace(0.0, 1.0, count + 1)[:-1],
        ROUND + case.length + near[:-1],
        ROUND + case.length + np.linspace(40.0, FLAT, 10),
    ])  # fmt: skip
    z = np.sort(np.concatenate([ends, 0.5 * (ends[1:] + ends[:-1])]))
    thickness = _profile(case, z, diameter)
    side = {"middle": 0.0, "back": 0.5, "belly": -0.5}[case.bump]
    places = np.linspace(0.0, 1.0, 2 * around + 1)
    depth = wall * np.linspace(0.5, -0.5, 2 * layers + 1)
    grid = np.empty((2 * around + 1, 2 * layers + 1, len(z), 3))
    for k, (at, h) in enumerate(zip(z, thickness, strict=True)):
        line = _wall(pipe, 1e-3 * min(h, diameter * (1 - 1e-9)), places)
        grid[:, :, k, :2] = line[:, None, :2] + depth[:, None] * line[:, None, 2:]
        grid[:, :, k, 1] += side * (diameter - h)
        grid[:, :, k, 2] = at
    body = Mesh.swept(grid)
    bend = STRAIN / (0.5 * case.thickness)
    # the flat bends so much, the stiffer rest about a third of it
    turn = bend * (FLAT + 0.4 * case.length + 0.2 * ROUND)
    n = np.array([0.0, math.sin(turn), math.cos(turn)])
    reference = len(body.nodes) + 1
    first, last = (body.grid[:, :, k][body.grid[:, :, k] > 0] for k in (0, -1))
    middle = np.unique(np.concatenate([body.grid[i][body.grid[i] > 0] for i in (0, -1)]))
    equations = [
        [
            (int(node), 2, n[1]),
            (int(node), 3, n[2]),
            (reference, 1, -1.0),
            (reference, 2, float(n @ body.nodes[int(node)])),
        ]
        for node in last
    ]
    fixed = [(int(node), 3) for node in first] + [(int(node), 1) for node in middle]
    fixed.append((int(body.grid[0, 0, 0]), 2))
    found = run_ccx(body, Plastic().deck, equations, fixed, {(reference, 2): 1.0}, [int(first[0])])
    return _peaks(found.stress, around, layers, z, turn, case)


def _peaks(stress, around, layers, z, turn, case) -> dict[str, float]:
    """Read principal stress along, in the element row at the middle of each face, outer layer."""
    shaped = stress.reshape(around, layers, (len(z) - 1) // 2, 8, 6)
    yy, zz, yz = (shaped[..., i] for i in (1, 2, 5))
    size = z[2::2] - z[0:-2:2]
    centre = 0.5 * (z[0:-2:2] + z[2::2])
    at = (centre[:, None] + size[:, None] * 0.5 / math.sqrt(3.0) * np.array([-1.0, 1.0])).ravel()
    along = {}
    for name, row, sign in (("back", 0, 1.0), ("belly", around - 1, -1.0)):
        a, b, c = (part[row, 0] for part in (yy, zz, yz))
        principal = sign * (0.5 * (a + b) + sign * np.hypot(0.5 * (a - b), c))
        # two points across, two through the outer layer, two along: to its surface in a line
        points = np.mean(principal.reshape(-1, 2, 2, 2), axis=3)  # element, along, through
        outer, inner = points[..., 0].ravel(), points[..., 1].ravel()
        along[name] = outer + (outer - inner) * 0.5 * (math.sqrt(3.0) - 1.0)
    far = (at > ROUND + case.length + 60.0) & (at < ROUND + case.length + 100.0)
    near = (at > ROUND + 0.3 * case.length) & (at < ROUND + case.length + 30.0)
    out = {}
    for name, values in along.items():
        out[f"{name}_far"] = float(np.mean(values[far]))
        out[f"{name}_peak"] = float(np.max(values[near]))
        out[f"{name}_factor"] = out[f"{name}_peak"] / out[f"{name}_far"]
    return out


def run(case: FadeCase) -> dict:
    """Run a fade, some of them on a finer mesh too; return what is stored."""
    found = solid(case, MESH)
    spread = None
    if any(name in case.name for name in BOTH):
        finer = solid(case, FINER)
        spread = max(
            abs(finer[f"{f}_factor"] / found[f"{f}_factor"] - 1.0) for f in ("back", "belly")
        )
        found = finer
    return {**asdict(case), "spread": spread, **found}


def show(words: list[str], again: bool, keep: bool, about: dict[str, str]) -> None:
    """Print fades, solid and by the fitted factor."""
    for case in CASES:
        if not all(word in case.name for word in words):
            continue
        found = run(case) if again else stored()["fades"].get(case.name)
        if found is None:
            print(f"\n{case.name}: not stored")
            continue
        own = case.own()
        print(f"\n{case.name}{' (held back)' if case.held_back else ''}")
        for face, mine in (("back", own.back), ("belly", own.belly)):
            factor = found[f"{face}_factor"]
            print(
                f"  {face:5}  peak {found[f'{face}_peak']:6.1f} of {found[f'{face}_far']:5.1f} MPa,"
                f" factor {factor:.3f}, own {mine:.3f}, off {100 * (mine / factor - 1):+.1f} %"
                + ("" if found["spread"] is None else f" two meshes {100 * found['spread']:.1f} %")
            )
        if keep:
            store("fades", {case.name: found}, about)
