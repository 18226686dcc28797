"""Sensitivities against central differences of whole walks, and against Castigliano's theorem."""

from dataclasses import replace

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.design import Design
from bowfem.errors import InputError
from bowfem.orders.slopes import Lever, SolvedBow, sensitivities

NAMES = ("weight", "tension", "share of yield", "string", "brace height", "brace tension")


def figures(found):
    return np.array(
        [
            found.force[-1],
            found.tension[-1],
            found.yield_share[-1],
            found.string_length,
            found.brace_height,
            found.brace_tension,
        ]
    )


def example(root, name):
    return Design.from_file(root / f"examples/designs/{name}.toml")


def by_walks(design, lever):
    """Central difference of whole walks, with Richardson's step, at steps of its own."""

    def at(h):
        up, down = (figures(walk(lever.change(design, x), step=0.2)) for x in (h, -h))
        return (up - down) / (2.0 * h)

    h = 7.0 * lever.step
    return (4.0 * at(h) - at(2.0 * h)) / 3.0


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("wagtail", "limb.marks.1.thickness"),
        ("wagtail", "limb.marks.2.thickness"),
        ("wagtail", "limb.marks.1.at"),
        ("wagtail", "pipe.cut_length"),
        ("wagtail", "handle.set"),
        ("wagtail", "handle.length"),
        ("wagtail", "string.brace_height"),
        ("wagtail", "nock.inset"),
        ("wagtail", "draw.length"),
        ("curlew", "limb.marks.1.thickness"),
        ("curlew", "handle.set"),
        ("curlew", "string.brace_height"),
        ("dunlin", "limb.tip.edge_on_from"),
        ("dunlin", "limb.bends.1.angle"),
    ],
)
def test_equal_differences_of_whole_walks(root, name, key):
    design = example(root, name)
    lever = Lever.from_key(design, key)
    values, slopes = sensitivities(design, [lever], figures)
    assert values == pytest.approx(figures(walk(design)), rel=1e-8)
    # a figure that does not depend on the lever is nought to the scale of both
    scale = np.abs(values) / max(abs(design.value(key)), 0.1)
    error = np.abs(slopes[:, 0] - by_walks(design, lever)) / np.maximum(np.abs(slopes[:, 0]), scale)
    # the walks' own difference is no finer where curls are read between their nodes of thickness
    allowed = 5e-5 if (name, key) == ("curlew", "limb.marks.1.thickness") else 1e-5
    assert dict(zip(NAMES, error, strict=True)) == {n: pytest.approx(0, abs=allowed) for n in NAMES}


def test_pipe_and_material(root):
    """Levers that need the sections solved anew."""
    design = example(root, "wagtail").with_values(
        {"pipe.outer_diameter": "26.67 mm", "pipe.wall": "3.12 mm", "material.temperature": "30 C"}
    )
    levers = [Lever.from_key(design, key) for key in ("pipe.wall", "material.temperature")]
    _, slopes = sensitivities(design, levers, figures)
    for lever, slope in zip(levers, slopes.T, strict=True):
        np.testing.assert_allclose(slope[:4], by_walks(design, lever)[:4], rtol=1e-5, atol=1e-9)


def test_castigliano(root):
    """On a given string, dF/d(ln E) is the slope of the limbs' energy over the draw.

    The energy of a hyperelastic bow is stationary at equilibrium, so its derivative by a factor on
    all stresses is the limbs' energy itself, and the force is the energy's slope (D).
    """
    design = example(root, "wagtail")
    string = walk(design).string_length
    design = design.with_values(
        {
            "string.length": string,
            "material.law": "saturating",
            "material.modulus": "2.9 GPa",
            "material.yield_tension": "51.4 MPa",
            "material.yield_compression": "66.2 MPa",
        }
    )

    def stiffer(other, factor):
        choice = other.material_choice
        numbers = {
            key: getattr(choice, key) * (1.0 + factor)
            for key in ("modulus", "yield_tension", "yield_compression")
        }
        return replace(other, material_choice=replace(choice, **numbers))

    _, slopes = sensitivities(design, [Lever("factor", 1e-4, stiffer)], figures)
    # the slope of the energy at full draw: central, by walks a little shorter and longer
    h = 0.005

    def limbs(draw):
        """Energy of the limbs since they were straight: as the string was made taut, without it."""
        found = walk(design, to=draw)
        return 2.0 * float(found.limbs[0].energy[-1])

    d = design.pivot_draw
    slope = (8.0 * (limbs(d + h) - limbs(d - h)) - limbs(d + 2 * h) + limbs(d - 2 * h)) / (12 * h)
    assert slopes[0, 0] == pytest.approx(slope, rel=1e-5)


def test_unequal_limbs(root):
    design = example(root, "wagtail").with_values({"handle.offset": "0.5 in"})
    lever = Lever.from_key(design, "handle.offset")
    _, slopes = sensitivities(design, [lever], figures)
    np.testing.assert_allclose(slopes[[0, 1, 3], 0], by_walks(design, lever)[[0, 1, 3]], rtol=1e-5)


def test_symmetry_is_given_up_when_a_lever_breaks_it(root):
    design = example(root, "wagtail")
    _, slopes = sensitivities(design, [Lever.from_key(design, "handle.offset")], figures)
    # by symmetry moving the handle up or down does the same: nothing to first order
    assert slopes[0, 0] == pytest.approx(0.0, abs=1e-2)


def test_what_the_two_limbs_do_unlike_when_symmetry_is_given_up(root):
    """The handle moved up turns the bow in the hand: as much as whole walks say."""
    design = example(root, "wagtail")

    def leaning(found):
        # zero where the limbs are mirror images
        return np.array([found.limbs[0].y[-1, -1] + found.limbs[1].y[-1, -1], found.nock_y[-1]])

    lever = Lever.from_key(design, "handle.offset")
    _, slopes = sensitivities(design, [lever], leaning)
    h = 1e-3
    up, down = (
        leaning(walk(design.with_values({"handle.offset": sign * h}), both_limbs=True))
        for sign in (1.0, -1.0)
    )
    np.testing.assert_allclose(slopes[:, 0], (up - down) / (2.0 * h), rtol=1e-4)
    assert np.all(np.abs(slopes[:, 0]) > 0.1)


def test_one_sided_at_the_end_of_a_range(root):
    """The last mark may not pass the end of the pipe: only one side can be looked at."""
    end = example(root, "wagtail").with_value("limb.marks.2.at", "24 in")
    inside = end.with_value("limb.marks.2.at", "23.99 in")
    (a, b) = (
        sensitivities(each, [Lever.from_key(each, "limb.marks.2.at")], figures)[1][:, 0]
        for each in (end, inside)
    )
    assert a[0] == pytest.approx(b[0], rel=1e-2)


@pytest.mark.parametrize("key", ["limb.marks.9.at", "string.strands", "name", "handle.pivot"])
def test_keys_without_a_number_are_refused(root, key):
    with pytest.raises(InputError, match=key.replace(".", r"\.")):
        Lever.from_key(example(root, "wagtail"), key)


def test_bare_numbers_change_by_degrees_unless_they_count(root):
    """An exponent is a number by degrees, though the file may write it whole."""
    law = {
        "material.law": "ramberg-osgood",
        "material.modulus": "2.9 GPa",
        "material.reference_stress": "52 MPa",
        "material.offset_strain": "1.4 %",
        "material.exponent": 5,
    }
    design = example(root, "wagtail").with_values(law)
    lever = Lever.from_key(design, "material.exponent")
    _, slopes = sensitivities(design, [lever], figures)
    assert slopes[0, 0] == pytest.approx(by_walks(design, lever)[0], rel=1e-5)


def test_neighbour_of_itself_is_itself(root):
    held = SolvedBow.from_design(example(root, "curlew"))
    again = held.neighbour(held.bow.design)
    np.testing.assert_allclose(figures(again.walk), figures(held.walk), rtol=1e-9)
