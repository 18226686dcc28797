"""The tangent is the derivative of the residual, piece by piece; and the path's of its states."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from bowfem.rod import Force, Pressure, Rod, TautString, clamp, pull, rest_length
from bowfem.rod.engine import Settings, _Engine

CHECK = Path(__file__).with_name("tangent_check.py")


@pytest.fixture(scope="module")
def errors(root) -> dict[str, float]:
    """Errors of the tangents of the uncompiled kernels, over the largest entry."""
    path = os.pathsep.join([str(root), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, CHECK],
        cwd=root,
        capture_output=True,
        text=True,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": path},
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_each_piece_is_exact(errors):
    assert len(errors) == 15
    # central differences of step 1e-5 of smooth functions in double precision
    assert {name: e for name, e in errors.items() if not e < 1e-8} == {}


def derivative(engine: _Engine, begin: np.ndarray, end: np.ndarray, state: np.ndarray) -> float:
    """Compare the path's derivative with a central difference; return the relative error."""
    way = (end - begin) / np.linalg.norm(end - begin)
    step = 1e-4
    at = end + np.outer([-step, 0.0, step], way)
    found = [engine.run(begin, target[None, :], state) for target in at]
    assert all(status == 0 for status, *_ in found)
    states = [out["state"][0] for *_, out in found]
    tangent = found[1][-1]["tangent"][:-1]
    difference = (states[2] - states[0]) / (2 * step)
    return float(np.max(np.abs(tangent - difference)) / np.max(np.abs(difference)))


@pytest.mark.parametrize(
    "load", [Force(y=1.0), Force(y=1.0, follower=True), Pressure(1.0), Force(couple=1.0)]
)
def test_derivative_along_a_load_path(load):
    rod = Rod.straight(1.0, 4, EI=1.0, EA=200.0, GA=100.0)
    engine = _Engine(rod, [clamp(0)], [load], None, Settings(tolerance=1e-13))
    begin, end = np.zeros(4), np.array([3.0, 0.0, 0.0, 0.0])
    assert derivative(engine, begin, end, engine.rest) < 1e-6


@pytest.mark.parametrize("draw", [0.2, 0.4, 0.55])
def test_derivative_along_a_draw(curled, draw):
    # wrapped, nearly lifted off, and lifted off
    errors = []
    for n in (4, 8):
        rod = curled(n, belly=0.01, EA=1e6, GA=4e5)
        rest = rest_length(rod, (0.0, 0.12))
        string, length = TautString(EA=1e5), rest - 0.02
        steps = [(0.0, y) for y in np.linspace(0.13, draw, 10)]
        path = pull(rod, [clamp(0)], string, steps, length, begin=(0.0, 0.12, rest))
        outer, inner = path.contact[-1, 0]
        assert (outer - inner < 1e-9) == (draw > 0.5)
        engine = _Engine(rod, [clamp(0)], [], string, Settings(tolerance=1e-13))
        begin = np.array([1.0, 0.0, draw, length]) / [1.0, *[rod.length] * 3]
        end = begin + np.array([0.0, 0.0, 1e-3, 0.0])
        errors.append(derivative(engine, begin, end, path.raw[-1]))
    # where the string lifts off an element is cut, and the cut moves: that much is discretisation
    assert errors[0] < (1e-4 if draw < 0.5 else 1e-6)
    assert errors[1] < (1e-5 if draw < 0.5 else 1e-6)
