"""The kernels as plain Python: the same numbers, and no name or index that only numba lets pass."""

import json
import os
import subprocess
import sys

import numpy as np

PULL = """
import json
from bowfem.rod import Rod, TautString, clamp, pull
limb = Rod.from_curvature([0.0, 0.2, 0.4, 0.6], EI=40.0, curvature0=lambda s: -5.0 * (s > 0.4),
                          belly=0.01, EA=2e5, GA=5e4)
drawn = pull(limb, [clamp(0)], TautString(EA=5e4), [(0.0, 0.2), (0.0, 0.35)], [0.56, 0.56],
             begin=(0.0, 0.1, 0.62))
print(json.dumps([drawn.pull[:, 1].tolist(), drawn.contact[:, 0].tolist()]))
"""


def run(root, **extra: str) -> list[np.ndarray]:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", PULL],
        cwd=root,
        env={**os.environ, **extra},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    return [np.array(part) for part in json.loads(done.stdout)]


def test_plain_python_gives_the_same(root):
    plain, compiled = run(root, NUMBA_DISABLE_JIT="1"), run(root, NUMBA_DISABLE_JIT="0")
    assert compiled[0].shape == (2,) and np.all(compiled[0] > 0.0)
    for one, two in zip(plain, compiled, strict=True):
        # same arithmetic but for fused multiply-adds; Newton stops at 1e-9 of a step
        np.testing.assert_allclose(one, two, rtol=1e-8)
