"""Quantities as people write them, and back: `"1-1/4 in"` to 0.03175 and again to text.

Inside the package every number is a plain SI float. Text is turned into numbers, and numbers
into text, only here. The arithmetic is exact (rational) up to one rounding, so a value written
with `exact_text` reads back as the identical float.

The inch, pound and standard gravity are exact by definition (international yard and pound
agreement of 1959; 9.80665 m/s2, third CGPM 1901) -- M.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal, localcontext
from fractions import Fraction
from typing import Any, Literal, NamedTuple

import numpy as np

from bowfem.as_typed import MEANT, as_meant, hint
from bowfem.errors import InputError

#: Relative difference of two values that differ by round-off only.
ROUND_OFF = 1e-12

System = Literal["us", "metric", "metric-lb"]

#: Units that results are shown in: inches and pounds; metric; metric, but weights in pounds.
SYSTEMS: tuple[System, ...] = ("us", "metric", "metric-lb")

_INCH = Fraction(254, 10_000)
_POUND = Fraction(45_359_237, 100_000_000)
_POUND_FORCE = _POUND * Fraction(980_665, 100_000)
_PI = Fraction("3.14159265358979323846264338327950288419716939937510582")
_PSI = _POUND_FORCE / _INCH**2


@dataclass(frozen=True)
class Dimension:
    """One kind of quantity: the units it is read in and shown in.

    Parameters
    ----------
    name : str
        What a person calls it, with an article ("a length").
    example : str
        A correct quantity, for messages.
    us, metric : str
        Unit shown in each system.
    units : dict of str to Fraction
        SI value of one of each unit, in the order of the messages.
    zeros : dict of str to Fraction
        SI value at zero of the units that do not start at the SI zero (degrees C and F).
    """

    name: str
    example: str
    us: str
    metric: str
    units: dict[str, Fraction]
    zeros: dict[str, Fraction] = field(default_factory=dict)

    def shown(self, system: System) -> str:
        """Return the unit shown in a system."""
        if system not in SYSTEMS:
            raise InputError("units", system, f"one of {', '.join(map(repr, SYSTEMS))}")
        if system == "metric-lb" and "lbf/cm" in self.units:
            return "lbf/cm"
        forces = system == "metric-lb" and self.us == "lbf"
        return self.us if system == "us" or forces else self.metric


_ONE = Fraction(1)
_FOOT = 12 * _INCH
_MM = _ONE / 1000
_STRESS = {"psi": _PSI, "ksi": 1000 * _PSI, "Pa": _ONE}
_STRESS |= {"kPa": 10**3 * _ONE, "MPa": 10**6 * _ONE, "GPa": 10**9 * _ONE}
_LENGTH = {"in": _INCH, "ft": _FOOT, "mm": _MM, "cm": 10 * _MM, "m": _ONE}
_FORCE = {"lbf": _POUND_FORCE, "lb": _POUND_FORCE, "N": _ONE, "kN": 1000 * _ONE}
_RATE = {"lbf/in": _POUND_FORCE / _INCH, "lbf/cm": _POUND_FORCE * 100, "N/mm": 1000 * _ONE}
_RATE |= {"N/m": _ONE}
_MOMENT = {"in lbf": _INCH * _POUND_FORCE, "ft lbf": _FOOT * _POUND_FORCE, "N m": _ONE}
_BENDING = {"lbf in2": _POUND_FORCE * _INCH**2, "N m2": _ONE}
_MASS = {"gr": _POUND / 7000, "lb": _POUND, "g": _ONE / 1000, "kg": _ONE}
_LINEAR_MASS = {"lb/ft": _POUND / _FOOT, "g/m": _ONE / 1000, "kg/m": _ONE}
_DENSITY = {"lb/in3": _POUND / _INCH**3, "g/cm3": 1000 * _ONE, "kg/m3": _ONE}
_CURVATURE = {"1/in": 1 / _INCH, "1/ft": 1 / _FOOT, "1/mm": 1 / _MM, "1/m": _ONE}
_DEGREE = Fraction(5, 9)
_ZEROS = {"F": Fraction("459.67") * _DEGREE, "C": Fraction("273.15")}
_AREA = {"in2": _INCH**2, "mm2": _MM**2, "m2": _ONE}
_SECOND = {"in4": _INCH**4, "mm4": _MM**4, "m4": _ONE}
_KELVIN = {"F": _DEGREE, "C": _ONE, "K": _ONE}
_DURATION = {"s": _ONE, "min": 60 * _ONE, "h": 3600 * _ONE, "day": 86400 * _ONE}
_DURATION |= {"days": 86400 * _ONE, "weeks": 604800 * _ONE}
_IMPULSE = {"lbf s": _POUND_FORCE, "N s": _ONE}
_ENERGY = {"ft lbf": _FOOT * _POUND_FORCE, "J": _ONE}

#: Metres in an inch, exact.
INCH = float(_INCH)
#: N in a pound of force.
POUND_FORCE = float(_POUND_FORCE)
#: Kg in a grain, exact.
GRAIN = float(_POUND / 7000)
#: Kilograms a metre in a pound a foot, exact but for rounding.
POUND_PER_FOOT = float(_POUND / _FOOT)

DIMENSIONS: dict[str, Dimension] = {
    "length": Dimension("a length", "48 in", "in", "mm", _LENGTH),
    "angle": Dimension("an angle", "6 deg", "deg", "deg", {"deg": _PI / 180, "rad": _ONE}),
    "curvature": Dimension("a curvature", "0.25 1/in", "1/in", "1/m", _CURVATURE),
    "area": Dimension("an area", "0.3 in2", "in2", "mm2", _AREA),
    "second_moment": Dimension("a second moment of area", "0.04 in4", "in4", "mm4", _SECOND),
    "force": Dimension("a force", "35 lbf", "lbf", "N", _FORCE),
    "moment": Dimension("a moment", "80 in lbf", "in lbf", "N m", _MOMENT),
    "bending_stiffness": Dimension("a bending stiffness", "47 N m2", "lbf in2", "N m2", _BENDING),
    "spring_rate": Dimension("a force per length", "2 lbf/in", "lbf/in", "N/mm", _RATE),
    "energy": Dimension("an energy", "40 ft lbf", "ft lbf", "J", _ENERGY),
    "stress": Dimension("a stress", "51 MPa", "psi", "MPa", _STRESS),
    "modulus": Dimension("a modulus", "2.9 GPa", "ksi", "GPa", _STRESS),
    "share": Dimension("a percentage", "1.4 %", "%", "%", {"%": _ONE / 100}),
    "temperature": Dimension("a temperature", "23 C", "F", "C", _KELVIN, _ZEROS),
    "mass": Dimension("a mass", "400 gr", "gr", "g", _MASS),
    "mass_per_length": Dimension("a mass per length", "0.3 lb/ft", "lb/ft", "g/m", _LINEAR_MASS),
    "density": Dimension("a density", "1.40 g/cm3", "lb/in3", "g/cm3", _DENSITY),
    "speed": Dimension("a speed", "150 ft/s", "ft/s", "m/s", {"ft/s": _FOOT, "m/s": _ONE}),
    "time": Dimension("a time", "15 ms", "ms", "ms", {"ms": _ONE / 1000, "s": _ONE}),
    "impulse": Dimension("an impulse", "0.9 lbf s", "lbf s", "N s", _IMPULSE),
    "frequency": Dimension("a frequency", "30 Hz", "Hz", "Hz", {"Hz": _ONE}),
    "duration": Dimension("a length of time", "8 h", "h", "h", _DURATION),
}

# Digits are limited so that exact arithmetic on a hostile text cannot run away.
_DIGITS = r"(?:[0-9]{1,40}(?:\.[0-9]{0,40})?|\.[0-9]{1,40})(?:[eE][+-]?[0-9]{1,3})?"
_FRACTION = r"(?:(?P<whole>[0-9]{1,9})[- ])?(?P<top>[0-9]{1,9})/(?P<bottom>[0-9]{1,9})"
_QUANTITY = re.compile(
    rf"(?P<sign>[+-]?)(?:{_FRACTION}|(?P<decimal>{_DIGITS})) *(?P<unit>(?:(?<= )1/|[^0-9 ]).*)"
)
_FEET_AND_INCHES = re.compile(r"([0-9]{1,6}) *ft +([0-9].*in)")


class Quantity(NamedTuple):
    """A quantity as read: its SI value and the unit it was written in.

    Attributes
    ----------
    value : float
        In SI units.
    unit : str
        The unit of the text; the last one of "4 ft 2 in".
    """

    value: float
    unit: str


def dimension(name: str) -> Dimension:
    """Return the dimension of that name.

    Raises
    ------
    InputError
        The name is not a key of `DIMENSIONS`.
    """
    if name not in DIMENSIONS:
        raise InputError("dimension", name, "one of " + ", ".join(DIMENSIONS))
    return DIMENSIONS[name]


def wanted(kind: str) -> str:
    """Say what a quantity of this dimension looks like, worded to follow "must be".

    Examples
    --------
    >>> wanted("angle")
    "an angle with its unit (deg, rad), such as '6 deg'"
    """
    d = dimension(kind)
    return f"{d.name} with its unit ({', '.join(d.units)}), such as '{d.example}'"


def read(text: object, kind: str, key: str = "quantity") -> Quantity:
    """Read a quantity, keeping the unit it was written in.

    Parameters
    ----------
    text : object
        Anything from a file; only a string with number and unit is accepted.
    kind : str
        Name of the dimension, a key of `DIMENSIONS`.
    key : str
        Name for the message.

    Returns
    -------
    Quantity
        SI value and unit.

    Raises
    ------
    InputError
        `text` is a bare number, has an unknown unit or another dimension, or is not finite.

    Notes
    -----
    Numbers are decimals or fractions (`3/4`, `1-1/4`); feet may be followed by inches.

    Examples
    --------
    >>> read("1-1/4 in", "length")
    Quantity(value=0.03175, unit='in')
    >>> read("4 ft 2 in", "length")
    Quantity(value=1.27, unit='in')
    """
    d = dimension(kind)
    refusal = InputError(key, text if isinstance(text, str) else repr(text), wanted(kind))
    if not isinstance(text, str):
        raise refusal
    body = as_meant(text, kind)
    feet = Fraction(0)
    if kind == "length" and (compound := _FEET_AND_INCHES.fullmatch(body)):
        feet, body = Fraction(compound[1]), compound[2]
    match = _QUANTITY.fullmatch(body)
    if match is None or MEANT.get(match["unit"], match["unit"]) not in d.units:
        raise InputError(refusal.fault.key, refusal.fault.value, wanted(kind) + hint(body, kind))
    if match["decimal"]:
        number = Fraction(match["decimal"])
    elif int(match["bottom"]) == 0:
        raise refusal
    else:
        number = int(match["whole"] or 0) + Fraction(int(match["top"]), int(match["bottom"]))
    unit = MEANT.get(match["unit"], match["unit"])
    exact = (-number if match["sign"] == "-" else number) * d.units[unit]
    exact += d.zeros.get(unit, Fraction(0)) + feet * 12 * _INCH
    try:
        return Quantity(float(exact), unit)
    except OverflowError:
        raise refusal from None


def parse(text: object, kind: str, key: str = "quantity") -> float:
    """Read a quantity and return its SI value; see `read`.

    Examples
    --------
    >>> round(parse("35 lbf", "force"), 3)
    155.688
    >>> parse("48", "length", key="bow.cut_length")
    Traceback (most recent call last):
        ...
    bowfem.errors.InputError: bow.cut_length = 48: must be a length with its unit \
(in, ft, mm, cm, m), such as '48 in'
    """
    return read(text, kind, key).value


def _in_unit(value: float, d: Dimension, unit: str) -> Fraction:
    return (Fraction(float(value)) - d.zeros.get(unit, Fraction(0))) / d.units[unit]


def _decimal(number: Fraction, digits: int, rounding: str = ROUND_HALF_EVEN) -> str:
    with localcontext() as context:
        context.prec, context.rounding = digits, rounding
        return _plain(Decimal(number.numerator) / Decimal(number.denominator))


def _plain(number: Decimal) -> str:
    if not number:
        return "0"
    if not -7 < number.adjusted() < 16:
        return f"{number.normalize():e}"
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def exact_text(value: float, kind: str, system: System) -> str:
    """Write the shortest text that reads back as the identical float.

    Parameters
    ----------
    value : float
        SI value, finite.
    kind : str
        Name of the dimension.
    system : {"us", "metric"}
        Which units may be used.

    Returns
    -------
    str
        A quantity for `read`. Inches may come out as a fraction down to 1/64.

    Raises
    ------
    InputError
        `value` is not finite.

    Examples
    --------
    >>> exact_text(0.01905, "length", "us"), exact_text(0.01905, "length", "metric")
    ('3/4 in', '19.05 mm')
    >>> exact_text(0.1, "length", "us")
    '3.937007874015748 in'
    """
    d = dimension(kind)
    if not math.isfinite(value):
        raise InputError(kind, value, "a finite number")
    unit = d.shown(system)
    exact = _in_unit(value, d, unit)
    # The 17-digit text always reads back, except next to absolute zero seen from another zero.
    best = _shortest_decimal(exact, value, d, unit) or f"{_decimal(Fraction(value), 17)} K"
    sixty_fourths = round(exact * 64) if unit == "in" and 0 < exact < 1000 else 0
    whole, rest = divmod(Fraction(sixty_fourths, 64), 1)
    if rest:
        fraction = f"{f'{whole}-' if whole else ''}{rest} in"
        if len(fraction) < len(best) and read(fraction, kind).value == value:
            return fraction
    return best


def _shortest_decimal(exact: Fraction, value: float, d: Dimension, unit: str) -> str:
    """Return the decimal of fewest digits that reads as `value`, or nothing."""
    factor, zero = d.units[unit], d.zeros.get(unit, Fraction(0))
    with localcontext() as context:
        context.prec = 60
        number = Decimal(exact.numerator) / Decimal(exact.denominator)
        near = ROUND_OFF * (abs(value) + float(zero)) / float(factor)
        for digits in range(1, 18):
            context.prec = digits
            rounded = +number
            if digits < 15 and abs(rounded - number) > near:
                continue  # spares the exact arithmetic: it cannot be
            try:
                if float(Fraction(rounded) * factor + zero) == value:
                    return f"{_plain(rounded)} {unit}"
            except OverflowError:  # rounded up past the largest float
                continue
    return ""


def convert(values: Any, kind: str, system: System) -> Any:
    """Convert SI values to the unit shown in a system.

    Parameters
    ----------
    values : float or (n,) array
        SI values; any shape, any residence.
    kind : str
        Name of the dimension.
    system : {"us", "metric"}
        Which unit to show.

    Returns
    -------
    float or ndarray
        Same shape, in the unit named by `shown_unit`.

    Examples
    --------
    >>> round(convert(155.688, "force", "us"), 2)
    35.0
    """
    d = dimension(kind)
    unit = d.shown(system)
    factor, zero = d.units[unit], d.zeros.get(unit, Fraction(0))
    shifted = values if not zero else np.subtract(values, float(zero))
    converted = np.divide(shifted, float(factor))
    return float(converted) if converted.ndim == 0 else converted


def shown_unit(kind: str, system: System) -> str:
    """Return the unit quantities of a dimension are shown in.

    Examples
    --------
    >>> shown_unit("energy", "us"), shown_unit("stress", "metric")
    ('ft lbf', 'MPa')
    """
    return dimension(kind).shown(system)


def column(name: str, kind: str, system: System) -> str:
    """Name a printed column or JSON key, with its unit.

    Examples
    --------
    >>> column("draw", "length", "us"), column("curvature", "curvature", "metric")
    ('draw_in', 'curvature_per_m')
    >>> column("stored", "energy", "us"), column("strain", "share", "us")
    ('stored_ft_lbf', 'strain_percent')
    """
    unit = shown_unit(kind, system)
    if unit.startswith("1/"):
        unit = "per_" + unit[2:]
    return f"{name}_{unit.replace('%', 'percent').replace('/', '_per_').replace(' ', '_')}"


def show(value: float, kind: str, system: System, digits: int = 4) -> str:
    """Write a value for people to read, rounded to significant digits.

    Examples
    --------
    >>> show(1.2192, "length", "us"), show(160.4937, "force", "metric", digits=3)
    ('48 in', '160 N')
    """
    return show_in(value, kind, shown_unit(kind, system), digits)


def as_marked(value: float, system: System, digits: bool = False) -> str:
    """Write a length as one marks it with a tape, to 1/16 in or 1 mm.

    Parameters
    ----------
    value : float
        Not below nought, m.
    system : {"us", "metric"}
        Units.
    digits : bool
        Without the unit, for a table.

    Examples
    --------
    >>> as_marked(0.5715, "us"), as_marked(0.5715, "metric"), as_marked(0.0095, "us", True)
    ('22-1/2 in', '572 mm', '3/8')
    """
    unit = shown_unit("length", system)
    number = convert(value, "length", system)
    if system == "us":
        whole, parts = divmod(round(16 * number), 16)
        words = [str(whole)] * (whole > 0 or not parts) + [str(Fraction(parts, 16))] * (parts > 0)
        text = "-".join(words)
    else:
        text = str(round(number))
    return text if digits else f"{text} {unit}"


def both_lengths(value: float, places: int = 1) -> str:
    """Write a length in inches and, in brackets, whole millimetres: for texts of either system.

    Examples
    --------
    >>> both_lengths(0.254)
    '10.0 in (254 mm)'
    """
    return f"{value / INCH:.{places}f} in ({1000.0 * value:.0f} mm)"


def show_in(
    value: float, kind: str, unit: str, digits: int = 4, toward: Literal["down", "up", ""] = ""
) -> str:
    """Write a rounded value in a chosen unit.

    Parameters
    ----------
    value : float
        SI value, finite.
    kind : str
        Name of the dimension.
    unit : str
        One of the dimension's units.
    digits : int
        Significant digits.
    toward : {"", "down", "up"}
        Direction of rounding; nearest by default. A limit is rounded to its allowed side, so
        that typing in the limit as printed is accepted.

    Returns
    -------
    str
        Number, space, unit.

    Raises
    ------
    InputError
        The unit is not one of the dimension, or `value` is not finite.

    Examples
    --------
    >>> show_in(0.0266, "length", "in", digits=3, toward="down")
    '1.04 in'
    """
    d = dimension(kind)
    if unit not in d.units:
        raise InputError("unit", unit, "one of " + ", ".join(d.units))
    if not math.isfinite(value):
        raise InputError(kind, value, "a finite number")
    rounding = {"": ROUND_HALF_EVEN, "down": ROUND_FLOOR, "up": ROUND_CEILING}[toward]
    number = _decimal(_in_unit(value, d, unit), digits, rounding)
    # A limit that is a round number but for round-off is shown as that number.
    nearest = _decimal(_in_unit(value, d, unit), digits)
    if abs(parse(f"{nearest} {unit}", kind) - value) <= ROUND_OFF * abs(value):
        number = nearest
    return f"{number} {unit}"
