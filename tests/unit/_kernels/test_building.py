"""Kernels compiled in pieces by two processes: each piece once, for the types asked for."""

import os

import pytest

from bowfem._kernels import FOLDER, building
from bowfem.rod import Rod, TautString, clamp, pull


@pytest.mark.skipif("NUMBA_DISABLE_JIT" in os.environ, reason="nothing is compiled")
def test_each_piece_is_compiled_once():
    # a piece compiled for other types than those asked for would be kept twice, to no avail
    limb = Rod.straight(0.6, n_elements=8, EI=40.0)
    pull(limb, [clamp(0)], TautString(), [(0.0, 0.3)], 0.58, begin=(0.0, 0.15, 0.62))
    for name in building.FIRST + building.SECOND:
        assert len(list(FOLDER.glob(f"*/*.{name}-*.nbc"))) == 1, name
