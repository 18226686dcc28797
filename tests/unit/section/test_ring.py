"""The wall as a rod: exact derivatives, convergence, and rings known in closed form."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bowfem.errors import InputError
from bowfem.section import (
    RIGID_PVC,
    Linear,
    Pipe,
    Saturating,
    circle,
    ellipse,
    moment_curvature,
    pressed,
    racetrack,
)
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import _solved, bending_rigidity, follow_bending
from bowfem.section.wall import sampled

PIPE = Pipe(26.67e-3, 2.87e-3)
THICKNESSES = (2.0 * PIPE.wall, 9e-3, 16e-3, 22e-3, PIPE.outer_diameter)
LYING = [pressed(PIPE, h) for h in THICKNESSES]
TURNED = [outline.turned() for outline in LYING]
SETS = pytest.mark.parametrize("outlines", [LYING, TURNED], ids=["lying", "turned"])


def knots(outlines, strain=0.08, n=16):
    fibre = np.array([outline.fibre for outline in outlines])
    return strain / fibre[:, None] * np.linspace(0.0, 1.0, n + 1)


def some_state(ring, rng):
    """Return a state far from equilibrium, multipliers left out, and what loads it."""
    state = 0.05 * rng.normal(size=(len(ring.radius), ring.size))
    state[:, -3] *= 0.1
    state[:, -2:] = 0.0
    b = len(state)
    return state, rng.uniform(0.02, 0.08, b), rng.uniform(0.1, 0.3, b), rng.normal(size=b)


@SETS
@pytest.mark.parametrize("curled", [False, True])
def test_derivatives_are_those_of_the_energy(outlines, curled):
    ring = Ring.from_outlines(outlines)
    rng = np.random.default_rng(4)
    state, kappa, *loads = some_state(ring, rng)
    loads = loads if curled else (None, None)
    h, n = 1e-6, ring.size

    def energy(u, k):
        return ring.energy(RIGID_PVC, u, k, *loads)

    def forces(u, k):
        return ring.forces(RIGID_PVC, u, k, *loads)

    held = state.copy()
    held[:, -2:] = rng.normal(size=(len(state), 2))
    found, constrained = forces(state, kappa), forces(held, kappa)
    unit = np.eye(n) * h
    # central differences: truncation h^2, round-off 1e-16 / h, both over the size of the array
    for j in range(n - 2):
        slope = (energy(state + unit[j], kappa) - energy(state - unit[j], kappa)) / (2.0 * h)
        np.testing.assert_allclose(found.gradient[:, j], slope, atol=1e-8)
    for j in range(n):
        up, down = forces(held + unit[j], kappa), forces(held - unit[j], kappa)
        slope = (up.gradient - down.gradient) / (2.0 * h)
        scale = np.max(np.abs(constrained.hessian))
        np.testing.assert_allclose(constrained.hessian[:, :, j], slope, atol=1e-8 * scale)
    up, down = forces(state, kappa + h), forces(state, kappa - h)
    np.testing.assert_allclose(
        found.moment, (energy(state, kappa + h) - energy(state, kappa - h)) / (2.0 * h), atol=1e-7
    )
    np.testing.assert_allclose(found.mixed, (up.gradient - down.gradient) / (2.0 * h), atol=1e-6)
    np.testing.assert_allclose(found.stiffness, (up.moment - down.moment) / (2.0 * h), rtol=1e-7)


def test_touching_faces_have_exact_derivatives_too():
    ring = Ring.from_outlines(LYING[:1], flat_points=12)
    # closed flats, bent until they press on each other
    path = follow_bending(ring, RIGID_PVC, knots(LYING[:1], 0.03, 6))
    state, kappa, h = path.unknowns[:, -1].copy(), path.curvature[:, -1] * ring.radius, 1e-7
    state[:, -2:] = 0.0
    found = ring.forces(RIGID_PVC, state, kappa)
    free = ring.without_contact()
    press, loose = (each.forces(RIGID_PVC, state, kappa).gradient for each in (ring, free))
    assert np.max(np.abs(press - loose)) > 1e-3  # they do touch
    for j in range(ring.size - 2):
        step = np.zeros(ring.size)
        step[j] = h
        energy = [float(ring.energy(RIGID_PVC, state + s * step, kappa)[0]) for s in (1, -1)]
        assert found.gradient[0, j] == pytest.approx((energy[0] - energy[1]) / (2.0 * h), abs=2e-8)
        up, down = (ring.forces(RIGID_PVC, state + s * step, kappa).gradient[0] for s in (1, -1))
        np.testing.assert_allclose(
            found.hessian[0, :-2, j],
            ((up - down) / (2.0 * h))[:-2],
            atol=1e-6 * np.max(np.abs(found.hessian)),
        )


def test_newton_is_quadratic():
    ring = Ring.from_outlines(LYING[1:4])
    kappa = 0.04 / np.array([outline.fibre for outline in LYING[1:4]]) * ring.radius
    state, sizes = np.zeros((3, ring.size)), []
    for _ in range(9):
        found = ring.forces(RIGID_PVC, state, kappa)
        step = np.linalg.solve(found.hessian, -found.gradient[..., None])[..., 0]
        state += step
        sizes.append(np.max(np.abs(step[:, :-3]), axis=1))
    sizes = np.array(sizes)
    for row in sizes.T:
        small = int(np.flatnonzero(row < 0.05)[0])
        assert small < 6
        # one factor for all steps from a twentieth down to round-off
        assert np.all(row[small + 1 :] < 10.0 * row[small:-1] ** 2 + 1e-12)
        assert row[-1] < 1e-12


@SETS
@pytest.mark.parametrize("law", [RIGID_PVC, Saturating(2.9e9, 51.4e6, 66.2e6)])
def test_frozen_outline_is_plain_bending(outlines, law):
    # the same wall, on other points along it: fixed outline, moment by `moment_curvature`
    ring = Ring.from_outlines(outlines, 2, 10, 10)
    path = follow_bending(ring, law, knots(outlines), frozen=True)
    for i, outline in enumerate(outlines):
        plain = moment_curvature(outline, law, path.curvature[i])
        # quadrature along the wall of laws whose second or sixth derivative jumps
        top = plain.moment[-1]
        np.testing.assert_allclose(path.moment[i], plain.moment, atol=2e-5 * top)
        np.testing.assert_allclose(path.tangent[i, :9], plain.tangent[:9], rtol=2e-3)
    linear = follow_bending(ring, Linear(2.9e9), knots(outlines), frozen=True)
    stiffness = [2.9e9 * outline.second_moment_weak for outline in outlines]
    # round-off only
    np.testing.assert_allclose(
        linear.moment, linear.curvature * np.array(stiffness)[:, None], rtol=1e-11, atol=1e-12
    )


@SETS
def test_first_stiffness_is_that_at_rest(outlines):
    path = follow_bending(Ring.from_outlines(outlines), RIGID_PVC, knots(outlines, 1e-4, 1))
    stiffness = [2.9e9 * outline.second_moment_weak for outline in outlines]
    # quadrature of eight points a piece
    np.testing.assert_allclose(path.tangent[:, 0], stiffness, rtol=2e-8)


@SETS
def test_moment_is_the_slope_of_the_energy_along_the_path(outlines):
    ring = Ring.from_outlines(outlines)
    at, h = knots(outlines)[:, :13], 1e-5
    ends = np.concatenate([at, at[:, -1:] * (1.0 - h), at[:, -1:] * (1.0 + h)], axis=1)
    path = follow_bending(ring, RIGID_PVC, ends, tolerance=1e-10)
    energy = [
        ring.energy(RIGID_PVC, path.unknowns[:, j], ends[:, j] * ring.radius) for j in (-2, -1)
    ]
    scale = 2.0 * bending_rigidity(ring, RIGID_PVC) / ring.radius
    slope = scale * (energy[1] - energy[0]) / (ends[:, -1] - ends[:, -2])
    middle = path.moment[:, -3]
    np.testing.assert_allclose(middle, slope, rtol=1e-7)
    tangent = (path.moment[:, -1] - path.moment[:, -2]) / (ends[:, -1] - ends[:, -2])
    np.testing.assert_allclose(
        path.tangent[:, -3], tangent, rtol=1e-5, atol=1e-6 * path.tangent[0, 0]
    )


def test_small_flattening_is_braziers(cases):
    # Brazier 1927: M = pi E R^3 t kappa (1 - 3/2 zeta), zeta = kappa^2 R^4 (1 - nu^2) / t^2; the
    # next term of the exact ring is of relative size zeta^2
    pipe = Pipe(0.1, 1e-4)
    law, radius = Linear(2.9e9), 0.5 * pipe.mid_diameter
    for chi in (0.03, 0.06):
        kappa = chi * pipe.wall / (radius**2 * math.sqrt(1.0 - law.poisson**2))
        path = follow_bending(
            Ring.from_outlines([circle(pipe)]), law, np.array([[0.0, kappa]]), tolerance=1e-10
        )
        plain = math.pi * 2.9e9 * radius**3 * pipe.wall * kappa
        assert path.moment[0, 1] / plain == pytest.approx(1.0 - 1.5 * chi**2, abs=3.0 * chi**4)
        assert path.moment[0, 1] / plain != pytest.approx(1.0, abs=0.5 * chi**2)


def test_limit_moment_is_approached_as_the_wall_thins(cases):
    # exact thin ring (case 10): m = 0.958680741; the wall's own thickness adds (t/R)^2
    limit = cases["10"]["exact_inextensible"]["value"]["limit"]
    law, peaks = Linear(2.9e9), []
    shares = np.array([0.1, 0.05, 0.025])
    for share in shares:
        pipe = Pipe(0.1, 0.1 * share / (2.0 + share))
        radius = 0.5 * pipe.mid_diameter
        per_chi = pipe.wall / (radius**2 * math.sqrt(1.0 - law.poisson**2))
        chi = np.concatenate([np.linspace(0.0, 0.42, 12), np.linspace(0.44, 0.52, 9)])
        path = follow_bending(
            Ring.from_outlines([circle(pipe)], 2), law, per_chi * chi[None], tolerance=1e-9
        )
        fit = np.polynomial.Polynomial.fit(chi[12:], path.moment[0, 12:], 8)
        peak = max(fit(root.real) for root in fit.deriv().roots() if 0.44 < root.real < 0.52)
        peaks.append(peak * math.sqrt(1.0 - law.poisson**2) / (2.9e9 * radius * pipe.wall**2))
    error = np.array(peaks) / float(limit["m"]) - 1.0
    assert np.all(np.log2(error[:-1] / error[1:]) > 1.9)
    # extrapolated in the square of t / R, twice
    once = (4.0 * np.array(peaks[1:]) - np.array(peaks[:-1])) / 3.0
    assert (16.0 * once[1] - once[0]) / 15.0 == pytest.approx(float(limit["m"]), rel=1e-6)


def test_curled_tube_has_von_karmans_flexibility():
    # von Karman 1911, one term (from memory): stiffness of a curved thin tube over that of a
    # straight one, (1 + 12 h^2) / (10 + 12 h^2), h = t Rb / R^2, here with the plane-strain wall,
    # h / sqrt(1 - nu^2). Further terms of the series: below a part in a thousand for h above 1.
    pipe = Pipe(0.1, 1e-3)
    law, radius = Linear(2.9e9), 0.5 * pipe.mid_diameter
    ring = Ring.from_outlines([circle(pipe)])
    plain = math.pi * 2.9e9 * radius**3 * pipe.wall
    for share in (1.2, 2.0, 4.0):
        bend = share * radius**2 / pipe.wall * math.sqrt(1.0 - law.poisson**2)
        path = follow_bending(ring, law, np.zeros((1, 1)), natural=1.0 / bend)
        expected = (1.0 + 12.0 * share**2) / (10.0 + 12.0 * share**2)
        assert path.tangent[0, 0] / plain == pytest.approx(expected, rel=2e-3)


@SETS
def test_wall_keeps_its_length_and_closes(outlines):
    ring = Ring.from_outlines(outlines)
    path = follow_bending(ring, RIGID_PVC, knots(outlines), tolerance=1e-9)
    wall = sampled(ring, path.unknowns)
    scale = ring.radius[:, None]
    np.testing.assert_allclose(wall.x[..., -1], 0.0, atol=1e-9 * scale.max())
    # the unloaded angle is summed from curvature at eight points a piece
    np.testing.assert_allclose(wall.angle[..., -1], math.pi, atol=5e-6)
    np.testing.assert_allclose(wall.arc[..., -1], math.pi * scale * np.ones(17), rtol=1e-12)
    chord = np.hypot(np.diff(wall.x), np.diff(wall.y))
    # chords of 49 samples a piece fall short of the arc by the bend's square over 24
    np.testing.assert_allclose(np.sum(chord, axis=2), wall.arc[..., -1], rtol=1e-3)
    unloaded = wall.y[:, 0, -1] - wall.y[:, 0, 0] + PIPE.wall
    expected = [outline.thickness for outline in outlines]
    np.testing.assert_allclose(unloaded, expected, rtol=1e-7)


def test_errors_fall_fast_with_elements():
    # four points an element as on the rod: nodal order 8, seen against 16 points on two elements
    outlines = LYING[2:]
    fine = follow_bending(
        Ring.from_outlines(outlines, 2, 16, 12), Linear(2.9e9), knots(outlines), tolerance=1e-10
    ).moment[:, -1]
    errors = []
    for n in (1, 2, 4):
        ring = Ring.from_outlines(outlines, n, 4, 4)
        path = follow_bending(ring, Linear(2.9e9), knots(outlines), tolerance=1e-10)
        errors.append(np.max(np.abs(path.moment[:, -1] / fine - 1.0)))
    assert errors[0] > 1e-6
    assert np.all(np.log2(np.array(errors[:-1]) / errors[1:]) > 5.0)


def test_all_ways_to_make_an_outline_bend():
    for outline in (circle(PIPE), racetrack(PIPE, 12e-3), ellipse(PIPE, 12e-3)):
        path = follow_bending(Ring.from_outlines([outline]), RIGID_PVC, knots([outline], 0.03, 6))
        plain = moment_curvature(outline, RIGID_PVC, path.curvature[0, -1:]).moment[0]
        assert 0.85 * plain < path.moment[0, -1] < plain


def test_mixed_or_broken_outlines_are_one_error():
    with pytest.raises(InputError, match=r"^outlines = of several kinds"):
        Ring.from_outlines([LYING[1], TURNED[1]])
    with pytest.raises(InputError, match=r"^outline = pressed"):
        Ring.from_outlines([replace(LYING[1], pieces=())])


def test_hopeless_axial_force_leaves_nan():
    ring = Ring.from_outlines(LYING[1:2])
    strong = 2.0 * 51.4e6 * LYING[1].area
    law = Saturating(2.9e9, 51.4e6, 66.2e6)
    path = follow_bending(ring, law, np.array([[0.0, 1.0]]), force=strong)
    assert np.all(np.isnan(path.moment))


def test_one_singular_row_does_not_spoil_the_others():
    matrices = np.stack([np.eye(3), np.zeros((3, 3)), 2.0 * np.eye(3)])
    found = _solved(matrices, np.ones((3, 3, 2)))
    np.testing.assert_array_equal(found[0], 1.0)
    np.testing.assert_array_equal(found[2], 0.5)
    assert np.all(np.isnan(found[1]))


def test_rows_that_fail_leave_the_others_alone():
    # a thin foil bent to absurd strain beside a stout pipe
    good, bad = pressed(PIPE, 12e-3), pressed(Pipe(40e-3, 0.4e-3), 20e-3)
    kappa = np.array([[0.0, 1.0, 3.0], [0.0, 1500.0, 4000.0]])
    path = follow_bending(Ring.from_outlines([good, bad]), Linear(2.9e9), kappa)
    alone = follow_bending(Ring.from_outlines([good]), Linear(2.9e9), kappa[:1])
    assert np.isnan(path.moment[1, -1])
    assert np.isfinite(path.moment[1, 0])
    np.testing.assert_allclose(path.moment[0], alone.moment[0], rtol=1e-9, atol=1e-12)
