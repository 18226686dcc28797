"""The string where contact is hard to tell: a straight end beyond a curl, a pull past the end."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from bowfem.rod import Rod, Stop, TautString, clamp, pull, rest_length

HOLD = [clamp(0)]


@pytest.mark.parametrize("end", [0.002, 0.03])
@pytest.mark.parametrize("offset", [0.0, 0.012])
def test_straight_end_beyond_a_wrapped_curl(end, offset):
    # string along the straight end, then round the curl: two pieces of contact that meet
    nodes = np.concatenate([np.linspace(0.0, 0.4, 9), np.linspace(0.4, 0.6, 7)[1:], [0.6 + end]])
    rod = Rod.from_curvature(
        nodes,
        EI=20.0,
        curvature0=lambda s: np.where((s > 0.4) & (s < 0.6), -8.0, 0.0),
        belly=offset,
    )
    nock = (0.0, 0.12)
    rest = rest_length(rod, nock)
    draws = [(0.0, y) for y in np.linspace(0.12, 0.42, 11)]
    path = pull(rod, HOLD, TautString(EA=1e5), draws, rest - 0.02, begin=(*nock, rest))
    for k in range(len(path)):
        on = (path.pressure[k] > 1e-6 * path.tension[k]) & (rod.stations < 0.6)
        # a taut string bends what lies under it by its tension at its offset, nowhere more
        np.testing.assert_allclose(path.moment[k][on], path.tension[k] * offset, atol=1e-9 * 20.0)
    assert on.sum() >= 2


@pytest.mark.parametrize("angle", [2.2, 2.6, 3.0])
def test_string_pulls_straight_past_the_end(angle):
    # a rigid arc round (0, 1): beyond 120 degrees its end points past the nock at (0, 3), so that
    # the string runs straight from the end, touching nothing, and does not double back on the arc
    rod = Rod.arc(1.0, angle, 12, EI=1e6)
    tip = np.array([np.sin(angle), 1.0 - np.cos(angle)])
    straight = float(np.hypot(*(tip - (0.0, 3.0))))
    path = pull(
        rod,
        HOLD,
        TautString(EA=1e3),
        [(0.0, 3.0)],
        straight * (1 - 1e-3),
        begin=(0.0, 3.0, straight),
    )
    # the end gives way by T L^3 / EI, 1e-5
    assert path.string_length[0] * (1 + path.tension[0] / 1e3) == pytest.approx(straight, rel=1e-4)
    np.testing.assert_array_equal(path.contact[0, 0], [rod.length, rod.length])
    assert np.all(np.isnan(path.contact[0, 1:])) and not np.any(path.pressure)
    way = (path.nock[0] - path.tip[0]) / np.hypot(*(path.nock[0] - path.tip[0]))
    # Newton's last step, 1e-9 of the rod
    np.testing.assert_allclose(path.pull[0], path.tension[0] * way, rtol=1e-9)


@pytest.mark.parametrize("grow", [0.05, 0.2])
def test_coarse_curl_that_stiffens_outward(grow):
    # one element turns by 69 degrees and the belly rises along it: where the contact ends, as the
    # cut mesh sees it, jumps to and fro when the end passes a Gauss point
    nodes = np.array([0.0, 0.2, 0.4, 0.6])
    rod = Rod.from_curvature(
        nodes,
        EI=lambda s: np.where(s > 0.4, 20.0 + 3000.0 * (s - 0.4), 40.0 - 50.0 * s),
        curvature0=lambda s: np.where(s > 0.4, -12.0, -0.2),
        belly=lambda s: 0.005 + grow * np.clip(s - 0.4, 0.0, 1.0),
    )
    nock, rest = (0.0, 0.12), rest_length(rod, (0.0, 0.12))
    y = np.linspace(0.121, 0.4, 150)
    draws = np.column_stack([np.zeros_like(y), y])
    path = pull(rod, HOLD, TautString(EA=1e5), draws, rest - 0.02, begin=(*nock, rest))
    assert path.stop is Stop.COMPLETE and path.iterations.max() <= 9
    inner = path.contact[:, 0, 1]
    assert inner[0] < 0.5 < inner[-1]
    # first law: an end left where it was costs length to the third order only
    work = CubicSpline(y, path.pull[:, 1]).integrate(y[0], y[-1])
    assert work == pytest.approx(np.sum(path.energy[-1] - path.energy[0]), rel=1e-4)


@pytest.mark.parametrize("offset", [0.0, 0.012])
def test_wrapped_over_more_than_a_right_angle(offset):
    # exact: a string on the axis leaves the curl under it unbent, one at an offset b bends it by
    # T b, as long as it lies on it
    nodes = np.concatenate([np.linspace(0.0, 0.4, 9), np.linspace(0.4, 0.68, 9)[1:]])
    rod = Rod.from_curvature(
        nodes, EI=20.0, curvature0=lambda s: np.where(s > 0.4, -9.0, 0.0), belly=offset
    )
    nock, rest = (0.0, 0.12), rest_length(rod, (0.0, 0.12))
    lengths = rest - np.linspace(0.004, 0.04, 10)
    path = pull(rod, HOLD, TautString(EA=1e5), [nock] * 10, lengths, begin=(*nock, rest))
    turned = []
    for k in range(len(path)):
        outer, inner = path.contact[k, 0]
        on = (rod.stations > inner) & (rod.stations < outer)
        turned.append(9.0 * (outer - inner))
        couple = path.tension[k] * offset
        np.testing.assert_allclose(path.moment[k][on], couple, rtol=1e-8, atol=1e-8 * 20.0 * 9.0)
        np.testing.assert_allclose(path.bending[k][on], couple / 20.0, atol=1e-8 * 9.0)
    assert max(turned) > np.radians(100.0) and len(path) == 10
