"""A braced limb out of its plane beside a 3D frame program: ``python -m benchmarks.space``.

A curved, tapered limb with its string tied 20 mm off the axis, shortened by 6 %, once with the nock
held and once free; then the same a third softer sideways, which flips: there, a push is answered
against its direction. Both are as stretchable: 1e8 N. The program is OpenSees (extra `peers`),
corotational beams of second order; its spatial equilibrium takes seconds, `Sideways` milliseconds.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence

import numpy as np

from benchmarks.cases import TIGHT, Array
from benchmarks.speed.peers import opensees
from benchmarks.table import show
from bowfem.rod import Path, Rod, Sideways, TautString, clamp, ends, pull

LENGTH, NOCK, TIE, SHORTER, STRETCH = 0.7, np.array([0.0, 0.16]), 0.02, 0.06, 1e8
#: Side force that is small, N, and stiffness of what is taken as rigid, N m2.
PUSH, RIGID = 1e-3, 1e6
#: Steps the program is given.
STEPS = 300


def curvature(s: Array) -> Array:
    """Natural curvature of the limb, 1/m."""
    return -0.4 - 1.2 * (s > 0.5) * (s - 0.5) / 0.2


def stiffness(s: Array) -> tuple[Array, Array, Array]:
    """Stiffness in the plane, sideways and in torsion, N m2."""
    return 60 - 50 * s / LENGTH, 90 - 70 * s / LENGTH, 30 - 22 * s / LENGTH


def limb(n: int) -> tuple[Rod, Array, float]:
    """Return the limb, where its string is tied, and the string's length when slack."""
    rod = Rod.from_curvature(
        np.linspace(0.0, LENGTH, n + 1),
        EI=lambda s: stiffness(s)[0],
        EA=STRETCH,
        curvature0=curvature,
        belly=-0.3,  # no surface near the string
    )
    turn = float(ends(rod.angle0[None])[1][0])
    tie = rod.position0[-1] + TIE * np.array([-np.sin(turn), np.cos(turn)])
    return rod, tie, float(np.hypot(*(tie - NOCK)))


def plane(n: int) -> Path:
    """Brace it with this package."""
    rod, _, slack = limb(n)
    lengths = slack * (1.0 - SHORTER * np.linspace(1.0 / 12, 1.0, 12))
    string = TautString(EA=STRETCH, across=TIE)
    nock = [NOCK] * len(lengths)
    return pull(rod, [clamp(0)], string, nock, lengths, begin=(*NOCK, slack), settings=TIGHT)


def answer(path: Path, free: bool, soft: float = 1.0) -> Sideways:
    """Look at it sideways; `soft` scales the stiffness out of the plane."""
    return Sideways(
        path,
        lambda s: soft * stiffness(s)[1],
        lambda s: soft * stiffness(s)[2],
        nock=0.0 if free else np.inf,
    )


def spatial(n: int, free: bool, soft: float = 1.0) -> float:
    """Brace it in space with a side force at the tie; return how far that moves per newton, m/N."""
    ops = opensees()
    rod, tie, _ = limb(n)
    start = tie + (NOCK - tie) * (1.0 - SHORTER)
    ops.wipe()
    ops.model("basic", "-ndm", 3, "-ndf", 6)
    arm, nock, ground = n + 1, n + 2, n + 3
    for i, place in enumerate([*rod.position0, tie, start, start]):
        ops.node(i, *map(float, place), 0.0)
    ops.fix(0, 1, 1, 1, 1, 1, 1)
    ops.geomTransf("Corotational", 1, 0, 0, 1)
    for i in range(n):
        EI, B, GJ = map(float, stiffness(0.5 * (rod.nodes[i] + rod.nodes[i + 1])))
        own = STRETCH, 1.0, soft * GJ, soft * B / STRETCH, EI / STRETCH
        ops.element("elasticBeamColumn", i, i, i + 1, 1.0, *own, 1)
    stiff = STRETCH, 1.0, RIGID, RIGID / STRETCH, RIGID / STRETCH
    ops.element("elasticBeamColumn", n, n, arm, 1.0, *stiff, 1)
    ops.fix(nock, 0, 0, 0 if free else 1, 1, 1, 1)
    ops.fix(ground, 1, 1, 1, 1, 1, 1)
    ops.uniaxialMaterial("Elastic", 1, STRETCH)
    ops.element("corotTruss", n + 1, arm, nock, 1.0, 1)
    if free:  # as good as nothing, so that the slack string leaves no mechanism
        ops.uniaxialMaterial("Elastic", 2, 1e-2)
        ops.element("zeroLength", n + 2, ground, nock, "-mat", 2, "-dir", 3)
    ops.timeSeries("Path", 1, "-dt", 1.0, "-values", 0.0, 1.0, 1.0, "-useLast")
    ops.pattern("Plain", 1, 1)
    for way in (0, 1):
        ops.sp(nock, way + 1, float(NOCK[way] - start[way]))
    ops.timeSeries("Path", 2, "-dt", 1.0, "-values", 0.0, 0.0, 1.0, "-useLast")
    ops.pattern("Plain", 2, 2)
    ops.load(arm, 0.0, 0.0, PUSH, 0.0, 0.0, 0.0)
    ops.constraints("Transformation")
    ops.numberer("RCM")
    ops.system("UmfPack")
    ops.test("NormDispIncr", 1e-10, 60)
    ops.algorithm("Newton")
    ops.integrator("LoadControl", 1.0)
    ops.analysis("Static")
    step, left = 1.0 / 64, STEPS
    for goal in (1.0, 2.0):  # braced, then pushed
        while goal - ops.getTime() > 1e-9:
            left -= 1
            step = min(step, goal - ops.getTime())
            ops.integrator("LoadControl", step)
            step *= 2.0 if ops.analyze(1) == 0 else 0.25
            if step < 1e-5 or not left:
                return np.nan
    return ops.nodeDisp(arm, 3) / PUSH


def main(words: Sequence[str] | None = None) -> None:
    """Print both answers."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.space", description=__doc__)
    parser.add_argument("--elements", type=int, default=140, help="of the frame program (140)")
    asked = parser.parse_args(words)
    path, rows = plane(7), []
    for free, soft in ((False, 1.0), (True, 1.0), (True, 0.67)):
        begin = time.perf_counter()
        state = answer(path, free, soft)
        own, factor = state.give(1.0), state.factor
        middle = time.perf_counter()
        other = spatial(asked.elements, free, soft)
        end = time.perf_counter()
        rows.append(
            (
                f"nock {'free' if free else 'held'}, {100 * soft:.0f} % of the stiffness",
                f"{factor:.4f}",
                f"{1e3 * own:.5f}",
                f"{1e3 * other:.5f}",
                f"{own / other - 1.0:.1e}",
                f"{1e3 * (middle - begin):.0f} ms, {end - middle:.1f} s",
            )
        )
    show(("limb", "factor", "mm/N", "spatial, mm/N", "apart", "time"), rows)


if __name__ == "__main__":
    main()
