"""What holds for any rod and string: frames, mirrors, units, energy, reciprocity."""

from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import assume, given, strategies as st

from bowfem.rod import (
    Force,
    LineLoad,
    Path,
    Pressure,
    Rod,
    Settings,
    TautString,
    clamp,
    follow,
    pull,
    rest_length,
)

#: Rounding, and Newton's last step of 1e-9 of the length, whose square is left.
SAME = 1e-9
#: Force in an inextensible string: 1e-11 of its length makes 1e-8 of the force.
SAME_FORCE = 1e-6
TIGHT = Settings(tolerance=1e-13)

unit = st.floats(-1.0, 1.0, allow_nan=False)
angles = st.floats(-3.1, 3.1, allow_nan=False)
doublings = st.integers(-6, 6)


class Case(NamedTuple):
    """A tapered, curved rod of unit length and its loads over EI / L^2."""

    curvature: float
    taper: float
    stretch: float  # 1 / EA
    fx: float
    fy: float
    couple: float
    push: float  # follower force, at rest across the root's tangent
    pressure: float
    weight: float

    def rod(self, *, angle=0.0, side=1.0, length=1.0, stiffness=1.0, n=4) -> Rod:
        """Build it in a turned frame, mirrored, or in other units of length and force."""
        force = stiffness / length**2

        def axial(s):
            return 0.0 * s + (force / self.stretch if self.stretch else np.inf)

        return Rod.from_curvature(
            np.linspace(0.0, length, n + 1),
            angle=angle,
            EA=axial,
            EI=lambda s: stiffness * (1.0 - self.taper * (s / length)),
            curvature0=side * self.curvature / length,
        )

    def loads(self, *, angle=0.0, side=1.0, length=1.0, stiffness=1.0):
        """All loads, likewise."""
        force = stiffness / length**2
        c, s = force * np.cos(angle), force * np.sin(angle)

        def turned(x, y):
            return {"x": c * x - s * side * y, "y": s * x + c * side * y}

        return [
            Force(**turned(self.fx, self.fy), couple=side * self.couple * force * length),
            Force(**turned(0.0, self.push), follower=True),
            Pressure(side * self.pressure * force / length),
            LineLoad(**{k: v / length for k, v in turned(0.0, self.weight).items()}),
        ]

    def solve(self, factors=(1.0,), **change) -> Path:
        """Follow the loads."""
        return follow(self.rod(**change), [clamp(0)], self.loads(**change), factors, settings=TIGHT)


cases = st.builds(
    Case,
    curvature=unit,
    taper=st.floats(0.0, 0.8),
    stretch=st.sampled_from([0.0, 1e-3]),
    fx=unit,
    fy=unit,
    couple=unit,
    push=unit,
    pressure=unit,
    weight=unit,
)


def turn(xy, angle):
    c, s = np.cos(angle), np.sin(angle)
    return xy @ np.array([[c, s], [-s, c]])


@given(cases, angles)
def test_turning_the_frame_turns_the_answer(case, angle):
    base, turned = case.solve(), case.solve(angle=angle)
    np.testing.assert_allclose(turned.nodes[0], turn(base.nodes[0], angle), atol=SAME)
    np.testing.assert_allclose(turned.moment, base.moment, atol=10 * SAME)
    np.testing.assert_allclose(turned.axial, base.axial, atol=100 * SAME)
    np.testing.assert_allclose(
        turned.reaction[0, 0, :2], turn(base.reaction[0, 0, :2], angle), atol=1000 * SAME
    )


@given(cases)
def test_mirror(case):
    # every operation keeps its magnitude when the signs of y and of angles change
    base, mirror = case.solve(), case.solve(side=-1.0)
    np.testing.assert_allclose(mirror.nodes, base.nodes * [1.0, -1.0], atol=1e-14)
    np.testing.assert_allclose(mirror.turn, -base.turn, atol=1e-14)
    np.testing.assert_allclose(mirror.energy, base.energy, rtol=1e-12, atol=1e-14)
    assert mirror.iterations.tolist() == base.iterations.tolist()


@given(cases, doublings, doublings)
def test_units_by_powers_of_two_change_no_bit(case, metres, newtons):
    # a power of two changes exponents only: not a digit, not an iteration may differ
    length, stiffness = 2.0**metres, 2.0**newtons
    base, other = case.solve(), case.solve(length=length, stiffness=stiffness)
    force = stiffness / length**2
    np.testing.assert_array_equal(other.nodes / length, base.nodes)
    np.testing.assert_array_equal(other.moment / (force * length), base.moment)
    np.testing.assert_array_equal(other.axial / force, base.axial)
    np.testing.assert_array_equal(other.energy / (force * length), base.energy)
    assert other.iterations.tolist() == base.iterations.tolist()
    np.testing.assert_array_equal(other.history, base.history)


@given(cases)
def test_energy_is_the_work_of_the_loads(case):
    # dead loads and couple only; Simpson along the load path, error of its fourth order
    dead = case._replace(push=0.0, pressure=0.0, weight=0.0)
    assume(abs(dead.fx) + abs(dead.fy) + abs(dead.couple) > 0.1)
    factors = np.linspace(0.0, 1.0, 41)
    path = dead.solve(factors)
    # complementary work: load factor times what the loads do
    done = dead.fx * path.tip[:, 0] + dead.fy * path.tip[:, 1] + dead.couple * path.turn[:, -1]
    done = done - done[0]
    weights = np.ones(41)
    weights[1:-1:2], weights[2:-1:2] = 4.0, 2.0
    work = done[-1] - np.sum(weights * done) / 120.0
    stored = np.sum(path.energy[-1])
    assert work == pytest.approx(stored, rel=1e-5)
    assert stored > 0.0


@given(cases, st.integers(1, 4), st.integers(1, 4), angles, angles)
def test_small_loads_are_reciprocal(case, one, other, first, second):
    # Maxwell, Betti: work of A on B's displacement is that of B on A's; on top of a large load
    held = case._replace(push=0.0, pressure=0.0).loads()
    rod = case.rod()
    small = 1e-4

    def push(node, angle):
        load = Force(node, x=small * np.cos(angle), y=small * np.sin(angle))
        ends = [
            follow(rod, [clamp(0)], [*constant(held), load], [f], settings=TIGHT).nodes[0]
            for f in (-1.0, 1.0)
        ]
        return (ends[1] - ends[0]) / (2 * small)  # central: what is left is small^2

    a = push(one, first)[other] @ [np.cos(second), np.sin(second)]
    b = push(other, second)[one] @ [np.cos(first), np.sin(first)]
    assert a == pytest.approx(b, abs=1e-7)


def constant(loads):
    """Copies of loads that do not scale."""
    from dataclasses import replace

    return [replace(load, constant=True) for load in loads]


class Limb(NamedTuple):
    """A curled limb with a string, drawn; lengths in m."""

    curl: float  # curvature of the curl, 1/m
    taper: float
    offset: float
    EA: float
    draw: float

    def solve(self, *, length=1.0, stiffness=1.0, side=1.0, angle=0.0, at=(0.0, 0.0)) -> Path:
        """Brace by 1 % of slack and draw, in other units or another frame."""
        nodes = np.concatenate([np.linspace(0, 0.4, 5), np.linspace(0.4, 0.6, 4)[1:]]) * length
        force = stiffness / length**2
        rod = Rod.from_curvature(
            nodes,
            EI=lambda s: stiffness * (40 - self.taper * 50 * (s / length)),
            curvature0=lambda s: np.where(s > 0.4 * length, -self.curl / length, 0.0),
            belly=self.offset * length,
            angle=angle,
            origin=at,
        )
        nock = np.array([[0.0, 0.1], [0.0, 0.16], [0.0, self.draw]]) * length
        way = turn(nock, angle) + at
        rest = rest_length(rod, way[0])
        short = rest - 0.012 * length
        return pull(
            rod,
            [clamp(0)],
            TautString(EA=self.EA * force),
            way,
            short,
            begin=(*way[0], rest),
            settings=TIGHT,
        )


limbs = st.builds(
    Limb,
    curl=st.floats(0.5, 7.0),
    taper=st.floats(0.0, 1.0),
    offset=st.floats(0.0, 0.015),
    EA=st.sampled_from([np.inf, 2e4, 1e6]),
    draw=st.floats(0.2, 0.45),
)


@given(limbs, angles, unit, unit)
def test_turning_and_moving_a_bow_turns_and_moves_the_answer(limb, angle, x, y):
    base, moved = limb.solve(), limb.solve(angle=angle, at=(x, y))
    np.testing.assert_allclose(moved.nodes, turn(base.nodes, angle) + np.array([x, y]), atol=SAME)
    np.testing.assert_allclose(moved.tension, base.tension, rtol=SAME_FORCE)
    np.testing.assert_allclose(
        moved.pull, turn(base.pull, angle), atol=SAME_FORCE * base.tension.max()
    )


@given(limbs, doublings, doublings)
def test_a_bow_in_other_units(limb, metres, newtons):
    length, stiffness = 2.0**metres, 2.0**newtons
    force = stiffness / length**2
    base, other = limb.solve(), limb.solve(length=length, stiffness=stiffness)
    np.testing.assert_array_equal(other.nodes / length, base.nodes)
    np.testing.assert_array_equal(other.tension / force, base.tension)
    np.testing.assert_array_equal(other.contact / length, base.contact)
    assert other.iterations.tolist() == base.iterations.tolist()


@given(limbs)
def test_string_holds_its_law_and_its_side(limb):
    path = limb.solve()
    EA = limb.EA
    # tension only, contact pushes only, energy as the law says
    assert np.all(path.tension > 0.0) and np.all(path.pressure >= 0.0)
    np.testing.assert_allclose(
        path.energy[:, 2], path.string_length * path.tension**2 / (2 * EA), rtol=1e-9
    )
    # the straight end is the pull; its force closes the limb's balance at the clamp
    np.testing.assert_allclose(np.hypot(*path.pull.T), path.tension, rtol=1e-12)
    np.testing.assert_allclose(
        path.reaction[:, 0, :2], -path.pull, atol=SAME_FORCE * path.tension.max()
    )
    outer, inner = path.contact[:, 0, 0], path.contact[:, 0, 1]
    assert np.all(inner <= outer + 1e-12) and np.all(outer <= 0.6 + 1e-12)
