"""Pipe tables against the arithmetic of the standards they were read from."""

# Wrong types are passed on purpose.
# pyright: reportArgumentType=false

import math

import pytest

from bowfem.errors import InputError
from bowfem.section import PIPES, Pipe

INCH, POUND_PER_FOOT = 0.0254, 0.45359237 / 0.3048
ROWS = pytest.mark.parametrize("row", PIPES, ids=lambda row: row.name)


@pytest.mark.parametrize(
    "row", [row for row in PIPES if row.mass_per_length], ids=lambda row: row.name
)
def test_published_weight_lies_between_thinnest_and_thickest_wall(row):
    # Nominal weights of ASTM D1785 (S); density 1400 +-20 kg/m3, pipe data sheet (S).
    heavy, light = (
        Pipe.from_weight(row.outer_diameter, row.mass_per_length, density).wall
        for density in (1380.0, 1420.0)
    )
    assert heavy >= row.wall_minimum
    assert light <= row.wall_maximum
    # and it is that of the wall expected: +-1.4 % for the density, 0.3 % for the printed digits
    expected = Pipe(row.outer_diameter, row.wall)
    assert row.mass_per_length == pytest.approx(1400.0 * expected.area, rel=0.017)


@ROWS
def test_greatest_wall_follows_the_tolerance(row):
    # ASTM D1785: +12 % of the minimum or 0.020 in, whichever is more (M), rounded to 0.001 in in
    # print; maxima printed (S). EN ISO 1452: +(0.1 e + 0.2) mm (M).
    if row.standard == "ASTM D1785":
        tolerance = max(0.12 * row.wall_minimum, 0.020 * INCH)
        assert row.wall_maximum - row.wall_minimum == pytest.approx(tolerance, abs=0.00051 * INCH)
    elif row.standard == "EN ISO 1452":
        assert row.wall_maximum - row.wall_minimum == pytest.approx(
            0.1 * row.wall_minimum + 0.2e-3, rel=1e-12
        )
    else:
        assert row.wall_maximum is None


@ROWS
def test_every_row_is_found_by_its_name_and_has_its_expected_wall_in_tolerance(row):
    pipe = Pipe.from_size(row.name)
    assert (pipe.outer_diameter, pipe.name) == (row.outer_diameter, row.name)
    assert row.wall_minimum < pipe.wall
    assert row.wall_maximum is None or pipe.wall < row.wall_maximum


def test_tables_hold_every_size_once():
    # 6 sizes in two schedules (D1785), 5 + 4 (D2241), 5 + 3 (EN ISO 1452)
    assert len({(row.nominal, row.series) for row in PIPES}) == len(PIPES) == 12 + 9 + 8


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("3/4 schedule 40", "3/4 in Sch 40"),
        ('1-1/4" SCH80', "1-1/4 in Sch 80"),
        ("1 1/2 inch sdr-21", "1-1/2 in SDR 21"),
        ("sch. 40 2 in", "2 in Sch 40"),
        ("25mm pn 16", "25 mm PN16"),
        ("1¼ Sch40", "1-1/4 in Sch 40"),
        ("0.75 in PVC pipe Sch 40", "3/4 in Sch 40"),
    ],
)
def test_usual_spellings(words, name):
    assert Pipe.from_size(words).name == name


@pytest.mark.parametrize(
    "words",
    ["3/4 in Sch 45", "25 in PN16", "3/4", "", "3/0 sch 40", "sch 40", "1 in thin Sch 40", 7, None],
)
def test_unknown_size_is_one_error_that_lists_sizes(words):
    with pytest.raises(
        InputError, match=r"^size = .*: must be a published size, such as .*(Sch|PN)"
    ):
        Pipe.from_size(words)


def test_cellular_core_is_refused():
    with pytest.raises(InputError, match="solid-wall"):
        Pipe.from_size("2 in Sch 40 cellular core")


def test_default_walls():
    # Sch 40 average: minimum + 0.010 in (S); metric: middle of 1.9 to 2.29 mm (D)
    assert Pipe.from_size("3/4 in Sch 40").wall == pytest.approx(0.123 * INCH, rel=1e-12)
    assert Pipe.from_size("25 mm PN16").wall == pytest.approx(2.095e-3, rel=1e-12)


def test_circle_properties(cases):
    # Closed form of the annulus, 12 digits (case 09)
    row = cases["09"]["circular_tube"]["value"]["mm_units"]
    pipe = Pipe(row["D"] * 1e-3, row["t"] * 1e-3)
    assert pipe.area * 1e6 == pytest.approx(row["A"], rel=1e-12)
    assert pipe.second_moment * 1e12 == pytest.approx(row["I"], rel=1e-12)
    assert pipe.mid_perimeter * 1e3 == pytest.approx(row["perimeter_mid"], rel=1e-12)
    assert pipe.inner_diameter + 2.0 * pipe.wall == pytest.approx(pipe.outer_diameter)


def test_weighing_gives_wall_sensitivity_of_the_trade_figure():
    # 1 % in mass is about 1.15 % in wall for 3/4 in Sch 40 (D); for the mean wall it is 1.152
    pipe = Pipe.from_size("3/4 in Sch 40")
    mass = 1400.0 * pipe.area
    more = Pipe.from_weight(pipe.outer_diameter, 1.01 * mass).wall / pipe.wall - 1.0
    assert more == pytest.approx(0.0115, abs=0.0001)


@pytest.mark.parametrize(
    ("make", "key"),
    [
        (lambda: Pipe(0.0, 1e-3), "outer_diameter"),
        (lambda: Pipe(math.nan, 1e-3), "outer_diameter"),
        (lambda: Pipe(20e-3, 10e-3), "wall"),
        (lambda: Pipe(20e-3, "3"), "wall"),
        (lambda: Pipe(True, 1e-3), "outer_diameter"),
        (lambda: Pipe.from_weight(20e-3, 0.44), "mass_per_length"),
        (lambda: Pipe.from_weight(20e-3, 0.1, density=-1.0), "density"),
    ],
)
def test_impossible_pipe_is_one_error(make, key):
    with pytest.raises(InputError, match=rf"^{key} = "):
        make()
