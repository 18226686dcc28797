"""Settling: from a lost equilibrium to the next stable one."""

import numpy as np
import pytest

from bowfem.rod import MomentTable, Rod, Stop, TautString, clamp, pull
from bowfem.rod.relaxation import relax


def test_settling_where_equilibrium_is_near_finds_that_one():
    rod = Rod.straight(0.6, 8, EI=40.0)
    hold, string = [clamp(0)], TautString(EA=1e5)
    near = pull(rod, hold, string, [(0.0, 0.3)], 0.58, begin=(0.0, 0.12, 0.62))
    there = pull(rod, hold, string, [(0.0, 0.32)], 0.58, begin=(0.0, 0.0, 0.0), start=near)
    found = relax(near, hold, string, (0.0, 0.32), 0.58)
    assert found.stop is Stop.COMPLETE and len(found) == 1
    np.testing.assert_allclose(found.nodes[-1], there.nodes[-1], atol=1e-8 * 0.6)
    assert found.pull[-1, 1] == pytest.approx(there.pull[-1, 1], rel=1e-7)


def softening() -> Rod:
    """Make a limb with a soft spot: beyond a bending of 3 1/m its moment falls from 60 to 3 N m."""
    n = 8
    k = np.linspace(-40.0, 40.0, 321)
    a = np.abs(k)
    weak = np.maximum(60.0 - 20.0 * (a - 3.0), 3.0) + np.maximum(a - 5.85, 0.0)
    weak = np.sign(k) * np.where(a < 3.0, 20.0 * a, weak)
    shape = (n, 4, k.size)
    spot = np.arange(n)[:, None, None] == 2
    moment = np.where(spot, np.broadcast_to(weak, shape), 20.0 * np.broadcast_to(k, shape))
    return Rod.straight(0.6, n, EI=20.0).with_table(
        MomentTable(np.broadcast_to(k, shape), moment, np.gradient(moment, k, axis=-1))
    )


def test_a_snap_loses_energy_and_ends_in_equilibrium():
    # shortening the string past what the soft spot stands: no equilibrium near, one far away
    rod, hold, string = softening(), [clamp(0)], TautString(EA=1e6)
    last, length = None, 0.62
    nock = (0.0, 0.12)
    while True:
        ahead = pull(
            rod, hold, string, [nock], length - 5e-4, begin=(*nock, 0.62), start=last, strict=False
        )
        if ahead.stop is not Stop.COMPLETE:
            break
        last, length = ahead, length - 5e-4
        assert length > 0.3
    found = relax(last, hold, string, nock, length - 5e-4)
    assert found.stop is Stop.COMPLETE
    moved = np.max(np.abs(found.nodes[-1] - last.nodes[-1]))
    assert moved > 0.02 * 0.6  # forty times what the string was shortened by
    # work done on the way at a fixed string and nock is none: what is lost was turned to heat
    work = 5e-4 * last.tension[-1]
    assert np.sum(found.energy[-1]) < np.sum(last.energy[-1]) + work
    # statics: the clamp balances the pull
    np.testing.assert_allclose(found.reaction[-1, 0, :2], -found.pull[-1], rtol=1e-6)
    # and it is stable: settled again, it stays
    again = relax(found, hold, string, nock, length - 5e-4)
    np.testing.assert_allclose(again.nodes[-1], found.nodes[-1], atol=1e-7 * 0.6)


def test_a_law_that_ends_is_told():
    rod, hold, string = softening(), [clamp(0)], TautString(EA=1e6)
    start = pull(rod, hold, string, [(0.0, 0.12)], 0.6, begin=(0.0, 0.12, 0.62))
    found = relax(start, hold, string, (0.0, 0.12), 0.35, limit=0.05)
    assert found.stop is Stop.LIMIT and found.table_share[-1] <= 0.05
