"""Units against published conversion factors, and the exact round trip."""

import math

import numpy as np
import pytest
from hypothesis import given, strategies as st

from bowfem import units
from bowfem.errors import InputError

# Printed factors: NIST Special Publication 811 (2008), appendix B.8, as remembered (M).
# Tolerance: half a unit of the last printed digit.
PRINTED = [
    ("1 in", "length", 2.54e-2, 0),
    ("1 ft", "length", 3.048e-1, 0),
    ("1 lbf", "force", 4.448222, 5e-7),
    ("1 psi", "stress", 6.894757e3, 5e-4),
    ("1 ksi", "modulus", 6.894757e6, 5e-1),
    ("1 ft lbf", "energy", 1.355818, 5e-7),
    ("1 in lbf", "moment", 1.129848e-1, 5e-8),
    ("1 lb/ft", "mass_per_length", 1.488164, 5e-7),
    ("1 lb/in3", "density", 2.767990e4, 5e-3),
    ("1 gr", "mass", 6.479891e-5, 5e-12),
    ("1 lbf/in", "spring_rate", 1.751268e2, 5e-5),
    ("1 deg", "angle", 1.745329e-2, 5e-9),
    ("1 in2", "area", 6.4516e-4, 5e-20),
    ("1 in4", "second_moment", 4.162314e-7, 5e-14),
    ("32 F", "temperature", 273.15, 0),
    ("212 F", "temperature", 373.15, 0),
    ("73.4 F", "temperature", 296.15, 0),
    ("23 C", "temperature", 296.15, 0),
]


@pytest.mark.parametrize(("text", "kind", "si", "tolerance"), PRINTED)
def test_published_factors(text: str, kind: str, si: float, tolerance: float) -> None:
    assert units.parse(text, kind) == pytest.approx(si, rel=0, abs=tolerance)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("1-1/4 in", "length", 0.03175),
        ("1 1/4 in", "length", 0.03175),
        ("3/4 in", "length", 0.01905),
        ("-3/4in", "length", -0.01905),
        (" 4 ft 2 in ", "length", 1.27),
        ("4 ft 2-1/2 in", "length", 1.2827),
        (".5 in", "length", 0.0127),
        ("5e-1 mm", "length", 0.0005),
        ("0.25 1/in", "curvature", 0.25 / 0.0254),
        ("180 deg", "angle", math.pi),
        ("1.4 %", "share", 0.014),
        ("35 lb", "force", units.parse("35 lbf", "force")),
        ("1.40 g/cm3", "density", 1400.0),
    ],
)
def test_ways_of_writing(text: str, kind: str, si: float) -> None:
    assert units.parse(text, kind) == si


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        (48, "length"),
        (48.0, "length"),
        (True, "length"),
        (None, "length"),
        (["48 in"], "length"),
        ("48", "length"),
        ("", "length"),
        ("in", "length"),
        ("48 lbf", "length"),
        ("48 IN", "length"),
        ("48 inn", "length"),
        ("nan in", "length"),
        ("inf in", "length"),
        ("1e400 m", "length"),
        ("1e999999999 m", "length"),
        ("9" * 5000 + " m", "length"),
        ("3/0 in", "length"),
        ("0/000 in", "length"),
        ("1-/4 in", "length"),
        ("--3 in", "length"),
        ("4 ft -2 in", "length"),
        ("-4 ft 2 in", "length"),
        ("4 ft 2 mm", "length"),
        ("48 in\n", "force"),
        ("٤٨ in", "length"),
        ("0.251/in", "curvature"),
        ("35 C", "angle"),
    ],
)
def test_refused(text: object, kind: str) -> None:
    with pytest.raises(InputError) as caught:
        units.parse(text, kind, key="some.key")
    assert str(caught.value).startswith("some.key = ")
    assert units.dimension(kind).example in caught.value.allowed


def test_every_example_is_accepted() -> None:
    for kind, dimension in units.DIMENSIONS.items():
        assert units.parse(dimension.example, kind) > 0
        assert dimension.us in dimension.units
        assert dimension.metric in dimension.units


@given(
    value=st.floats(allow_nan=False, allow_infinity=False, width=64),
    kind=st.sampled_from(sorted(units.DIMENSIONS)),
    system=st.sampled_from(["us", "metric"]),
)
def test_exact_text_reads_back_identically(value: float, kind: str, system: units.System) -> None:
    assert units.parse(units.exact_text(value, kind, system), kind) == value


@given(
    value=st.decimals("-9999", "9999", places=3).map(lambda d: d.normalize()),
    kind=st.sampled_from(sorted(units.DIMENSIONS)),
    system=st.sampled_from(["us", "metric"]),
)
def test_exact_text_is_no_longer_than_what_was_typed(
    value: object, kind: str, system: units.System
) -> None:
    typed = f"{value:f} {units.shown_unit(kind, system)}"
    assert len(units.exact_text(units.parse(typed, kind), kind, system)) <= len(typed)


@given(value=st.floats(1e-6, 1e6), unit=st.sampled_from(list(units.DIMENSIONS["length"].units)))
def test_printed_limit_lies_on_the_allowed_side(value: float, unit: str) -> None:
    slack = 1.0 + units.ROUND_OFF
    down = units.parse(units.show_in(value, "length", unit, toward="down"), "length")
    up = units.parse(units.show_in(value, "length", unit, toward="up"), "length")
    assert value * (1.0 - 1e-3) <= down <= value * slack
    assert value / slack <= up <= value * (1.0 + 1e-3)


def test_convert_keeps_shape() -> None:
    values = units.convert(np.full((2, 3), 0.0254), "length", "us")
    assert values.shape == (2, 3)
    assert values == pytest.approx(1.0, rel=4e-16)
    assert units.convert(296.15, "temperature", "metric") == pytest.approx(23.0, abs=1e-12)
    assert isinstance(units.convert(1.0, "length", "us"), float)


@pytest.mark.parametrize(
    ("kind", "us", "metric"),
    [
        ("length", "draw_in", "draw_mm"),
        ("force", "draw_lbf", "draw_N"),
        ("stress", "draw_psi", "draw_MPa"),
        ("curvature", "draw_per_in", "draw_per_m"),
        ("spring_rate", "draw_lbf_per_in", "draw_N_per_mm"),
        ("energy", "draw_ft_lbf", "draw_J"),
        ("share", "draw_percent", "draw_percent"),
    ],
)
def test_columns(kind: str, us: str, metric: str) -> None:
    assert units.column("draw", kind, "us") == us
    assert units.column("draw", kind, "metric") == metric


def test_unknown_names_are_one_clear_error() -> None:
    with pytest.raises(InputError, match="dimension = lenght: must be one of length, "):
        units.parse("1 in", "lenght")
    with pytest.raises(InputError, match="units = imperial: must be one of 'us', 'metric', "):
        units.show(1.0, "length", "imperial")  # pyright: ignore[reportArgumentType]
    with pytest.raises(InputError, match="length = nan: must be a finite number"):
        units.exact_text(math.nan, "length", "us")
    with pytest.raises(InputError, match="unit = lbf: must be one of in, "):
        units.show_in(1.0, "length", "lbf")


def test_metric_with_pounds():
    """Weights in pounds for those who order so, all else metric."""
    shown = {kind: units.shown_unit(kind, "metric-lb") for kind in units.DIMENSIONS}
    metric = {kind: units.shown_unit(kind, "metric") for kind in units.DIMENSIONS}
    assert {k: v for k, v in shown.items() if v != metric[k]} == {
        "force": "lbf",
        "spring_rate": "lbf/cm",
    }
    # a pound of force, 4.4482216152605 N, over 0.01 m
    assert units.parse("1 lbf/cm", "spring_rate") == pytest.approx(444.82216152605)
    assert units.show(160.0, "force", "metric-lb", 4) == units.show(160.0, "force", "us", 4)


def test_units_to_choose_from_are_those_there_are():
    from bowfem.cli.common import SYSTEMS

    assert SYSTEMS == units.SYSTEMS
