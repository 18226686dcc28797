"""Sections that flatten as they bend: what a table must be, and families of them."""

import math
import time
from dataclasses import fields

import numpy as np
import pytest

from bowfem.errors import BowfemError, InputError
from bowfem.section import (
    RIGID_PVC,
    Linear,
    Pipe,
    Saturating,
    SectionFamily,
    blend,
    circle,
    ellipse,
    fibre_stress,
    onset_thickness,
    ovalising_response,
    pressed,
    racetrack,
    section_response,
)
from bowfem.section.family import _from_pipe
from bowfem.section.ovalising import DENT, HALF
from bowfem.section.ring import Ring
from bowfem.section.ring_bending import follow_bending

PIPE = Pipe.from_size("3/4 in Sch 40")
CLOSED, FULL = 2.0 * PIPE.wall, PIPE.outer_diameter
LYING = SectionFamily.from_pipe(PIPE)
EDGE = SectionFamily.from_pipe(PIPE, turned=True)
FAMILIES = pytest.mark.parametrize("family", [LYING, EDGE], ids=["lying", "edge"])
THICKNESSES = np.array([CLOSED, 6.4e-3, 7e-3, 8.3e-3, 9.3e-3, 9.6e-3, 12e-3, 16e-3, 20.1e-3, FULL])


def outline_of(family, thickness):
    outline = pressed(PIPE, float(thickness))
    return outline.turned() if family.turned else outline


def test_both_ways_of_bending_are_mirror_images():
    # the outline is the same on both sides: bending it the other way turns it over, whatever the
    # law; with one stronger in compression the strain at the middle tells belly from back
    for law in (RIGID_PVC, Saturating(2.9e9, 55e6, 55e6)):
        table = ovalising_response(pressed(PIPE, 11e-3), law, n=17)
        np.testing.assert_array_equal(table.moment, -table.moment[::-1])
        # at rest by the outline's points, read off the wall to some parts in a million
        np.testing.assert_allclose(table.belly, table.back[::-1], rtol=1e-5)
        direct = follow_bending(
            Ring.from_outlines([pressed(PIPE, 11e-3)], flat_points=12),
            law,
            -table.curvature[None, 8:],
        )
        np.testing.assert_allclose(direct.moment[0], table.moment[8::-1], rtol=1e-7, atol=1e-9)
    even = ovalising_response(pressed(PIPE, 11e-3), Saturating(2.9e9, 55e6, 55e6), n=17)
    np.testing.assert_allclose(even.belly, even.back, rtol=1e-5)
    np.testing.assert_allclose(even.axial_strain, 0.0, atol=1e-9)
    uneven = ovalising_response(pressed(PIPE, 11e-3), RIGID_PVC, n=17)
    assert abs(uneven.belly[-1] - uneven.back[-1]) > 1e-3 * uneven.belly[-1]
    assert uneven.axial_strain[-1] > 1e-3


def test_size_and_modulus_only_scale():
    # powers of two change no mantissa; sums over the wall may be split elsewhere
    double = Pipe(2.0 * PIPE.outer_diameter, 2.0 * PIPE.wall)
    one = ovalising_response(pressed(PIPE, 10e-3), RIGID_PVC, n=17)
    two = ovalising_response(pressed(double, 20e-3), RIGID_PVC, n=17)
    np.testing.assert_allclose(two.curvature, 0.5 * one.curvature, rtol=1e-14)
    np.testing.assert_allclose(two.moment, 8.0 * one.moment, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(two.crosswise_strain, one.crosswise_strain, rtol=1e-7, atol=1e-12)
    stiff = ovalising_response(pressed(PIPE, 10e-3), RIGID_PVC.scaled(2.0), n=17)
    np.testing.assert_allclose(stiff.moment, 2.0 * one.moment, rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("law", [RIGID_PVC, Linear(2.9e9)])
def test_table_is_smooth_and_monotone_up_to_its_peak(law):
    for h in (8e-3, 11e-3, 13e-3):
        table = ovalising_response(pressed(PIPE, h), law, n=129)
        k, m, tangent = (part[64:] for part in (table.curvature, table.moment, table.tangent))
        # beyond the peak faces may touch, and the moment rise again
        end = int(np.sum(k <= table.limit)) - 1 if not math.isnan(table.limit) else len(k) - 1
        assert np.all(np.diff(m[: end + 1]) > 0.0)
        assert np.all(tangent[:end] > 0.0)
        if h < 10e-3:  # faces touch inside the range: the tangent jumps
            continue
        # moment from knots to knot is what the tangents say, Simpson over pairs of cells
        rise = (k[2] - k[0]) / 6.0 * (tangent[:-2:2] + 4.0 * tangent[1:-1:2] + tangent[2::2])
        np.testing.assert_allclose(rise, m[2::2] - m[:-2:2], atol=3e-4 * np.max(m))


def test_a_thin_wall_folds_where_the_moment_peaks():
    thin = Pipe.from_size("3/4 in SDR 21")
    table = ovalising_response(pressed(thin, 10e-3), RIGID_PVC, n=257)
    positive = slice(128, None)
    peak = table.curvature[positive][np.argmax(table.moment[positive])]
    assert float(table.limit) == pytest.approx(peak, rel=1.0 / 60.0)
    # beyond, the faces touch, but for the give of the walls: two in a hundred of a wall at most
    assert table.loaded_thickness[-1] == pytest.approx(2.0 * thin.wall, rel=0.01)
    assert np.min(table.loaded_thickness) >= 0.99 * 2.0 * thin.wall


def test_without_contact_the_faces_would_pass_through_each_other():
    outline = pressed(PIPE, 7e-3)
    ring = Ring.from_outlines([outline], flat_points=12)
    kappa = 0.05 / outline.fibre * np.linspace(0.0, 1.0, 21)[None]
    both = [follow_bending(each, RIGID_PVC, kappa) for each in (ring, ring.without_contact())]
    gap = [
        (outline.thickness - 2.0 * PIPE.wall)
        - float(ring.radius[0]) * ring.closing(path.unknowns[:, -1])[0]
        for path in both
    ]
    assert gap[1] < -0.2 * PIPE.wall
    assert -0.02 * PIPE.wall < gap[0] < 0.0
    # until they touch there is no difference
    first = int(np.argmax(np.abs(both[0].moment - both[1].moment)[0] > 1e-9))
    assert 3 < first < 15


@FAMILIES
def test_family_is_the_direct_solution(family):
    stack = family.at(THICKNESSES)
    # interpolation over thickness and curvature, relative to the largest value of the table;
    # where faces touch, the touching length moves past single collocation points
    smooth = {
        "moment": 7e-5,
        "tangent": 3e-4,
        "axial_strain": 2e-3,
        "belly": 1e-4,
        "back": 1e-4,
        "loaded_thickness": 1e-4,
        # the place of the largest jumps from point to point, and the wall yields there
        "crosswise_strain": 7e-3,
        "crosswise_tension": 6e-2,
    }
    touching = {
        "moment": 1e-3,
        "tangent": 5e-2,
        "axial_strain": 5e-3,
        "belly": 3e-4,
        "back": 3e-4,
        "loaded_thickness": 5e-4,
        # at the sharp edge of a section nearly shut
        "crosswise_strain": 5e-2,
        "crosswise_tension": 5e-2,
    }
    end = family.thicknesses[family.panels[0].stop - 1]
    for i, h in enumerate(THICKNESSES):
        tolerance = touching if family is LYING and h < end else smooth
        direct = ovalising_response(outline_of(family, h), RIGID_PVC)
        for each in fields(direct):
            if each.name.startswith("peak"):
                continue
            want = getattr(direct, each.name)
            apart = np.abs(getattr(stack, each.name)[i] - want)
            if apart.ndim:  # states that a limb can be in: up to the fold
                apart = apart[np.abs(direct.curvature) <= np.nan_to_num(direct.limit, nan=np.inf)]
            error = np.max(apart)
            assert error <= tolerance.get(each.name, 1e-6) * np.max(np.abs(want)), (h, each.name)


@pytest.mark.parametrize("size", ["3/4 in SDR 21", "1-1/4 in SDR 26"])
def test_thin_pipes_fold_where_the_direct_solution_does(size):
    pipe = Pipe.from_size(size)
    h = 2.0 * pipe.wall + (pipe.outer_diameter - 2.0 * pipe.wall) * np.linspace(0.02, 0.98, 9)
    stack = SectionFamily.from_pipe(pipe).at(h)
    for i, each in enumerate(h):
        # a peak may be over within one knot of the table: looked for on sixteen times as many
        direct = ovalising_response(pressed(pipe, float(each)), RIGID_PVC, n=1025)
        folds = float(stack.limit[i]), float(direct.limit)
        if math.isnan(folds[0]) != math.isnan(folds[1]):
            # faces touch where the moment is about to fall: it does so by next to nothing
            assert math.isnan(folds[0])
            beyond = direct.moment[direct.curvature >= folds[1]]
            assert np.min(beyond) > (1.0 - 1.2 * DENT) * beyond[0]
            continue
        assert folds[0] == pytest.approx(folds[1], rel=0.01, nan_ok=True)
        assert float(stack.mirrored().limit[i]) == float(stack.limit[i]) or math.isnan(folds[0])
        # faces that touch, in a wall this thin: the worst place of the interpolation
        apart = np.abs(stack.moment[i] - direct.moment[::16])
        inside = np.abs(stack.curvature[i]) < (np.inf if math.isnan(folds[1]) else folds[1])
        assert np.max(apart[inside]) < 1e-2 * np.max(direct.moment)


@pytest.mark.parametrize("size", ["3/4 in Sch 40", "1 in SDR 26", "2 in SDR 21"])
def test_the_fold_lies_where_it_is_between_knots_and_laws_do_not_sag(size):
    # between pressed shut and open, peaks end in touching faces ever sooner, then vanish
    pipe = Pipe.from_size(size)
    room = onset_thickness(pipe) - 2.0 * pipe.wall
    stack = SectionFamily.from_pipe(pipe).at(2.0 * pipe.wall + room * np.linspace(0.01, 0.6, 119))
    there = np.flatnonzero(~np.isnan(stack.limit))
    assert there.size > 60 and np.all(np.diff(there) == 1)  # one range of thickness, no holes
    steps = np.diff(stack.limit[there]) / stack.limit[there][1:]
    assert np.all(steps < 0.0) and np.min(steps) > -0.04
    # and those without a peak rise all the way, between knots too
    k, m, t = (x[: there[0], 32:] for x in (stack.curvature, stack.moment, stack.tangent))
    cell = k[:, 1:] - k[:, :-1]
    rise = (m[:, 1:] - m[:, :-1]) / cell
    touching = rise < stack.bending_stiffness[: there[0], None] / 3.0
    middle = 1.5 * rise - 0.25 * (t[:, 1:] + t[:, :-1])  # slope of the cubic amid a cell
    assert np.all(t >= 0.0) and np.all(middle[touching] > -1e-9)


@pytest.mark.parametrize("max_strain", [0.002, 0.03, 0.12])
@pytest.mark.parametrize("shape", [pressed, racetrack, ellipse])
def test_any_range_and_shape(max_strain, shape):
    # the panel of touching sections moves with the range; ellipses have no flats that touch
    family = SectionFamily.from_pipe(PIPE, Linear(2.9e9), shape=shape, max_strain=max_strain)
    for h in (6.3e-3, 7.7e-3, 11e-3, 25e-3):
        direct = ovalising_response(shape(PIPE, h), Linear(2.9e9), max_strain)
        error = np.max(np.abs(family.at(h).moment - direct.moment))
        assert error < 3e-3 * np.max(direct.moment)


@FAMILIES
def test_family_keeps_stations_apart(family):
    stack = family.at(THICKNESSES)
    for i in (0, 3, 7):
        one = family.at(THICKNESSES[i])
        assert one.moment.shape == (65,)
        np.testing.assert_allclose(one.moment, stack.moment[i], rtol=1e-12, atol=1e-12)


def test_faces_first_touch_sooner_in_thinner_sections():
    nodes, end = LYING.nodes, LYING.panels[0].stop
    touch = nodes.curvature[:end, HALF] * 0.5 * LYING.thicknesses[:end]
    assert touch[0] == 0.0
    assert np.all(np.diff(touch) > 0.0)
    # as far as the walls' paths were followed, a little more than where the tables end or fold
    assert touch[-1] >= 0.06


@FAMILIES
def test_moment_is_continuous_over_thickness(family):
    at = family.thicknesses[[panel.stop - 1 for panel in family.panels[:-1]]]
    for edge in (*at, onset_thickness(PIPE)):
        near = family.at(edge + 1e-9 * np.array([-1.0, 1.0])).moment
        assert np.max(np.abs(near[1] - near[0])) < 2e-4 * np.max(near)


@FAMILIES
def test_tables_have_the_tangents_of_their_moments(family):
    # Simpson over pairs of cells; the law's knee near one per cent sets the error
    stack = family.at([9.7e-3, 12e-3, 20.1e-3, FULL])
    k, m, tangent = stack.curvature, stack.moment, stack.tangent
    step = (k[:, 2:] - k[:, :-2]) / 6.0
    rise = step * (tangent[:, :-2] + 4.0 * tangent[:, 1:-1] + tangent[:, 2:])
    top = np.max(m, axis=1)[:, None]
    # up to the fold: beyond it faces meet, and the tangent jumps
    limit = np.where(np.isnan(stack.limit), np.inf, stack.limit)[:, None]
    inside = np.abs(k[:, 1:-1]) < 0.95 * limit
    assert np.mean(inside) > 0.5
    np.testing.assert_allclose(
        (rise / top)[inside], ((m[:, 2:] - m[:, :-2]) / top)[inside], atol=1e-4
    )
    np.testing.assert_array_equal(tangent[:, 32], stack.bending_stiffness)


@FAMILIES
def test_thinner_is_never_stiffer(family):
    h = np.linspace(CLOSED, FULL, 200)
    stack = family.at(h)
    width = np.max(np.abs(stack.curvature), axis=1)
    for kappa in (0.3, 1.0, 2.0):
        inside = width > kappa
        moment = [
            np.interp(kappa, k, m)
            for k, m in zip(stack.curvature[inside], stack.moment[inside], strict=True)
        ]
        assert np.all(np.diff(moment) * (-1.0 if family.turned else 1.0) > -1e-3 * max(moment))


def test_pressed_sections_lose_stiffness_and_edge_on_ones_hardly():
    h = np.array([9e-3, 13.3e-3, 22e-3])
    frozen = SectionFamily.from_pipe(PIPE, ovalise=False).at(h)
    share = LYING.at(h).moment[:, 44] / frozen.moment[:, 44]  # knot 12 of 32: 3 % strain
    assert np.all(np.diff(share) > 0.0)
    assert np.all(share < 1.0)
    standing = SectionFamily.from_pipe(PIPE, ovalise=False, turned=True).at(h)
    edge = EDGE.at(h).moment[:, 44] / standing.moment[:, 44]
    assert np.all((edge > share) & (edge < 1.0 + 1e-6))


def test_both_families_blend_and_give_fibre_stress():
    h = np.full(3, 9e-3)
    mixed = blend(LYING.at(h), EDGE.at(h), [0.0, 0.5, 1.0])
    np.testing.assert_allclose(mixed.moment[0], LYING.at(9e-3).moment, rtol=1e-12, atol=1e-12)
    assert mixed.crosswise_strain.shape == (3, 65)
    found = fibre_stress(LYING.at(h), RIGID_PVC, [1.0, 4.0, -4.0])
    plain = fibre_stress(
        SectionFamily.from_pipe(PIPE, ovalise=False).at(h), RIGID_PVC, [1.0, 4.0, -4.0]
    )
    assert np.all(np.abs(found.strain_back) < np.abs(plain.strain_back))
    np.testing.assert_allclose(found.strain_back, plain.strain_back, rtol=0.1)


def test_family_is_kept_and_quick():
    kept = SectionFamily.from_pipe(PIPE, turned=True)
    assert SectionFamily.from_pipe(PIPE, turned=True) is kept
    assert SectionFamily.from_pipe(PIPE, RIGID_PVC.scaled(0.9), turned=True) is not kept
    spent = []
    for _ in range(3):
        _from_pipe.cache_clear()
        begin = time.perf_counter()
        SectionFamily.from_pipe(PIPE, turned=True)
        spent.append(time.perf_counter() - begin)
    # a tenth of a second when nothing else runs; ten times that is a broken batch
    assert min(spent) < 1.0


def test_range_ends_before_sections_without_flats_would_touch():
    foil = Pipe(40e-3, 1.0e-3)
    family = SectionFamily.from_pipe(foil, n_thickness=6)
    assert family.half is not None
    assert 0.03 < family.half.max_strain < 0.08
    table = family.at(onset_thickness(foil))
    assert table.curvature[-1] * 0.5 * float(table.thickness) == pytest.approx(
        family.half.max_strain
    )
    assert np.min(table.loaded_thickness) >= 2.0 * foil.wall
    assert float(table.limit) < table.curvature[-1]  # the fold lies well inside


@pytest.mark.parametrize(
    ("make", "key"),
    [
        (lambda: ovalising_response(circle(PIPE), RIGID_PVC, n=64), "n"),
        (lambda: ovalising_response(circle(PIPE), RIGID_PVC, max_strain=-1.0), "max_strain"),
        (lambda: SectionFamily.from_pipe(PIPE, n_thickness=3), "n_thickness"),
        (lambda: SectionFamily.from_pipe(PIPE, n_curvature=64), "n_curvature"),
        (lambda: SectionFamily.from_pipe(PIPE, n_curvature=65.0), "n_curvature"),
        (lambda: SectionFamily.from_pipe(PIPE, max_strain=0.0), "max_strain"),
        (lambda: SectionFamily.from_pipe(PIPE, max_strain=[0.08]), "max_strain"),
    ],
)
def test_wrong_request_is_one_error(make, key):
    with pytest.raises(InputError, match=rf"^{key} = "):
        make()


def test_no_equilibrium_says_what_to_do():
    # a limb bent to a radius of its own wall: the strain is absurd, and said to be so
    with pytest.raises(BowfemError, match="smaller max_strain"):
        ovalising_response(pressed(Pipe(40e-3, 0.4e-3), 20e-3), Linear(2.9e9), max_strain=40.0, n=5)


def test_frozen_record_has_the_new_rows_too():
    table = section_response(pressed(PIPE, 9e-3), RIGID_PVC)
    np.testing.assert_array_equal(table.loaded_thickness, 9e-3)
    np.testing.assert_array_equal(table.crosswise_strain, 0.0)
