"""The shot of the straight bow, beside a general-purpose frame program in the same run.

    python -m benchmarks.shot_peer

OpenSees, where its Python package is installed (extra `peers`): corotational beams, a truss for the
half string, Newmark's method of mean acceleration. Straight beams of one stiffness each are of
second order, and so are its steps: two meshes with their steps, extrapolated.
"""

from __future__ import annotations

import sys
import time
from typing import NamedTuple

import numpy as np

from benchmarks.cases import Array, shot_table
from benchmarks.speed.peers import opensees
from bowfem.rod import MovingRod, Rod, TautString, clamp, let_go, pull

TABLE = shot_table("S10_straight_bow")
BOW, CASE = TABLE["base_parameters"], TABLE["cases"][0]
#: Stretch and shear stiffness of the beams that stand for rigid ones, N.
RIGID = 1e7


class Found(NamedTuple):
    """Speed of the arrow, m/s; tension at the eight times of the table, N; s of computing."""

    speed: float
    tension: Array
    took: float


def ours(n: int = 24, step: float = 1e-5) -> Found:
    """Shoot with `bowfem.rod`."""
    begun = time.perf_counter()
    taper = BOW["taper"] / BOW["L"]
    limb = Rod.straight(BOW["L"], n, EI=lambda s: BOW["EI0"] * (1.0 - taper * s))
    string = TautString(EA=BOW["EA"], across=0.0)
    nock = [(0.0, x) for x in np.linspace(BOW["brace"], BOW["full"], 21)]
    drawn = pull(limb, [clamp(0)], string, nock, CASE["l0"], begin=(0.0, BOW["brace"], 0.63))
    half = MovingRod(
        drawn, [clamp(0)], BOW["mass_per_length"], string=string, tip_mass=BOW["tip_mass_each"]
    )
    masses = {"nock_mass": 0.5 * BOW["nock_mass"], "carried": 0.5 * BOW["arrow"]}
    found = let_go(half, 1.1 * CASE["t_exit"], **masses, step=step)
    assert found.release is not None
    at = np.interp(CASE["history"]["t"], found.time, found.tension[:, 0])
    return Found(-found.release.speed, at, time.perf_counter() - begun)


def frame(n: int, step: float) -> Found:
    """Shoot with OpenSees."""
    ops, begun = opensees(), time.perf_counter()
    length, mass = BOW["L"], BOW["mass_per_length"] * BOW["L"] / n
    s = np.linspace(0.0, length, n + 1)
    ops.wipe()
    ops.model("basic", "-ndm", 2, "-ndf", 3)
    for i, at in enumerate(s):
        ops.node(i, float(at), 0.0)
        here = mass * (0.5 if i in (0, n) else 1.0) + (BOW["tip_mass_each"] if i == n else 0.0)
        ops.mass(i, here, here, 0.0)
    ops.fix(0, 1, 1, 1)
    ops.geomTransf("Corotational", 1)
    for i in range(n):
        EI = BOW["EI0"] * (1.0 - BOW["taper"] * float(s[i] + s[i + 1]) / (2.0 * length))
        ops.element("elasticBeamColumn", i, i, i + 1, 1.0, RIGID, EI / RIGID, 1)
    # begun where the string is as long as it is by itself, then moved to where it is drawn
    nock, first = n + 1, length - CASE["l0"]
    ops.node(nock, first, 0.0)
    half = 0.5 * (BOW["nock_mass"] + BOW["arrow"])
    ops.mass(nock, half, half, 0.0)
    ops.fix(nock, 0, 0, 1)
    ops.uniaxialMaterial("Elastic", 1, BOW["EA"])
    ops.element("corotTruss", n, n, nock, 1.0, 1)
    ways = {1: [0.0, 0.0, -first, -first, -first], 2: [0.0, 0.4, 0.4, BOW["full"], BOW["full"]]}
    for way, values in ways.items():
        ops.timeSeries("Path", way, "-dt", 1.0, "-values", *values)
        ops.pattern("Plain", way, way)
        ops.sp(nock, way, 1.0)
    ops.constraints("Transformation")
    ops.numberer("RCM")
    ops.system("BandGeneral")
    ops.test("NormDispIncr", 1e-10, 50)
    ops.algorithm("Newton")
    ops.integrator("LoadControl", 0.01)
    ops.analysis("Static")
    if ops.analyze(300):
        raise RuntimeError("OpenSees: the bow was not drawn")
    ops.loadConst("-time", 0.0)
    ops.remove("loadPattern", 2)
    ops.wipeAnalysis()
    ops.constraints("Transformation")
    ops.numberer("RCM")
    ops.system("BandGeneral")
    ops.test("NormDispIncr", 1e-11, 50)
    ops.algorithm("Newton")
    ops.integrator("Newmark", 0.5, 0.25)
    ops.analysis("Transient")
    times, speeds, tensions = [], [], []
    while ops.getTime() < 1.05 * CASE["t_exit"]:
        if ops.analyze(1, step):
            raise RuntimeError("OpenSees: the shot was lost")
        times.append(ops.getTime())
        speeds.append(-ops.nodeVel(nock, 2))
        tensions.append(ops.basicForce(n)[0])
    # the arrow leaves where it is fastest: a parabola through three instants
    i = int(np.argmax(speeds))
    a, b, c = speeds[i - 1 : i + 2]
    fastest = b + (c - a) ** 2 / (8.0 * (2.0 * b - a - c))
    at = np.interp(CASE["history"]["t"], times, tensions)
    return Found(fastest, at, time.perf_counter() - begun)


def extrapolated(n: int, step: float) -> Found:
    """Extrapolate from two meshes with their steps."""
    rough, fine = frame(n, step), frame(2 * n, 0.5 * step)
    return Found(
        (4.0 * fine.speed - rough.speed) / 3.0,
        (4.0 * fine.tension - rough.tension) / 3.0,
        rough.took + fine.took,
    )


def main() -> int:
    """Compare, and print."""
    try:
        there = extrapolated(24, 2e-5)
    except ImportError as error:
        print(f"OpenSees: {error}")
        return 2
    here = ours()
    print("the straight bow of benchmarks/shot.json, 25 g arrow")
    print(
        f"speed    bowfem {here.speed:.5f} m/s, OpenSees {there.speed:.5f} m/s, "
        f"apart {abs(here.speed / there.speed - 1.0):.1e}"
    )
    apart = np.max(np.abs(here.tension / there.tension - 1.0))
    print(f"tension at eight times apart {apart:.1e} at most")
    print(f"time     bowfem {here.took:.2f} s, OpenSees {there.took:.2f} s")
    return 0 if abs(here.speed / there.speed - 1.0) < 1e-4 and apart < 0.01 else 1


if __name__ == "__main__":
    sys.exit(main())
