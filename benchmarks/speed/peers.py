"""General-purpose peers on the limb of case 14, to the same accuracy, in the same run.

scipy's `solve_bvp` integrates the elastica with collocation of fourth order; a frame program with
corotational beams, OpenSees, is asked for where its Python package is installed (extra `peers`):
steps cut where they fail, two meshes extrapolated, as stretchable as the accuracy allows.
Each walks the 50 steps of the reference, from state to state. Its settings are the coarsest that
reach the accuracy asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from ctypes import CDLL, RTLD_GLOBAL
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np

from benchmarks.cases import Array, c14_reference_walk as case

WALK = case.WALKS["D0"]
MISSING = "not installed: pip install '.[peers]'"
#: OpenSees: stretch stiffness with 8 elements, N; the fastest to 1e-6 of 3e4 to 1e9, with 25
#: iterations of Newton's method a step (12 slower, 60 alike, KrylovNewton several times slower).
STRETCH = 1e6


def error(force: Array) -> float:
    """Largest error of the force over the 40 draws, over that at full draw."""
    source = WALK.pull[-40:, 1]
    return float(np.max(np.abs(force[-40:] - source)) / source[-1])


def collocation(tolerance: float) -> Array:
    """Walk with scipy: four unknown functions, two unknown force components."""
    from scipy.integrate import solve_bvp

    s = np.linspace(0.0, case.LENGTH, 9)
    u = np.array([-0.5 * s, 0.0 * s, 2.0 * np.sin(s / 2), -2.0 * (1.0 - np.cos(s / 2))])
    force, found = np.zeros(2), []
    for nock in WALK.nock[1:]:

        def slope(s: Array, u: Array, p: Array) -> Array:
            cosine, sine = np.cos(u[0]), np.sin(u[0])
            EI = 60.0 - 50.0 * s / case.LENGTH
            return np.array([-0.5 + u[1] / EI, sine * p[0] - cosine * p[1], cosine, sine])

        def ends(a: Array, b: Array, p: Array, nock: Array = nock) -> Array:
            way = nock - b[2:]
            across = way[0] * p[1] - way[1] * p[0]
            return np.array([a[0], a[2], a[3], b[1], across, way @ way - case.STRING**2])

        solved = solve_bvp(slope, ends, s, u, p=force, tol=tolerance, max_nodes=10000)
        if not solved.success:
            raise RuntimeError(f"solve_bvp: {solved.message}")
        s, u, force = solved.x, solved.y, solved.p
        found.append(force[1])
    return np.array(found)


def opensees() -> Any:
    """Import OpenSees, with the libraries it brings along where the system has none.

    Raises
    ------
    ImportError
        It is not installed, or a library it needs is missing; the message says which.
    """
    if find_spec("openseespy") is None:
        raise ImportError(MISSING)
    with suppress(RuntimeError):  # what it makes of any failure to load
        return import_module("openseespy.opensees")
    folder = Path(next(iter(find_spec("openseespylinux").submodule_search_locations)))
    for name in ("libquadmath.so.0", "libgfortran.so.4", "libblas.so.3", "liblapack.so.3"):
        with suppress(OSError):
            CDLL(str(folder / "lib" / name), RTLD_GLOBAL)
    return import_module("openseespylinux.opensees")


def frame_program() -> Callable[[int], Array] | str:
    """Return a walk with OpenSees by number of elements, or why there is none."""
    try:
        ops = opensees()
    except ImportError as error:
        return str(error)

    def once(n: int) -> Array:
        # stretch errs with 1e4 N over its stiffness: made to fall as the error of the mesh does
        stretch = STRETCH * (n / 8) ** 2
        s = np.linspace(0.0, case.LENGTH, n + 1)
        ops.wipe()
        ops.model("basic", "-ndm", 2, "-ndf", 3)
        for i, at in enumerate(s):
            ops.node(i, float(2.0 * np.sin(at / 2)), float(-2.0 * (1.0 - np.cos(at / 2))))
        ops.fix(0, 1, 1, 1)
        ops.geomTransf("Corotational", 1)
        for i in range(n):
            EI = 60.0 - 50.0 * float(s[i] + s[i + 1]) / (2.0 * case.LENGTH)
            ops.element("elasticBeamColumn", i, i, i + 1, 1.0, stretch, EI / stretch, 1)
        nock = n + 1
        ops.node(nock, *map(float, WALK.nock[0]))
        ops.fix(nock, 0, 0, 1)
        ops.uniaxialMaterial("Elastic", 1, stretch)
        ops.element("corotTruss", n, n, nock, 1.0, 1)
        # the last position twice: a series is nought beyond its end
        moved = np.vstack([WALK.nock, WALK.nock[-1:]]) - WALK.nock[0]
        for way in (1, 2):
            ops.timeSeries("Path", way, "-dt", 1.0, "-values", *map(float, moved[:, way - 1]))
            ops.pattern("Plain", way, way)
            ops.sp(nock, way, 1.0)
        ops.constraints("Transformation")
        ops.numberer("RCM")
        ops.system("BandGeneral")
        ops.test("NormDispIncr", 1e-9, 25)
        ops.algorithm("Newton")
        ops.integrator("LoadControl", 1.0)
        ops.analysis("Static")
        found, step = [], 1.0
        for goal in range(1, WALK.nock.shape[0]):
            # steps cut where they fail, and doubled where they do not
            while goal - ops.getTime() > 1e-9:
                step = min(step, goal - ops.getTime())
                ops.integrator("LoadControl", step)
                step *= 2.0 if ops.analyze(1) == 0 else 0.25
                if step < 1.0 / 1024:
                    raise RuntimeError(f"OpenSees: no convergence with {n} elements")
            ops.reactions()
            found.append(ops.nodeReaction(nock, 2))
        return np.array(found)

    # straight elements are of second order, and stretch goes with them: two runs, extrapolated
    return lambda n: (4.0 * once(2 * n) - once(n)) / 3.0


def coarsest(walk: Callable[[int], Array], goal: float) -> int:
    """Return the least of some numbers of elements whose walk reaches the goal."""
    for n in (8, 12, 16, 18, 20, 24, 32, 48, 64):
        if error(walk(n)) <= goal:
            return n
    raise RuntimeError(f"no mesh reaches {goal:g}")
