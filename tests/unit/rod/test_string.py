"""The taut string: straight, round a circle, on a curled limb; statics, energy, lift-off."""

import numpy as np
import pytest

from bowfem.errors import InputError
from bowfem.rod import (
    MomentTable,
    Pulling,
    Rod,
    Settings,
    Stop,
    TautString,
    clamp,
    pull,
    rest_length,
)

NAN = float("nan")
LIMB = Rod.straight(0.6, 8, EI=40.0)
NOCK, SLACK = (0.0, 0.12), 0.62
HOLD = [clamp(0)]
#: An inextensible string turns 1e-11 of length into 1e-8 of force: for checks finer than that.
TIGHT = Settings(tolerance=1e-12)


def drawn(curled, draws, n=4, string=TautString(), settings=Settings(), **limb):  # noqa: B008
    """Brace a curled limb by a string 20 mm too short, then draw it along y."""
    rod = curled(n, **limb)
    rest = rest_length(rod, NOCK)
    nock = np.column_stack([np.zeros(len(draws)), draws])
    return pull(rod, HOLD, string, nock, rest - 0.02, begin=(*NOCK, rest), settings=settings)


def norm(v):
    return np.hypot(v[..., 0], v[..., 1])


@pytest.mark.parametrize("EA", [np.inf, 2e4])
def test_straight_string_keeps_its_length(EA):
    path = pull(LIMB, HOLD, TautString(EA=EA), [(0.0, 0.2), (0.0, 0.4)], 0.58, begin=(*NOCK, 0.63))
    free = norm(path.nock - path.tip)
    np.testing.assert_allclose(free, 0.58 * (1 + path.tension / EA), rtol=1e-12)
    np.testing.assert_allclose(norm(path.pull), path.tension, rtol=1e-12)
    # the nock is pulled along the string, away from the tip
    np.testing.assert_allclose(
        path.pull / path.tension[:, None], (path.nock - path.tip) / free[:, None], atol=1e-12
    )
    np.testing.assert_allclose(path.energy[:, 2], 0.5 * 0.58 * path.tension**2 / EA, rtol=1e-12)


def test_clamp_balances_the_pull():
    path = pull(LIMB, HOLD, TautString(), [(0.0, 0.4)], 0.58, begin=(*NOCK, 0.63), settings=TIGHT)
    # the reaction is that of the state before Newton's last step, below 1e-9 of the length
    np.testing.assert_allclose(path.reaction[0, 0, :2], -path.pull[0], rtol=1e-7)
    x, y = path.nock[0]
    couple = -(x * path.pull[0, 1] - y * path.pull[0, 0])
    assert path.reaction[0, 0, 2] == pytest.approx(couple, rel=1e-7)


@pytest.mark.parametrize(("across", "along"), [(0.02, 0.0), (0.0, 0.03), (-0.01, 0.02)])
def test_tie_off_the_axis(across, along):
    string = TautString(across=across, along=along)
    path = pull(LIMB, HOLD, string, [(0.0, 0.4)], 0.58, begin=(*NOCK, 0.66), settings=TIGHT)
    turn = path.turn[0, -1]
    c, s = np.cos(turn), np.sin(turn)
    tie = path.tip[0] + [along * c - across * s, along * s + across * c]
    assert norm(path.nock[0] - tie) == pytest.approx(0.58, rel=1e-12)
    np.testing.assert_allclose(path.leaves[0], tie, atol=1e-14)
    # statics: the string's force about the last node is the moment there; last Gauss point to node
    x, y = tie - path.tip[0]
    fx, fy = path.pull[0]
    moment = x * fy - y * fx
    end = np.polyfit(path.rod.stations[-1] - 0.6, path.moment[0, -1], 3)[-1]
    assert end == pytest.approx(moment, rel=1e-5)


@pytest.mark.parametrize("distance", [1.2, 2.0, 5.0])
@pytest.mark.parametrize("EA", [1e3, 1e5])
def test_length_round_a_circle(distance, EA):
    # capstan without friction: sqrt(d^2 - R^2) free, R (pi - acos(R / d)) on the circle
    rod = Rod.arc(1.0, -np.pi, 16, EI=1e9)
    nock = (0.0, distance - 1.0)
    exact = np.sqrt(distance**2 - 1) + np.pi - np.arccos(1 / distance)
    path = pull(rod, HOLD, TautString(EA=EA), [nock], exact * (1 - 1e-4), begin=(*nock, exact))
    length = path.string_length[0] * (1 + path.tension[0] / EA)
    assert length == pytest.approx(exact, rel=1e-7)
    ends = [np.pi, np.arccos(1 / distance)]
    np.testing.assert_allclose(path.contact[0, 0], ends, rtol=1e-6)
    assert norm(path.pull[0]) == pytest.approx(path.tension[0], rel=1e-12)


@pytest.mark.parametrize("model", [{}, {"EA": 1e6, "GA": 4e5}])
def test_wrapped_part_keeps_its_natural_curvature(curled, model):
    # string on the axis: a taut string carries no moment across, so the limb under it has none
    path = drawn(curled, np.arange(0.12, 0.45, 0.03), **model)
    counts = []
    for k in range(len(path)):
        on = path.pressure[k] > 0.0
        counts.append(on.sum())
        assert np.max(np.abs(path.bending[k][on])) < 1e-10 * 8.0  # of the curl's curvature
        np.testing.assert_allclose(path.axial[k][on], -path.tension[k], rtol=1e-12)
        np.testing.assert_allclose(path.shear[k][on], 0.0, atol=1e-12 * path.tension[k])
    assert counts[0] > counts[-1] >= 2


@pytest.mark.parametrize("model", [{}, {"EA": 1e6, "GA": 4e5}])
def test_offset_string_bends_the_wrapped_part_evenly(curled, model):
    # closed form: M = T b wherever the string lies on the surface
    b = 0.012
    path = drawn(curled, np.arange(0.12, 0.45, 0.03), belly=b, even=True, **model)
    for k in range(len(path)):
        on = path.pressure[k] > 0.0
        assert on.sum() >= 2
        np.testing.assert_allclose(path.moment[k][on], path.tension[k] * b, rtol=1e-9)


def test_contact_force_is_the_string_s_turn(curled):
    # T |dtheta/ds|, so over whole wrapped elements it adds up to T times the turn
    path = drawn(curled, [0.14, 0.2])
    h = np.diff(path.rod.nodes)
    weight = np.array([0.1739274225687269, 0.3260725774312731] * 2)[[0, 1, 3, 2]]  # Gauss
    for k in range(2):
        whole = np.all(path.pressure[k] > 0.0, axis=1)
        assert whole.sum() >= 2
        force = np.sum(path.pressure[k][whole] * weight * h[whole, None])
        assert force == pytest.approx(path.tension[k] * 8.0 * h[whole].sum(), rel=1e-9)
        inner = path.contact[k, 0, 1]
        assert not np.any(path.pressure[k][path.rod.stations < inner - 1e-9])


@pytest.mark.parametrize("model", [{}, {"EA": 1e6, "GA": 4e5, "belly": 0.012}])
@pytest.mark.parametrize("EA", [np.inf, 5e4])
def test_work_of_the_pull_is_the_energy_gained(curled, model, EA):
    # first law, through lift-off; cubic quadrature of the walk
    from scipy.interpolate import CubicSpline

    path = drawn(curled, np.linspace(0.13, 0.56, 130), string=TautString(EA=EA), **model)
    assert path.contact[0, 0, 1] < 0.46 and path.contact[-1, 0, 1] == pytest.approx(0.6)
    y = path.nock[:, 1]
    work = CubicSpline(y, path.pull[:, 1]).integrate(y[0], y[-1])
    gained = np.sum(path.energy[-1] - path.energy[0])
    assert work == pytest.approx(gained, rel=1e-6)
    assert (path.energy[-1, 2] > 0.0) == np.isfinite(EA)


def test_work_of_shortening_the_string():
    # energy gained = -int T dl with the nock held; elastic string
    from scipy.interpolate import CubicSpline

    lengths = np.linspace(0.60, 0.50, 101)
    nock = np.tile(NOCK, (101, 1))
    path = pull(LIMB, HOLD, TautString(EA=3e4), nock, lengths, begin=(*NOCK, 0.61))
    # at fixed nock, dE = -T (1 + T / 2 EA) dl: natural length leaves with its own energy
    T = path.tension
    work = CubicSpline(-lengths, T * (1 + T / (2 * 3e4))).integrate(-0.60, -0.50)
    assert work == pytest.approx(np.sum(path.energy[-1] - path.energy[0]), rel=1e-6)


def test_force_and_lift_off_converge(curled):
    # lengths and draws the same for every mesh; four draws between brace and lift-off
    draws = np.array([0.16, 0.28, 0.36, 0.44])
    rest = rest_length(curled(64), NOCK)

    def walk(n):
        rod = curled(n)
        begin = (*NOCK, rest_length(rod, NOCK))
        nock = np.column_stack([np.zeros(4), draws])
        path = pull(rod, HOLD, TautString(), nock, rest - 0.02, begin=begin, settings=TIGHT)
        return path.pull[:, 1], path.contact[:, 0, 1]

    counts = np.array([1, 2, 4, 8])
    force, lift = walk(48)
    off = [walk(int(n)) for n in counts]
    forces = [np.max(np.abs(f - force)) / force[-1] for f, _ in off]
    lifts = [np.max(np.abs(x - lift)) / 0.6 for _, x in off]
    assert forces[-1] < 1e-9 and lifts[-1] < 1e-5
    assert -np.polyfit(np.log(counts), np.log(forces), 1)[0] > 4.0
    assert -np.polyfit(np.log(counts), np.log(lifts), 1)[0] > 2.0


@pytest.mark.parametrize("n", [2, 4])
@pytest.mark.parametrize("belly", [0.0, 0.012])
def test_no_staircase_in_the_force(curled, n, belly):
    # halving the step quarters a smooth curve's second difference; jumps between samples, elements
    # or cuts would leave it as it is
    top = []
    for steps in (150, 300):
        draws = np.linspace(0.14, 0.50, steps + 1)
        path = drawn(curled, [0.13, *draws], n=n, belly=belly)
        force = path.pull[1:, 1]
        top.append(np.max(np.abs(np.diff(force, 2))))
        lift = path.contact[1:, 0, 1]
        assert np.all(np.diff(lift) > 0.0)  # it runs along the curl without a step back
        assert np.max(np.diff(lift)) < 3 * np.mean(np.diff(lift))
    assert top[0] / top[1] > 3.5
    assert top[1] < 1e-4 * force[-1]


def test_lift_off_takes_no_smaller_steps(curled):
    path = drawn(curled, np.linspace(0.13, 0.56, 44))
    assert path.contact[-1, 0, 1] == pytest.approx(0.6) and np.all(path.pressure[-1] == 0.0)
    assert np.all(path.substeps[1:] == 1)
    assert np.mean(path.iterations[2:]) < 4.0


def test_string_never_cuts_through_the_limb(curled):
    path = drawn(curled, [0.13, 0.3, 0.5], belly=0.0)
    for k in range(3):
        start, end = path.leaves[k], path.nock[k]
        points = path.line(16)[k]
        free = points[path_length(path, points) < path.contact[k, 0, 1] - 1e-9]
        way = (end - start) / norm(end - start)
        side = way[0] * (free - start)[:, 1] - way[1] * (free - start)[:, 0]
        # the string runs from tip to nock with the rod on its left, or on it
        assert np.all(side > -1e-7)


def path_length(path, points):
    return np.append(0.0, np.cumsum(norm(np.diff(points, axis=0))))


def test_two_contacts_on_a_double_curl():
    # a bump inboard of the curl: the string touches both
    nodes = np.linspace(0.0, 0.6, 13)
    bump = Rod.from_curvature(
        nodes,
        EI=300.0,
        belly=lambda s: 0.03 * np.exp(-(((s - 0.25) / 0.06) ** 2)),
        curvature0=lambda s: np.where(s > 0.4, -6.0, 0.0),
    )
    path = pull(bump, HOLD, TautString(), [(0.0, 0.005)], 0.598, begin=(0.0, 0.005, 0.615))
    pieces = path.contact[0][np.isfinite(path.contact[0, :, 0])]
    assert len(pieces) == 2
    (_, inner), (outer, last) = pieces
    assert 0.4 < inner and 0.2 < last <= outer < 0.3
    assert norm(path.pull[0]) == pytest.approx(path.tension[0], rel=1e-12)


def law(rod, end):
    k = np.broadcast_to(np.linspace(-end, end, 41), (*rod.EI.shape, 41)).copy()
    return rod.with_table(MomentTable(k, 40.0 * k, np.full_like(k, 40.0)))


@pytest.mark.parametrize("limit", [1.0, 0.8])
def test_walk_stops_where_the_law_ends(limit):
    rod = law(LIMB, 2.0)
    nock = [(0.0, y) for y in np.linspace(0.13, 0.58, 46)]
    path = pull(
        rod, HOLD, TautString(), nock, 0.58, begin=(*NOCK, SLACK), limit=limit, strict=False
    )
    assert path.stop is Stop.LIMIT and "limit" in path.stop.value
    assert 2 < len(path) < 46
    assert np.all(path.table_share <= limit)
    assert path.table_share[-1] == pytest.approx(np.max(np.abs(path.bending[-1])) / 2.0, rel=1e-9)
    plain = pull(LIMB, HOLD, TautString(), nock, 0.58, begin=(*NOCK, SLACK))
    assert np.max(np.abs(plain.bending[len(path)])) / 2.0 > limit
    np.testing.assert_allclose(path.pull, plain.pull[: len(path)], rtol=1e-9)


def test_limb_at_full_stretch_is_reported():
    # string 0.58 and limb 0.6 cannot reach a nock 1.3 away: states before are kept
    nock = [(0.0, y) for y in np.linspace(0.2, 1.3, 23)]
    path = pull(LIMB, HOLD, TautString(), nock, 0.58, begin=(*NOCK, SLACK), strict=False)
    assert path.stop is Stop.NO_CONVERGENCE
    assert 10 < len(path) and 0.9 < path.nock[-1, 1] < 0.58 + 0.6


def test_going_on_is_the_same_as_going_through(curled):
    whole = drawn(curled, [0.15, 0.25, 0.35])
    first = drawn(curled, [0.15, 0.25])
    length = first.string_length[-1]
    more = pull(first.rod, HOLD, TautString(), [(0.0, 0.35)], length, begin=(0, 0, 1), start=first)
    np.testing.assert_allclose(more.nodes[-1], whole.nodes[-1], atol=1e-9)
    assert more.tension[-1] == pytest.approx(whole.tension[-1], rel=1e-8)


ARGS = {"string": TautString(), "nock": [0.0, 0.2], "length": 0.58, "begin": (*NOCK, SLACK)}
BAD = {
    "nock": [{"nock": [1.0, 2.0, 3.0]}, {"nock": np.zeros((0, 2))}, {"nock": [[0.0], [1.0, 2.0]]}],
    "nock, length": [{"nock": [NAN, 0.2]}, {"length": -1.0}, {"length": NAN}, {"length": np.inf}],
    "length": [{"length": [0.5, 0.5]}, {"length": "long"}],
    "begin": [{"begin": (NAN, 0.1, 0.6)}, {"begin": (0.0, 0.1)}, {"begin": (0.0, 0.1, 0.0)}],
    "limit": [{"limit": NAN}, {"limit": 0.0}, {"limit": -np.inf}],
    "EA": [
        {"string": TautString(EA=-1.0)},
        {"string": TautString(EA=NAN)},
        {"string": TautString(EA=0.0)},
    ],
    "across": [{"string": TautString(across=NAN)}],
    "along": [{"string": TautString(along=np.inf)}],
}


@pytest.mark.parametrize(("key", "bad"), [(k, bad) for k, cases in BAD.items() for bad in cases])
def test_bad_input_is_one_error(key, bad):
    with pytest.raises(InputError) as caught:
        pull(LIMB, HOLD, **{**ARGS, **bad})
    assert caught.value.key == key


def test_a_rod_laid_out_once_is_pulled_as_ever():
    nock = [(0.0, 0.15), (0.0, 0.3), (0.0, 0.45)]
    whole = pull(LIMB, HOLD, TautString(), nock, 0.58, begin=(0.0, 0.15, 0.62))
    once = Pulling(LIMB, HOLD, TautString())
    path = once.to(nock[:1], 0.58, begin=(0.0, 0.15, 0.62))
    for place in nock[1:]:
        held = once.held([place], 0.58, start=path)
        assert len(held) == 1 and held.stop is Stop.COMPLETE
        path = held.path()
        for name in ("tension", "nock", "string_length", "pull", "raw"):
            np.testing.assert_allclose(getattr(held, name), getattr(path, name), rtol=1e-12)
    np.testing.assert_allclose(path.pull, whole.pull[-1:], rtol=1e-8)
    np.testing.assert_allclose(path.nodes, whole.nodes[-1:], atol=1e-9)
