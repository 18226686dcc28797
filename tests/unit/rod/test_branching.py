"""Stability of states, located bifurcations and limits, and paths that stay on their branch."""

import numpy as np
import pytest
from scipy.special import ellipk

from bowfem.errors import InputError
from bowfem.rod import (
    Force,
    MomentTable,
    Rod,
    Stop,
    Support,
    TautString,
    clamp,
    critical_point,
    displace,
    follow,
    follow_arc_length,
    one_state,
    pin,
    pull,
    switch_branch,
    unstable_modes,
)

EULER = np.pi**2
HINGED = [pin(0), Support(-1, ("y",))]


def strut(n=16):
    return Rod.straight(1.0, n, EI=1.0)


@pytest.mark.parametrize("count", [5, 10, 20, 40, 80, 160])
@pytest.mark.parametrize("side", [-0.02, 1e-3])
def test_a_strut_pushed_a_little_aside_bends_to_that_side(count, side):
    loads = [Force(x=-1.3 * EULER), Force(node=8, y=side, constant=True)]
    path = follow(strut(), HINGED, loads, np.linspace(0.0, 1.0, count + 1)[1:])
    assert np.sign(path.nodes[-1, 8, 1]) == np.sign(side)
    assert unstable_modes(path, HINGED, loads) == 0
    assert np.all(path.signs == 1)
    # the elastica of that load, all but the small push
    reached = abs(path.nodes[-1, 8, 1])
    assert reached == pytest.approx(_rise(1.3), rel=0.02)


def _rise(over_euler):
    """Rise of a buckled strut's middle: P / P_E = (2 K(k) / pi)^2, rise k / K(k) (elastica)."""
    low, high = 0.0, 1.0 - 1e-12
    for _ in range(200):
        k = 0.5 * (low + high)
        low, high = (low, k) if (2.0 * ellipk(k**2) / np.pi) ** 2 > over_euler else (k, high)
    return k / ellipk(k**2)


@pytest.mark.parametrize(
    ("held", "factor"),
    [
        (HINGED, 1.0),
        ([clamp(0)], 0.25),
        ([clamp(0), Support(-1, ("y", "turn"))], 4.0),
    ],
)
def test_buckling_of_struts_is_located(held, factor):
    push = [Force(x=-EULER)]
    factors = factor * np.array([0.5, 0.9, 1.1])
    path = follow(strut(), held, push, factors)
    assert path.signs.tolist() == [1, 1, -1]
    assert [unstable_modes(path, held, push, state=i) for i in range(3)] == [0, 0, 1]
    found = critical_point(path, held, push, 1)
    assert found.factor == pytest.approx(factor, rel=1e-8)
    # its mode is Euler's
    s = np.linspace(0.0, 1.0, 17)
    shape = found.mode[:, 1] / found.mode[:, 1].flat[np.argmax(np.abs(found.mode[:, 1]))]
    exact = {
        1.0: np.sin(np.pi * s),
        0.25: 1.0 - np.cos(0.5 * np.pi * s),
        4.0: 0.5 * (1.0 - np.cos(2.0 * np.pi * s)),
    }[factor]
    np.testing.assert_allclose(shape, exact / exact[np.argmax(exact)], atol=1e-6)


def test_the_second_load_of_a_strut_has_two_ways():
    push = [Force(x=-EULER)]
    path = follow(strut(), HINGED, push, [2.0, 3.9, 4.1])
    assert path.signs.tolist() == [-1, -1, 1]
    assert unstable_modes(path, HINGED, push) == 2
    assert critical_point(path, HINGED, push, 1).factor == pytest.approx(4.0, rel=1e-8)


@pytest.mark.parametrize("side", [0.1, -0.1])
def test_past_buckling_the_other_branch_is_the_elastica(side):
    push = [Force(x=-EULER)]
    path = follow(strut(), HINGED, push, [0.9, 1.1])
    point = critical_point(path, HINGED, push, 0)
    branch = switch_branch(point, HINGED, push, side)
    assert branch.factor[0] > 1.0 and unstable_modes(branch, HINGED, push) == 0
    on = follow(strut(), HINGED, push, [1.1, 1.3], start=branch)
    assert abs(on.nodes[-1, 8, 1]) == pytest.approx(_rise(1.3), rel=1e-7)
    other = switch_branch(point, HINGED, push, -side)
    np.testing.assert_allclose(other.nodes[0, :, 1], -branch.nodes[0, :, 1], atol=1e-9)


def test_a_shallow_truss_snaps_at_its_limit():
    # two bars: P = 2 EA h (1/l - 1/L) ..., limit at cos^3 = cos of rest (closed form)
    bar = Rod.straight(np.hypot(1.0, 0.1), 1, EI=1e6, EA=1e3, angle=np.arctan2(0.1, 1.0))
    held = [pin(0), Support(-1, ("x",))]
    path = follow_arc_length(bar, held, [Force(y=-1.0)], step=0.01, states=60)
    rest = np.cos(np.arctan2(0.1, 1.0))
    cosine = rest ** (1.0 / 3.0)
    sine = np.sqrt(1.0 - cosine**2)
    length = 1.0 / cosine
    exact = 1e3 * (1.0 - length * rest) * sine
    assert path.factor[path.limits[0]] == pytest.approx(exact, rel=1e-5)
    before, after = path.limits[0] - 1, path.limits[0] + 1
    loads = [Force(y=-1.0)]
    counts = [unstable_modes(path, held, loads, state=i) for i in (before, after)]
    assert counts == [0, 1]


def test_a_path_that_crosses_a_bifurcation_says_so():
    path = follow(strut(), HINGED, [Force(x=-EULER)], [0.5, 1.5])
    assert path.signs.tolist() == [1, -1]


def test_a_string_counts_no_way_of_its_own():
    limb = Rod.straight(0.6, 8, EI=40.0)
    string = TautString()
    nock = [(0.0, 0.15), (0.0, 0.3)]
    drawn = pull(limb, [clamp(0)], string, nock, 0.58, begin=(0.0, 0.15, 0.62))
    assert unstable_modes(drawn, [clamp(0)], string=string) == 0


def tabled(n=4, end=1.0):
    k = np.linspace(-end, end, 11)[None, None, :] * np.ones((n, 4, 1))
    return Rod.straight(1.0, n, EI=1.0).with_table(MomentTable(k, 1.0 * k, np.ones_like(k)))


def test_all_ways_to_follow_stop_at_the_end_of_the_law():
    rod, push = tabled(), [Force(y=1.0)]
    nock = [(0.0, y) for y in (0.1, 0.3, 0.5, 0.7, 0.8)]
    paths = [
        follow(rod, [clamp(0)], [Force(y=50.0)], np.linspace(0.01, 1.0, 100), strict=False),
        displace(rod, [clamp(0)], push, -1, "y", np.linspace(0.05, 0.9, 20), strict=False),
        follow_arc_length(rod, [clamp(0)], push, states=200, strict=False),
        pull(rod, [clamp(0)], TautString(), nock, 0.95, begin=(0.0, 0.1, 1.1), strict=False),
    ]
    for path in paths:
        assert path.stop is Stop.LIMIT
        assert 0.0 < path.table_share[-1] <= 1.0
    # and go on if told to
    on = follow(rod, [clamp(0)], [Force(y=3.0)], [1.0], limit=np.inf)
    assert on.stop is Stop.COMPLETE and on.table_share[-1] > 1.0


def test_refuses_points_that_are_none():
    push = [Force(x=-EULER)]
    path = follow(strut(), HINGED, push, [0.5, 0.6])
    for state in (0, 1, -1, 7):
        with pytest.raises(InputError) as refused:
            critical_point(path, HINGED, push, state)
        assert refused.value.key == "state"
    with pytest.raises(InputError):
        one_state(path, 5)
    crossed = follow(strut(), HINGED, push, [0.9, 1.1])
    with pytest.raises(InputError):
        switch_branch(critical_point(crossed, HINGED, push, 0), HINGED, push, 0.0)
