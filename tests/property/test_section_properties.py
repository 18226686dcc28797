"""What must hold for every pipe, thickness and law a maker may bring."""

import math

import numpy as np
from hypothesis import given, settings, strategies as st

from bowfem.section import (
    Linear,
    Pipe,
    RambergOsgood,
    Saturating,
    Tabulated,
    moment_curvature,
    ovalising_response,
    pressed,
)
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import follow_bending

diameters = st.floats(15e-3, 65e-3)
wall_shares = st.floats(0.03, 0.2)
presses = st.floats(0.0, 1.0)
moduli = st.floats(1e9, 5e9)
power_laws = st.builds(
    RambergOsgood,
    moduli,
    st.floats(2e7, 1e8),
    st.floats(1e-3, 0.05),
    st.floats(1.5, 40.0),
    st.floats(0.7, 1.6),
)
laws = st.one_of(
    st.builds(Linear, moduli),
    st.builds(Saturating, moduli, st.floats(2e7, 1e8), st.floats(2e7, 1e8)),
    power_laws,
)


def outline(diameter, share, press):
    pipe = Pipe(diameter, share * diameter)
    return pressed(pipe, 2.0 * pipe.wall + press * (diameter - 2.0 * pipe.wall))


@given(power_laws, st.floats(-0.3, 0.3))
def test_power_law_and_its_inverse_round_trip(law, strain):
    back = float(law.strain(law.stress(strain)))
    # the power magnifies the round-off of the stress by its exponent
    assert math.isclose(back, strain, rel_tol=1e-13 * law.exponent, abs_tol=1e-300)


@given(laws, st.floats(-0.2, 0.2), st.floats(1e-6, 0.1))
def test_stress_rises_with_strain_and_energy_is_convex(law, strain, more):
    assert law.stress(strain + more) >= law.stress(strain)
    middle = float(law.energy(strain + 0.5 * more))
    ends = 0.5 * float(law.energy(strain) + law.energy(strain + more))
    assert middle <= ends * (1.0 + 1e-12)


steps = st.lists(st.tuples(st.floats(1e-3, 2e-2), st.floats(0.0, 2e7)), min_size=2, max_size=8)


@given(steps)
def test_table_never_falls_and_meets_its_points(table):
    strains, stresses = np.cumsum(np.array(table), axis=0).T
    stresses = stresses + 1e6
    law = Tabulated(strains, stresses)
    at = np.linspace(-1.2 * strains[-1], 1.2 * strains[-1], 400)
    stress, slope = law.stress_and_tangent(at)
    assert np.all(np.diff(stress) >= -1e-9 * stresses[-1])
    assert np.all(slope >= -1e-9 * law.initial_modulus)
    np.testing.assert_allclose(law.stress(strains), stresses, rtol=1e-12)


@given(diameters, wall_shares, presses)
def test_pressing_keeps_the_wall_and_flattens(diameter, share, press):
    tube, full = outline(diameter, share, press), outline(diameter, share, 1.0)
    assert math.isclose(tube.area, full.area, rel_tol=1e-10)
    assert tube.width >= full.width * (1.0 - 1e-12)
    assert tube.second_moment_weak <= tube.second_moment_strong * (1.0 + 1e-9)
    # of closed walls of one length the circle encloses most, so it twists least
    assert 0.0 < tube.torsion_constant <= full.torsion_constant * (1.0 + 1e-9)


@settings(max_examples=60)
@given(diameters, wall_shares, presses, presses, laws, st.floats(0.002, 0.05))
def test_thinner_is_never_stiffer(diameter, share, one, two, law, strain):
    thin, thick = (outline(diameter, share, press) for press in sorted((one, two)))
    kappa = strain / thick.fibre
    moments = [float(moment_curvature(each, law, kappa).moment[0]) for each in (thin, thick)]
    assert 0.0 < moments[0] <= moments[1] * (1.0 + 1e-9)


@settings(max_examples=60)
@given(diameters, wall_shares, presses, laws, st.floats(-0.06, 0.06), st.floats(-0.5, 0.5))
def test_axial_force_is_met(diameter, share, press, law, strain, pull):
    tube = outline(diameter, share, press)
    force = pull * float(law.stress(0.01)) * tube.area
    kappa = strain / tube.fibre
    strain0 = float(moment_curvature(tube, law, kappa, force).axial_strain[0])
    node, weight = np.polynomial.legendre.leggauss(8)
    offset = 0.5 * tube.wall * node
    y = tube.y[:, None] + offset * tube.normal_y[:, None]
    area = tube.weights[:, None] * 0.5 * tube.wall * weight
    area = area * (1.0 + offset * tube.curvature[:, None])
    total = float(np.sum(law.stress(strain0 - kappa * y) * area))
    assert abs(total - force) <= 1e-9 * law.initial_modulus * tube.area * 0.06


@settings(max_examples=60)
@given(diameters, wall_shares, presses, laws, st.floats(0.002, 0.06))
def test_tangent_is_the_slope_of_the_moment(diameter, share, press, law, strain):
    tube = outline(diameter, share, press)
    kappa, h = strain / tube.fibre, 1e-5 * strain / tube.fibre
    bent = moment_curvature(tube, law, [kappa - h, kappa, kappa + h])
    slope = (bent.moment[2] - bent.moment[0]) / (2.0 * h)
    stiffness = law.initial_modulus * tube.second_moment_weak
    # error of the difference: its own curvature, bounded by the tangent's change, and round-off
    assert abs(slope - bent.tangent[1]) <= abs(bent.tangent[2] - bent.tangent[0]) + 1e-8 * stiffness


soft_laws = st.one_of(
    st.builds(Linear, moduli),
    st.builds(Saturating, moduli, st.floats(3e7, 1e8), st.floats(3e7, 1e8)),
    st.builds(
        RambergOsgood,
        moduli,
        st.floats(3e7, 1e8),
        st.floats(5e-3, 0.03),
        st.floats(3.0, 8.0),
        st.floats(0.8, 1.4),
    ),
)


@settings(max_examples=25)
@given(diameters, st.floats(0.05, 0.2), presses, st.booleans(), soft_laws, st.floats(0.005, 0.04))
def test_a_wall_that_gives_way_is_softer_and_its_tangent_true(
    diameter, share, press, turned, law, strain
):
    tube = outline(diameter, share, press)
    tube = tube.turned() if turned else tube
    table = ovalising_response(tube, law, strain, 33)
    # the same wall on the same points, its outline kept: another quadrature would differ by more
    ring = Ring.from_outlines([tube], flat_points=12)
    plain = follow_bending(ring, law, table.curvature[None, 16:], frozen=True).moment[0]
    assert np.all(table.moment[16:] <= plain + 1e-7 * plain[-1])
    # monotone up to its limit, by the sign of its tangent
    k, moment, tangent = table.curvature[16:], table.moment[16:], table.tangent[16:]
    falls = np.flatnonzero(tangent <= 0.0)
    end = falls[0] if falls.size else len(k)
    assert np.all(np.diff(moment[:end]) > 0.0)
    # the rise from knot to knot lies between its tangents, but for what bends between them
    rise = np.diff(moment) / np.diff(k)
    low, high = np.minimum(tangent[1:], tangent[:-1]), np.maximum(tangent[1:], tangent[:-1])
    slack = 0.05 * tangent[0]
    # where faces touch the tangent jumps inside a cell
    free = table.loaded_thickness[17:] > 2.05 * tube.wall
    assert np.all(((rise > low - slack) & (rise < high + slack))[free])


@settings(max_examples=25)
@given(diameters, st.floats(0.05, 0.2), presses, presses, soft_laws, st.floats(0.002, 0.02))
def test_thinner_is_never_stiffer_when_it_gives_way(diameter, share, one, two, law, strain):
    thin, thick = (outline(diameter, share, press) for press in sorted((one, two)))
    kappa = strain / thick.fibre
    moments = [
        float(ovalising_response(each, law, kappa * each.fibre, 5).moment[-1])
        for each in (thin, thick)
    ]
    # closed flats hold each other up: there the thinnest may be a little the stiffer
    assert moments[0] <= moments[1] * (1.0 + 1e-6) or thin.thickness < 3.0 * thin.wall
    assert 0.0 < moments[0]


sizes = st.sampled_from([0.5, 4.0])


@settings(max_examples=15)
@given(diameters, st.floats(0.05, 0.2), presses, st.booleans(), soft_laws, sizes)
def test_size_only_scales_what_gives_way(diameter, share, press, turned, law, size):
    # a power of two: only sums may differ in their last digits
    pair = [outline(diameter * each, share, press) for each in (1.0, size)]
    one, two = (
        ovalising_response(each.turned() if turned else each, law, 0.03, 9) for each in pair
    )
    np.testing.assert_allclose(two.moment, size**3 * one.moment, rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(two.loaded_thickness, size * one.loaded_thickness, rtol=1e-6)
