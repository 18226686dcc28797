"""Designs: derived shape against closed forms and general-purpose libraries, copies, writing."""

import dataclasses
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from bowfem.design import Design
from bowfem.errors import DesignError, InputError
from bowfem.section.material import RIGID_PVC, Linear, RambergOsgood, Saturating, Tabulated

EXAMPLES = sorted((Path(__file__).parents[3] / "examples" / "designs").glob("*.toml"))
INCH = 0.0254


def example(name: str) -> Design:
    return Design.from_file(next(path for path in EXAMPLES if path.stem == name))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_examples_read_back_identically(path: Path) -> None:
    design = Design.from_file(path)
    text = design.to_toml()
    assert Design.from_toml(text) == design
    assert Design.from_toml(text).to_toml() == text
    assert hash(Design.from_toml(text)) == hash(design)


def test_written_units_are_those_read() -> None:
    text = example("curlew").to_toml()
    for line in (
        'cut_length = "54 in"',
        'inset = "3/4 in"',
        'radius = "3.65 in", angle = "75 deg"',
    ):
        assert line in text
    metric = (
        example("wagtail")
        .with_values(
            {
                "pipe.size": "25 mm PN16",
                "pipe.cut_length": "1250 mm",
                "handle.length": "127 mm",
                "limb.marks.1.at": "110 mm",
                "limb.marks.1.thickness": "20 mm",
                "limb.marks.2.at": "580 mm",
                "limb.marks.2.thickness": "7 mm",
                "nock.inset": "20 mm",
                "string.brace_height": "150 mm",
                "draw.length": "28 in",
            }
        )
        .to_toml()
    )
    for line in ('"1250 mm"', 'length = "127 mm"', 'inset = "20 mm"', 'length = "28 in"'):
        assert line in metric


def test_stations_and_draw() -> None:
    design = example("wagtail")
    upper = design.limbs[0]
    assert upper.length == pytest.approx(24 * INCH, rel=1e-15)
    assert upper.nock_station == pytest.approx(23.25 * INCH, rel=1e-15)
    # AMO draw: 1.75 in beyond the pivot (trade standard, seen).
    assert design.pivot_draw == pytest.approx(26.25 * INCH, rel=1e-15)
    assert design.with_value("draw.measure", "pivot").pivot_draw == 0.7112
    assert design.pivot_distance == pytest.approx(0.525 * INCH, rel=1e-15)
    assert design.with_value("handle.pivot", "1 in").pivot_distance == INCH
    assert np.array(upper.breaks) / INCH == pytest.approx([2.5, 4.5, 23.0], rel=1e-14)
    bend_end = 19 + 4 * math.radians(30)
    tipped = [3.0, 5.5, 19.0, 20.0, bend_end, 21.25, 22.75, 29.0]
    assert np.array(example("dunlin").limbs[0].breaks) / INCH == pytest.approx(tipped, rel=1e-14)


def test_straight_taper() -> None:
    design = example("wagtail")
    upper = design.limbs[0]
    s = np.array([0.0, 2.5, 3.5, 4.5, 13.75, 23.0, 24.0]) * INCH
    by_hand = np.array([1.05, 1.05, 0.925, 0.8, 0.55, 0.3, 0.3])
    assert upper.thickness_at(s) / INCH == pytest.approx(by_hand, rel=1e-13)
    assert upper.thickness_at(s.reshape(7, 1)).shape == (7, 1)
    assert float(upper.thickness_at(0.0)) == design.pipe.outer_diameter


def test_smooth_taper_is_the_monotone_cubic() -> None:
    design = example("dunlin").with_values({"limb.taper": "smooth", "limb.marks.3.at": "27 in"})
    design = design.with_value("limb.marks.3.thickness", "0.35 in")
    upper = design.limbs[0]
    knots = np.array([3.0, 5.5, 20.0, 27.0]) * INCH
    values = np.array([1.315, 0.9, 0.5, 0.35]) * INCH
    inside = np.linspace(knots[1], knots[2], 50)
    # Between inner knots SciPy's interpolant has the same slopes; at the ends ours are level.
    theirs = PchipInterpolator(knots, values)(inside)
    assert upper.thickness_at(inside) == pytest.approx(theirs, rel=1e-13)
    assert upper.thickness_at(knots) == pytest.approx(values, rel=1e-13)
    for end in (knots[0], knots[-1]):
        for side in (-1e-6, 1e-6):
            slope = (upper.thickness_at(end + side) - upper.thickness_at(end)) / side
            assert abs(float(slope)) < 1e-3


def test_round_mark_at_the_handle_is_the_handle() -> None:
    design = example("wagtail")
    same = design.with_values({"limb.marks.1.at": "2.5 in", "limb.marks.1.thickness": "round"})
    s = np.linspace(2.5, 23.0, 9) * INCH
    line = 1.05 + (0.3 - 1.05) * (s / INCH - 2.5) / 20.5
    assert same.limbs[0].thickness_at(s) / INCH == pytest.approx(line, rel=1e-13)


def test_bends_turn_forward_and_back() -> None:
    design = example("curlew").with_values(
        {
            "handle.set": "-4 deg",
            "limb.bends.1.from": "10 in",
            "limb.bends.1.radius": "12 in",
            "limb.bends.1.angle": "9 deg",
        }
    )
    upper = design.limbs[0]
    # Deflex of 4 deg turns the limb toward the archer (+), the bend 9 deg away from him.
    assert math.degrees(upper.natural_angle(2.5 * INCH)) == pytest.approx(4.0, rel=1e-13)
    assert math.degrees(upper.natural_angle(1.25 * INCH)) == pytest.approx(2.0, rel=1e-13)
    assert math.degrees(upper.natural_angle(9 * INCH)) == pytest.approx(4.0, rel=1e-13)
    assert math.degrees(upper.natural_angle(upper.length)) == pytest.approx(-5.0, rel=1e-13)
    middle = (10 + 12 * math.radians(4.5)) * INCH
    assert upper.natural_curvature(middle) == pytest.approx(-1 / (12 * INCH), rel=1e-13)
    assert upper.natural_curvature(20 * INCH) == 0.0
    back = design.with_value("limb.bends.1.direction", "back")
    assert math.degrees(back.limbs[0].natural_angle(20 * INCH)) == pytest.approx(13.0, rel=1e-13)


@pytest.mark.parametrize("left_out", ["to", "radius", "angle"])
def test_two_of_three_make_the_same_bend(left_out: str) -> None:
    quarter = {"to": 10 * INCH + 0.1 * math.pi / 2, "radius": 0.1, "angle": math.pi / 2}
    changes: dict[str, Any] = {f"limb.bends.1.{key}": value for key, value in quarter.items()}
    changes["limb.bends.1.from"] = 10 * INCH
    changes[f"limb.bends.1.{left_out}"] = None
    design = example("curlew").with_values(changes)
    upper = design.limbs[0]
    bend = design.limb.bends[0]
    assert bend.stop == pytest.approx(quarter["to"], rel=1e-14)
    assert bend.turn == pytest.approx(-math.pi / 2, rel=1e-14)
    assert bend.curvature == pytest.approx(-10.0, rel=1e-13)
    end = upper.natural_angle(upper.length)
    assert end == pytest.approx(-math.pi / 2, rel=1e-14)


def test_adjoining_bends() -> None:
    text = example("curlew").to_toml()
    joined = text.replace(
        'direction = "forward" },\n',
        'direction = "forward" },\n  { from = "25 in", radius = "10 in", to = "26 in", '
        'direction = "back" },\n',
    ).replace(
        'from = "21.25 in", radius = "3.65 in", angle = "75 deg"',
        'from = "21.25 in", to = "25 in", angle = "60 deg"',
    )
    design = Design.from_toml(joined)
    upper = design.limbs[0]
    assert upper.natural_curvature(25 * INCH + 1e-6) == pytest.approx(1 / (10 * INCH), rel=1e-12)
    expected = -math.radians(60) + 0.1
    assert upper.natural_angle(26.5 * INCH) == pytest.approx(expected, rel=1e-13)


def test_edge_on_share_has_no_kink() -> None:
    design = example("dunlin")
    upper = design.limbs[0]
    tip = design.limb.tip
    assert tip is not None
    start, end = tip.edge_on_from, tip.edge_on_from + tip.transition
    assert upper.edge_on_share([0.0, start, end, upper.length]).tolist() == [0, 0, 1, 1]
    assert upper.edge_on_share(0.5 * (start + end)) == pytest.approx(0.5, rel=1e-12)
    for s in (start, end):
        step = 1e-5 * tip.transition
        slope = np.diff(upper.edge_on_share([s - step, s, s + step])) / 1e-5
        assert np.all(np.abs(slope) < 1e-3)
    assert np.all(example("wagtail").limbs[0].edge_on_share([0.1, 0.5]) == 0.0)


def test_stations_off_the_limb() -> None:
    design = example("wagtail")
    upper = design.limbs[0]
    for function in (
        upper.thickness_at,
        upper.natural_curvature,
        upper.natural_angle,
        upper.edge_on_share,
    ):
        for wrong in (-0.01, 0.62, math.nan, [0.1, 0.7]):
            with pytest.raises(InputError, match=r"s = .* m: must be between 0 and 0.6096 m"):
                function(wrong)


def test_pipe_from_size_measure_and_weight() -> None:
    design = example("wagtail")
    measured = design.with_values({"pipe.outer_diameter": "1.05 in", "pipe.wall": "0.123 in"})
    assert measured.pipe_choice.size is None
    assert measured.pipe.wall == pytest.approx(design.pipe.wall, rel=1e-12)
    # A tube of that wall weighs density * pi * (D - t) * t.
    weight = 1400.0 * math.pi * (1.05 - 0.123) * 0.123 * INCH**2
    weighed = measured.with_value("pipe.mass_per_length", weight)
    assert weighed.pipe_choice.wall is None
    assert weighed.pipe.wall == pytest.approx(design.pipe.wall, rel=1e-12)
    dense = weighed.with_value("material.density", "1.5 g/cm3")
    assert dense.pipe.wall < weighed.pipe.wall


@pytest.mark.parametrize(
    ("numbers", "law"),
    [
        ({}, RIGID_PVC),
        ({"law": "linear", "modulus": "2.5 GPa"}, Linear(2.5e9)),
        (
            {
                "law": "saturating",
                "modulus": "3 GPa",
                "yield_tension": "50 MPa",
                "yield_compression": "60 MPa",
            },
            Saturating(3e9, 50e6, 60e6),
        ),
        (
            {
                "law": "ramberg-osgood",
                "modulus": "3 GPa",
                "reference_stress": "52 MPa",
                "offset_strain": "1.4 %",
                "exponent": 5,
            },
            RambergOsgood(3e9, 52e6, 0.014, 5),
        ),
        (
            {"law": "linear", "modulus": "2 GPa", "poisson": 0.35, "density": "1.45 g/cm3"},
            Linear(2e9, poisson=0.35, density=1450.0),
        ),
        ({"temperature": "33 C"}, RIGID_PVC.scaled(0.9)),
        ({"plastic": "rigid PVC", "temperature": "33 C"}, RIGID_PVC.scaled(0.9)),
        (
            {
                "plastic": "rigid PVC",
                "law": "linear",
                "modulus": "2 GPa",
                "temperature": "33 C",
            },
            Linear(1.8e9, 0.9 * 51.4e6, 0.9 * 66.2e6),
        ),
    ],
)
def test_material(numbers: dict[str, Any], law: object) -> None:
    changes = {f"material.{key}": value for key, value in numbers.items()}
    design = example("wagtail").with_values(changes)
    assert design.material == law
    assert Design.from_toml(design.to_toml()) == design


def test_warmth_of_a_plastic_unknown_is_refused() -> None:
    text = example("wagtail").to_toml()
    text += '[material]\nlaw = "linear"\nmodulus = "2 GPa"\ntemperature = "33 C"\n'
    with pytest.raises(DesignError, match=r"material\.temperature = .*name the plastic"):
        Design.from_toml(text)


def test_material_from_test_points() -> None:
    rows = ((1.0, 27.0), (2.0, 43.0), (3.0, 50.0))
    points = ", ".join(f'{{ strain = "{x} %", stress = "{y} MPa" }}' for x, y in rows)
    text = example("wagtail").to_toml() + f'[material]\nlaw = "table"\npoints = [{points}]\n'
    design = Design.from_toml(text)
    assert design.material == Tabulated((0.01, 0.02, 0.03), (27e6, 43e6, 50e6))
    assert Design.from_toml(design.to_toml()) == design


def test_string_figures() -> None:
    string = example("curlew").string
    # Trade figures per strand (HMPE): 13 kN and 0.17 g/m from memory, 100 lb seen.
    assert string.stiffness == pytest.approx(12 * 13e3)
    assert string.strength == pytest.approx(12 * 100 * 4.448222, rel=1e-7)
    assert string.mass_per_length == pytest.approx(12 * 0.17e-3)
    # About 2 mm is what a 12-strand string measures without serving (common practice, no source).
    assert 1.5e-3 < string.thickness < 2.5e-3
    thicker = example("curlew").with_value("string.diameter", "2.2 mm")
    assert thicker.string.thickness == 2.2e-3


def test_with_value_takes_out_what_says_the_same() -> None:
    design = example("wagtail")
    by_length = design.with_value("string.length", "45 in")
    assert by_length.string.brace_height is None
    assert by_length.value("string.length") == 45 * INCH
    assert by_length.with_value("string.brace_height", "6 in") == design


def test_with_value_in_si_is_exact() -> None:
    design = example("wagtail").with_value("limb.marks.2.thickness", 0.1 / 13)
    assert design.value("limb.marks.2.thickness") == 0.1 / 13
    assert design.limb.marks[1].thickness == 0.1 / 13
    assert example("wagtail").limb.marks[1].thickness == 0.00762


def test_optional_groups_come_and_go() -> None:
    design = example("dunlin")
    assert design.with_value("limb.tip", None).limb.tip is None
    bare = design.with_values({"limb.tip": None, "limb.bends": None})
    assert bare.limb.bends == ()
    tip = {"limb.tip.edge_on_from": "21-1/4 in", "limb.tip.transition": "1-1/2 in"}
    assert design.with_value("limb.tip", None).with_values(tip) == design


@pytest.mark.parametrize(
    "key", ["limb.marks.9.at", "limb.marks.0.at", "name.first", "limb.marks.1", "", "limb..marks"]
)
def test_keys_that_lead_nowhere(key: str) -> None:
    design = example("wagtail")
    with pytest.raises((InputError, DesignError)):
        design.with_value(key, "3 in")
    with pytest.raises(InputError, match="a key of this design"):
        design.value(key)


def test_misspelt_key_gets_a_hint() -> None:
    with pytest.raises(DesignError, match=r"handle\.lenght = 3 in: .* did you mean 'length'\?"):
        example("wagtail").with_value("handle.lenght", "3 in")


def test_made_in_python_is_checked_too() -> None:
    design = example("wagtail")
    assert dataclasses.replace(design, name="Other") != design
    for length in (math.nan, math.inf, -1.0, 1e308, "5 in"):
        handle = dataclasses.replace(design.handle, length=length)
        with pytest.raises(
            DesignError, match=r"handle\.length = .*between 12\.7 mm and 1828\.8 mm"
        ):
            dataclasses.replace(design, handle=handle)


def test_numbers_of_numpy_are_numbers() -> None:
    design = example("wagtail")
    string = dataclasses.replace(design.string, strands=np.int64(14), brace_height=np.float64(0.15))
    made = dataclasses.replace(design, string=string)
    assert Design.from_toml(made.to_toml()) == made
    assert design.with_value("string.brace_height", np.float64(0.15)) == made
    for wrong in (True, np.bool_(True), math.nan, 10**400):
        with pytest.raises(DesignError, match=r"string\.brace_height = .*: must be "):
            design.with_value("string.brace_height", wrong)  # pyright: ignore[reportArgumentType]


def test_notes_of_any_kind_are_kept() -> None:
    for notes in (
        'a "quoted"\\\n\n"""',
        "\ttab\r\n\x00\x1b\x7f\u2028 é 弓",
        "\n",
        "ends in \\",
        '"',
    ):
        design = dataclasses.replace(example("wagtail"), notes=notes)
        assert Design.from_toml(design.to_toml()) == design
