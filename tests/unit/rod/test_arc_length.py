"""Displacement control and arc length: limits, bifurcation, snap-back; bad input."""

from typing import Any

import numpy as np
import pytest

from benchmarks.cases import reference
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import (
    TURN_PLACES,
    Force,
    Pressure,
    Rod,
    Settings,
    Stop,
    Support,
    clamp,
    displace,
    follow,
    follow_arc_length,
    pin,
)

NAN = float("nan")
BEAM = Rod.straight(1.0, 8, EI=1.0)
#: A shallow hinged arch, pushed down at its crown: snaps through.
ARCH = Rod.arc(2.0, -1.0, 8, EI=1.0, EA=100.0, start=0.5)
ENDS, PUSH = [pin(0), pin(-1)], [Force(node=4, y=-1.0)]
TOP = ARCH.position0[4, 1]


@pytest.fixture(scope="module")
def snap():
    return follow_arc_length(ARCH, ENDS, PUSH, until=lambda p: p.factor[-1] > 20.0)


def test_displacement_control_inverts_load_control():
    loads = [0.5, 2.0, 5.0]
    by_load = follow(BEAM, [clamp(0)], [Force(y=1.0)], loads)
    path = displace(BEAM, [clamp(0)], [Force(y=1.0)], -1, "y", by_load.tip[:, 1])
    np.testing.assert_allclose(path.factor, loads, rtol=1e-8)
    np.testing.assert_allclose(path.tip, by_load.tip, atol=1e-10)


def test_every_component_can_be_controlled():
    # end couple: turn = M L / EI, x = sin(turn) / turn
    couple = [Force(couple=1.0)]
    turn = displace(BEAM, [clamp(0)], couple, -1, "turn", [1.0, np.pi, 2 * np.pi])
    np.testing.assert_allclose(turn.factor, [1.0, np.pi, 2 * np.pi], rtol=1e-9)
    x = displace(BEAM, [clamp(0)], couple, -1, "x", np.sin(1.2) / 1.2 - 1.0, start=turn_to(1.0))
    assert x.factor[0] == pytest.approx(1.2, rel=1e-9)


def turn_to(angle):
    return displace(BEAM, [clamp(0)], [Force(couple=1.0)], -1, "turn", angle)


def test_each_value_gives_a_state():
    values = [0.0, -0.1, -0.1, -0.3, 0.0]
    path = displace(ARCH, ENDS, PUSH, 4, "y", values)
    np.testing.assert_allclose(path.nodes[:, 4, 1] - TOP, values, atol=1e-12)
    assert path.factor[[0, 4]] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert path.substeps.tolist() == [1, 1, 1, 1, path.substeps[4]]


def test_displacement_is_cut_into_steps_and_they_are_counted():
    easy = displace(ARCH, ENDS, PUSH, 4, "y", -0.6)
    hard = displace(ARCH, ENDS, PUSH, 4, "y", -0.6, settings=Settings(iterations=3))
    assert hard.substeps[0] > 4 * easy.substeps[0] and len(hard) == 1
    assert hard.iterations[0] > hard.substeps[0]
    assert hard.factor[0] == pytest.approx(easy.factor[0], rel=1e-9)


@pytest.mark.parametrize("strict", [True, False])
def test_unreachable_displacement_is_reported(strict):
    # an inextensible rod of length 1 cannot move its tip 1.2 away
    args = (BEAM, [clamp(0)], [Force(y=1.0)], -1, "y", [0.3, 0.6, 1.2])
    if strict:
        with pytest.raises(ConvergenceError, match="after 2 states") as caught:
            displace(*args)
        path: Any = caught.value.status
    else:
        path = displace(*args, strict=False)
    assert path.stop is Stop.NO_CONVERGENCE and len(path) == 2
    np.testing.assert_allclose(path.tip[:, 1], [0.3, 0.6], rtol=1e-12)


def test_guess_steps_on_to_the_other_branch():
    # a strut past its buckling load (pi^2 / 4): both signs of deflection are states
    load = [Force(x=-1.0)]
    wave = 0.8 * np.sin(np.pi / 2 * np.linspace(0, 1, 9))
    guess = np.linspace(wave[:-1], wave[1:], 5, axis=1)
    for side in (1.0, -1.0):
        turn = side * np.radians(60)
        path = displace(BEAM, [clamp(0)], load, -1, "turn", turn, guess=side * guess)
        # elastica, alpha = 60 degrees: P / Pcr and tip (case 04, elliptic integrals)
        assert path.factor[0] == pytest.approx(1.15171962 * np.pi**2 / 4, rel=1e-6)
        assert path.tip[0] == pytest.approx([0.741019606, side * 0.593207646], rel=1e-6)


def test_turns_of_a_path_guess_the_mirrored_branch():
    load = [Force(x=-1.0)]
    wave = 0.8 * np.sin(np.pi / 2 * np.add.outer(np.arange(8), TURN_PLACES) / 8)
    one = displace(BEAM, [clamp(0)], load, -1, "turn", np.radians(60), guess=wave)
    other = displace(BEAM, [clamp(0)], load, -1, "turn", -np.radians(60), guess=-one.turns())
    assert int(np.sum(other.iterations)) <= 3  # it is the state itself
    np.testing.assert_allclose(other.nodes[..., 1], -one.nodes[..., 1], atol=1e-12)
    # rotations at nodes are the first and last of an element's
    np.testing.assert_allclose(one.turns()[:, 0], one.turn[-1, :-1], atol=1e-15)
    np.testing.assert_allclose(one.turns()[:, -1], one.turn[-1, 1:], atol=1e-15)


def test_limits_are_found_and_listed(snap):
    high, low = snap.limits
    assert snap.stop is Stop.COMPLETE and 0 < high < low < len(snap) - 1
    assert snap.factor[high] == np.max(snap.factor[:low])
    assert snap.factor[low] == np.min(snap.factor[high:])
    # at a limit the load does not change with displacement, to first order
    for at in snap.limits:
        y = snap.nodes[at, 4, 1] - TOP
        near = displace(ARCH, ENDS, PUSH, 4, "y", [y - 1e-3, y + 1e-3], start=None)
        curve = (near.factor[1] - near.factor[0]) / 2e-3
        assert abs(curve) < 1e-3 * np.max(np.abs(snap.factor)) / 0.3
    assert np.all(np.diff(snap.nodes[:, 4, 1]) < 0.0)


def test_arc_length_states_are_equilibria_of_load_control(snap):
    first = snap.factor[: snap.limits[0]]
    again = follow(ARCH, ENDS, PUSH, first)
    np.testing.assert_allclose(again.nodes, snap.nodes[: first.size], atol=1e-8)


def test_arc_length_states_are_equilibria_of_displacement_control(snap):
    again = displace(ARCH, ENDS, PUSH, 4, "y", snap.nodes[:, 4, 1] - TOP)
    np.testing.assert_allclose(again.factor, snap.factor, rtol=1e-6, atol=1e-6)


def test_load_control_stops_below_the_limit(snap):
    peak = snap.factor[snap.limits[0]]
    path = follow(
        ARCH, ENDS, PUSH, np.append(np.linspace(0.2, 0.98, 5) * peak, 1.01 * peak), strict=False
    )
    assert path.stop is Stop.NO_CONVERGENCE and len(path) == 5
    assert "arc length" in path.stop.value


def test_determinant_changes_sign_at_a_limit(snap):
    y = snap.nodes[snap.limits[0], 4, 1] - TOP
    before = follow(ARCH, ENDS, PUSH, snap.factor[snap.limits[0]] * 0.999)
    assert before.sign != 0
    # on the falling branch, by load control from a state of displacement control
    fallen = displace(ARCH, ENDS, PUSH, 4, "y", [y - 0.05])
    after = follow(ARCH, ENDS, PUSH, fallen.factor, start=fallen)
    assert after.nodes[0, 4, 1] - TOP == pytest.approx(y - 0.05, abs=1e-9)
    assert after.sign == -before.sign


def test_lee_frame_snaps_back():
    # Lee, Manuel, Rossow (1968): 18.55 (from memory); recomputed by shooting, case 08
    frame = Rod.polyline([[0, 0], [0, 1], [0.2, 1], [1, 1]], 4, EI=1.0)
    path = follow_arc_length(
        frame,
        [pin(0), pin(-1)],
        [Force(node=8, y=-1.0)],
        step=0.5,
        states=150,
        until=lambda p: p.nodes[-1, 8, 1] < 0.4,
    )
    expected = [reference("08", f"inext_limit_{end}")["P"] for end in ("max", "min")]
    assert path.factor[list(path.limits[:2])] == pytest.approx(expected, rel=1e-4)
    falling = path.factor[path.limits[0] : path.limits[1] + 1]
    assert np.all(np.diff(falling) < 0.0)
    # snap-back: between the limits the load point's displacement turns too
    down = 1.0 - path.nodes[path.limits[0] : path.limits[1] + 1, 8, 1]
    assert np.any(np.diff(down) < 0.0) and np.any(np.diff(down) > 0.0)


def test_deep_arch_reports_its_limit():
    # DaDeppo, Schmidt (1975): 8.97 (from memory); recomputed by shooting, case 07
    nodes = np.linspace(0.0, np.radians(215.0), 17)
    rod = Rod.from_curvature(nodes, EI=1.0, curvature0=-1.0, angle=np.radians(107.5))
    path = follow_arc_length(
        rod,
        [clamp(0), pin(-1)],
        [Force(node=8, y=-1.0)],
        step=0.5,
        states=400,
        until=lambda p: p.nodes[-1, 8, 1] < -1.0,
    )
    limit = reference("07", "clamped_hinged_limit")["P"]
    assert path.factor[path.limits[0]] == pytest.approx(limit, rel=1e-6)


def test_sway_of_a_hinged_arch_is_seen_by_the_determinant():
    # bifurcation from the symmetric branch at 3.276282 (shooting, case 07): no limit there
    critical = reference("07", "hinged_hinged_sway_bifurcation")["P"]
    nodes = np.linspace(0.0, np.radians(215.0), 17)
    rod = Rod.from_curvature(nodes, EI=1.0, curvature0=-1.0, angle=np.radians(107.5))
    signs = [
        follow(rod, [pin(0), pin(-1)], [Force(node=8, y=-1.0)], [0.5 * f, f]).sign
        for f in (critical * (1 - 1e-5), critical * (1 + 1e-5))
    ]
    assert signs[0] == -signs[1] != 0


def test_steps_grow_where_it_is_easy(snap):
    soft = follow_arc_length(BEAM, [clamp(0)], [Force(y=1.0)], step=0.01, states=12)
    growth = np.diff(soft.factor)
    assert len(soft) == 12 and growth[-1] > 10 * growth[0]
    assert soft.limits == ()


def test_steps_shrink_until_the_floor():
    settings = Settings(iterations=1)
    path = follow_arc_length(
        BEAM, [clamp(0)], [Force(y=1.0)], step=1.0, settings=settings, strict=False
    )
    assert path.stop is Stop.NO_CONVERGENCE and len(path) == 0
    with pytest.raises(ConvergenceError):
        follow_arc_length(BEAM, [clamp(0)], [Force(y=1.0)], step=1.0, settings=settings)


def test_path_can_run_backwards_and_go_on():
    back = follow_arc_length(BEAM, [clamp(0)], [Force(y=1.0)], step=-0.5, states=4)
    assert np.all(np.diff(back.factor) < 0.0) and back.factor[0] == pytest.approx(-0.5)
    more = follow_arc_length(BEAM, [clamp(0)], [Force(y=1.0)], step=-0.5, states=2, start=back)
    assert more.factor[0] == pytest.approx(back.factor[-1] - 0.5, rel=1e-12)


def test_pressure_path_and_imposed_displacement_path():
    path = follow_arc_length(BEAM, [clamp(0)], [Pressure(1.0)], step=1.0, states=5)
    again = follow(BEAM, [clamp(0)], [Pressure(1.0)], path.factor)
    np.testing.assert_allclose(path.tip, again.tip, atol=1e-9)
    lift = [clamp(0), Support(-1, ("y",), moved=(0.0, 1.0, 0.0))]
    path = follow_arc_length(BEAM, lift, [], step=0.1, states=3)
    np.testing.assert_allclose(path.tip[:, 1], path.factor, rtol=1e-9)


SIMPLE = (BEAM, [clamp(0)], [Force(y=1.0)])
BAD = {
    "values": [
        lambda: displace(*SIMPLE, -1, "y", NAN),
        lambda: displace(*SIMPLE, -1, "y", []),
        lambda: displace(*SIMPLE, -1, "y", [[0.1]]),
        lambda: displace(*SIMPLE, -1, "y", "up"),
    ],
    "component": [lambda: displace(*SIMPLE, -1, "z", 0.1)],  # type: ignore
    "node": [lambda: displace(*SIMPLE, 17, "y", 0.1)],
    "guess": [
        lambda: displace(*SIMPLE, -1, "y", 0.1, guess=np.zeros((3, 5))),
        lambda: displace(*SIMPLE, -1, "y", 0.1, guess=np.full((8, 5), NAN)),
    ],
    "loads": [
        lambda: displace(BEAM, [clamp(0)], [], -1, "y", 0.1),
        lambda: follow_arc_length(BEAM, [clamp(0)], [Force(y=1.0, constant=True)]),
    ],
    "step": [
        lambda: follow_arc_length(*SIMPLE, step=NAN),
        lambda: follow_arc_length(*SIMPLE, step=0.0),
    ],
    "states": [
        lambda: follow_arc_length(*SIMPLE, states=0),
        lambda: follow_arc_length(*SIMPLE, states=2.5),
    ],  # type: ignore
}


@pytest.mark.parametrize(("key", "call"), [(k, call) for k, calls in BAD.items() for call in calls])
def test_bad_input_is_one_error(key, call):
    with pytest.raises(InputError) as caught:
        call()
    assert caught.value.key == key
