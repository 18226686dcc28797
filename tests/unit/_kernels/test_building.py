"""Kernels compiled in pieces by two processes: each piece once, under the types the walk asks for."""

import os
import subprocess
import sys

import pytest

from bowfem._kernels import FOLDER, building
from bowfem.rod import Rod, TautString, clamp, pull


def _draw():
    limb = Rod.straight(0.6, n_elements=8, EI=40.0)
    drawn = pull(limb, [clamp(0)], TautString(), [(0.0, 0.3)], 0.58, begin=(0.0, 0.15, 0.62))
    return float(drawn.pull[-1, 1])


@pytest.mark.skipif("NUMBA_DISABLE_JIT" in os.environ, reason="nothing is compiled")
def test_each_piece_is_compiled_once():
    # a piece compiled for other types than those asked for would be kept twice, to no avail
    _draw()
    for name in building.FIRST + building.SECOND:
        assert len(list(FOLDER.glob(f"*/*.{name}-*.nbc"))) == 1, name


def test_uncompiled_kernels_give_the_same(root, tmp_path):
    code = (
        "from bowfem.rod import Rod, TautString, clamp, pull\n"
        "limb = Rod.straight(0.6, n_elements=8, EI=40.0)\n"
        "drawn = pull(limb, [clamp(0)], TautString(), [(0.0, 0.3)], 0.58, begin=(0.0, 0.15, 0.62))\n"
        "print(repr(float(drawn.pull[-1, 1])))"
    )
    env = {**os.environ, "NUMBA_DISABLE_JIT": "1", "NUMBA_CACHE_DIR": str(tmp_path)}
    told = subprocess.run(
        [sys.executable, "-c", code], env=env, cwd=root, check=True, capture_output=True, text=True
    )
    assert float(told.stdout) == pytest.approx(_draw(), rel=1e-9)
    assert not list(tmp_path.glob("*kernels*"))
