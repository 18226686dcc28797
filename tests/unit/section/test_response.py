"""Moment against curvature: closed forms, independent integration, and laws of mechanics."""

# Wrong types are passed on purpose.
# pyright: reportArgumentType=false

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import dblquad
from scipy.optimize import brentq

from bowfem.errors import InputError
from bowfem.section import (
    RIGID_PVC,
    Linear,
    Pipe,
    Saturating,
    Tabulated,
    circle,
    moment_curvature,
    pressed,
    racetrack,
    section_response,
)

PIPE = Pipe(26.67e-3, 2.87e-3)
FLAT = pressed(PIPE, 12e-3)
EVEN = Saturating(2.9e9, 55e6, 55e6)
CURVATURES = np.linspace(-9.0, 9.0, 13)


def perfectly_plastic(modulus, level):
    """Straight up to yield, level beyond; knots crowd at yield, rounding it over 2e-5 of it."""
    share = np.array([0.25, 0.5, 0.75, 1.0 - 2e-5, 1.0 - 1e-5, 1.0 + 1e-5, 1.0 + 2e-5, 60.0])
    return Tabulated(level / modulus * share, level * np.minimum(share, 1.0))


def upper_half(outline):
    """Keep the belly half of a wall: a section whose belly and back differ."""
    keep = outline.y > 0.0
    names = ("x", "y", "normal_x", "normal_y", "curvature", "weights", "arc")
    return replace(outline, **{name: getattr(outline, name)[keep] for name in names})


@pytest.mark.parametrize("outline", [circle(PIPE), FLAT, FLAT.turned(), racetrack(PIPE, 9e-3)])
def test_linear_law_is_beam_theory(outline):
    bent = moment_curvature(outline, Linear(2.9e9), CURVATURES)
    stiffness = 2.9e9 * outline.second_moment_weak
    np.testing.assert_allclose(bent.moment, stiffness * CURVATURES, rtol=1e-11, atol=1e-12)
    np.testing.assert_allclose(bent.tangent, stiffness, rtol=1e-11)
    np.testing.assert_allclose(bent.axial_strain, 0.0, atol=1e-15)


def test_plastic_bending_of_tubes(cases):
    # closed form / quadrature, 10 digits (case 12). Kinked law on fixed Gauss points: the kink
    # crosses the wall between points, an error of the order of one point's share of the moment.
    level, modulus = 50e6, 2.5e9
    for column, ratio in (("tube_0p8", 0.8), ("thin_tube", 0.9999)):
        pipe = Pipe(0.03, 0.5 * 0.03 * (1.0 - ratio))
        yield_curvature = level / modulus / (0.5 * pipe.outer_diameter)
        yield_moment = level * pipe.second_moment / (0.5 * pipe.outer_diameter)
        for row in cases["12"]["moment_curvature"]["value"]:
            kappa = row["kappa_over_ky"] * yield_curvature
            bent = moment_curvature(circle(pipe), perfectly_plastic(modulus, level), kappa)
            assert bent.moment[0] / yield_moment == pytest.approx(row[column], rel=2e-3)


def test_fully_plastic_moment_is_the_shape_factor(cases):
    factors = cases["12"]["shape_factors"]["value"]
    for name, ratio in (("tube_ri_ro_0p8", 0.8), ("pipe_3_4_sch40", 1.0 - 2.0 * 0.113 / 1.05)):
        pipe = Pipe(0.03, 0.5 * 0.03 * (1.0 - ratio))
        yield_moment = 50e6 * pipe.second_moment / (0.5 * pipe.outer_diameter)
        law = Saturating(2.5e9, 50e6, 50e6)
        bent = moment_curvature(circle(pipe), law, 500.0 * 50e6 / 2.5e9 / (0.5 * 0.03))
        # at 500 times yield curvature an elastic core of y = R/500 is left
        assert bent.moment[0] / yield_moment == pytest.approx(factors[name], rel=1e-4)


@pytest.mark.parametrize("kappa", [1.0, 4.0])
def test_round_pipe_by_integration_over_the_annulus(kappa):
    # scipy quadrature in polar coordinates and brentq: shares no code with the package
    outer, inner = 0.5 * PIPE.outer_diameter, 0.5 * PIPE.inner_diameter

    def integral(strain0, power):
        def integrand(angle, r):
            y = r * math.sin(angle)
            return 2.0 * r * y**power * float(RIGID_PVC.stress(strain0 - kappa * y))

        half = math.pi / 2.0
        return dblquad(integrand, inner, outer, -half, half, epsabs=1e-9, epsrel=1e-8)[0]

    strain0 = brentq(lambda e: integral(e, 0), -1e-2, 1e-2, xtol=1e-11)
    bent = moment_curvature(circle(PIPE), RIGID_PVC, kappa)
    assert bent.moment[0] == pytest.approx(-integral(strain0, 1), rel=2e-7)
    assert bent.axial_strain[0] == pytest.approx(strain0, abs=1e-8)


@pytest.mark.parametrize("law", [RIGID_PVC, EVEN, Saturating(2.9e9, 51.4e6, 66.2e6)])
@pytest.mark.parametrize("outline", [FLAT, upper_half(FLAT)], ids=["whole", "half"])
@pytest.mark.parametrize("force", [0.0, 1500.0])
def test_tangent_is_the_slope_of_the_moment(law, outline, force):
    h = 1e-5
    up = moment_curvature(outline, law, CURVATURES + h, force).moment
    down = moment_curvature(outline, law, CURVATURES - h, force).moment
    bent = moment_curvature(outline, law, CURVATURES, force)
    scale = 2.9e9 * outline.second_moment_weak
    np.testing.assert_allclose(bent.tangent, (up - down) / (2.0 * h), atol=2e-7 * scale)


@pytest.mark.parametrize("force", [0.0, 1500.0])
def test_axial_strain_is_found_by_newton_not_by_halving(force, monkeypatch):
    # quadratic convergence from 1e-2 to 1e-16 takes 5 or 6 steps, halving 45
    calls = []
    plain = type(RIGID_PVC).stress_and_tangent

    def counted(law, strain):
        calls.append(np.size(strain))
        return plain(law, strain)

    monkeypatch.setattr(type(RIGID_PVC), "stress_and_tangent", counted)
    moment_curvature(FLAT, RIGID_PVC, CURVATURES, force)
    assert sum(size > 1 for size in calls) <= 9


def test_axial_force_is_balanced_and_only_moves_a_linear_section():
    law = Linear(2.9e9)
    bent = moment_curvature(FLAT, law, CURVATURES, 800.0)
    np.testing.assert_allclose(bent.axial_strain, 800.0 / (2.9e9 * FLAT.area), rtol=1e-12)
    np.testing.assert_allclose(
        bent.moment, moment_curvature(FLAT, law, CURVATURES).moment, rtol=1e-9, atol=1e-10
    )


def test_axial_force_beyond_the_wall_is_one_error():
    strength = 55e6 * FLAT.area
    bent = moment_curvature(FLAT, EVEN, 0.0, 0.99 * strength)
    # uniform strain: tanh(E e / Y) = 0.99
    assert bent.axial_strain[0] == pytest.approx(math.atanh(0.99) * 55e6 / 2.9e9, rel=1e-9)
    with pytest.raises(InputError, match=r"^axial_force = .* what the wall can carry"):
        moment_curvature(FLAT, EVEN, 0.0, 1.01 * strength)


def test_neutral_axis_moves_toward_the_stronger_compressed_side():
    # equilibrium: with compression stronger, fewer fibres carry it, so the fibre of no strain,
    # y = axial strain / curvature, lies toward the compressed side, belly or back
    bent = moment_curvature(FLAT, RIGID_PVC, [-5.0, 5.0])
    neutral = bent.axial_strain / bent.curvature
    assert neutral[1] > 0.01 * FLAT.fibre
    assert neutral[0] < -0.01 * FLAT.fibre
    weak = replace(RIGID_PVC, compression_ratio=0.8)
    assert moment_curvature(FLAT, weak, 5.0).axial_strain[0] < 0.0


def test_moment_is_odd_when_either_law_or_outline_is_symmetric():
    half = upper_half(FLAT)
    for outline, law, odd in (
        (FLAT, RIGID_PVC, True),
        (half, EVEN, True),
        (half, Linear(2.9e9), True),
        (half, RIGID_PVC, False),
    ):
        down, up = moment_curvature(outline, law, [-6.0, 6.0]).moment
        assert (abs(down + up) < 1e-9 * abs(up)) == odd
        assert odd or abs(down + up) > 1e-3 * abs(up)


def test_twice_the_size_carries_eight_times_the_moment():
    # scaling by a power of two changes no mantissa; merged fibres may be summed in another order
    double = pressed(Pipe(2.0 * PIPE.outer_diameter, 2.0 * PIPE.wall), 24e-3)
    small = moment_curvature(FLAT, RIGID_PVC, CURVATURES)
    large = moment_curvature(double, RIGID_PVC, 0.5 * CURVATURES)
    np.testing.assert_allclose(large.moment, 8.0 * small.moment, rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(large.tangent, 16.0 * small.tangent, rtol=1e-12)


def test_work_of_the_moment_is_the_energy_of_the_wall():
    # Gauss in curvature against the law's energy, integrated over the same wall
    node, weight = np.polynomial.legendre.leggauss(40)
    kappa = 7.0
    bent = moment_curvature(FLAT, RIGID_PVC, 0.5 * kappa * (node + 1.0))
    work = 0.5 * kappa * float(weight @ bent.moment)
    strain0 = moment_curvature(FLAT, RIGID_PVC, kappa).axial_strain[0]
    wall, share = np.polynomial.legendre.leggauss(30)
    offset = 0.5 * FLAT.wall * wall
    y = FLAT.y[:, None] + offset * FLAT.normal_y[:, None]
    area = FLAT.weights[:, None] * 0.5 * FLAT.wall * share
    area = area * (1.0 + offset * FLAT.curvature[:, None])
    assert work == pytest.approx(
        float(np.sum(RIGID_PVC.energy(strain0 - kappa * y) * area)), rel=1e-6
    )


@pytest.mark.parametrize("thickness", [6.2e-3, 14e-3])
def test_wall_stress_adds_up_to_the_moment(thickness):
    # 60 Gauss points through the wall for the package's 8; near the closed thickness the power law
    # is not smooth where the inner face meets the neutral axis
    outline, kappa = pressed(PIPE, thickness), 0.07 / (0.5 * thickness)
    bent = moment_curvature(outline, RIGID_PVC, kappa)
    node, weight = np.polynomial.legendre.leggauss(60)
    offset = 0.5 * outline.wall * node
    y = outline.y[:, None] + offset * outline.normal_y[:, None]
    area = outline.weights[:, None] * 0.5 * outline.wall * weight
    area = area * (1.0 + offset * outline.curvature[:, None])
    stress = RIGID_PVC.stress(bent.axial_strain[0] - kappa * y)
    assert -np.sum(stress * y * area) == pytest.approx(bent.moment[0], rel=5e-5)
    assert np.sum(stress * area) == pytest.approx(0.0, abs=5e-5 * 60e6 * outline.area)


def test_record_holds_the_published_stiffness(cases):
    row = cases["09"]["stadium_from_pipe"]["value"][3]  # 14 mm
    record = section_response(racetrack(PIPE, 14e-3), RIGID_PVC)
    assert float(record.bending_stiffness) == pytest.approx(
        2.9e9 * row["I_weak"] * 1e-12, rel=1e-11
    )
    assert float(record.axial_stiffness) == pytest.approx(2.9e9 * row["A"] * 1e-6, rel=1e-11)
    assert float(record.mass_per_length) == pytest.approx(1400.0 * row["A"] * 1e-6, rel=1e-11)
    assert float(record.width) == pytest.approx(row["width"] * 1e-3, rel=1e-11)
    # shear: half the area of a thin circular tube (Cowper at nu = 0, M), G = E / (2 (1 + nu))
    tube = section_response(circle(PIPE), RIGID_PVC)
    assert float(tube.shear_stiffness) == pytest.approx(2.9e9 / 2.8 * 0.5 * PIPE.area, rel=1e-5)
    # thick stadium, finite elements: 16136.4 mm4
    assert float(record.torsion_constant) == pytest.approx(16136.4e-12, rel=7e-4)


@pytest.mark.parametrize("outline", [FLAT, upper_half(FLAT)], ids=["whole", "half"])
def test_record_is_the_curve_on_its_knots(outline):
    # the record may mirror a symmetric section: it must not show
    record = section_response(outline, RIGID_PVC, max_strain=0.05, n=33)
    bent = moment_curvature(outline, RIGID_PVC, record.curvature)
    for name in ("moment", "tangent", "axial_strain"):
        np.testing.assert_allclose(
            getattr(record, name), getattr(bent, name), rtol=1e-9, atol=1e-12
        )
    assert record.curvature[-1] * outline.fibre == pytest.approx(0.05)
    assert record.curvature[16] == 0.0
    np.testing.assert_array_equal(record.curvature, -record.curvature[::-1])
    assert record.moment[16] == pytest.approx(0.0, abs=1e-12)


def test_limit_is_where_the_moment_peaks():
    record = section_response(FLAT, RIGID_PVC, n=201)
    assert math.isnan(record.limit)
    k = record.curvature / record.curvature[-1]
    folding = replace(record, moment=k - k**3, tangent=1.0 - 3.0 * k**2)
    # peak of k - k^3 at 1/sqrt 3; straight line between knots 0.01 apart: (0.01)^2 / 8 f''/f'
    assert float(folding.limit) == pytest.approx(record.curvature[-1] / math.sqrt(3.0), rel=4e-5)
    stack = replace(
        record,
        curvature=np.stack([record.curvature] * 2),
        tangent=np.stack([record.tangent, folding.tangent]),
    )
    assert np.isnan(stack.limit[0])
    assert stack.limit[1] == pytest.approx(float(folding.limit))


@pytest.mark.parametrize(
    ("make", "key"),
    [
        (lambda: section_response(FLAT, RIGID_PVC, n=64), "n"),
        (lambda: section_response(FLAT, RIGID_PVC, n=3), "n"),
        (lambda: section_response(FLAT, RIGID_PVC, n=65.0), "n"),
        (lambda: section_response(FLAT, RIGID_PVC, max_strain=0.0), "max_strain"),
        (lambda: moment_curvature(FLAT, RIGID_PVC, [math.nan]), "curvatures"),
        (lambda: moment_curvature(FLAT, RIGID_PVC, [[1.0]]), "curvatures"),
        (lambda: moment_curvature(FLAT, RIGID_PVC, 1.0, math.inf), "axial_force"),
    ],
)
def test_wrong_request_is_one_error(make, key):
    with pytest.raises(InputError, match=rf"^{key} = "):
        make()
