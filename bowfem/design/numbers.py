"""The numbers of a design that can change by degrees, by their keys."""

from __future__ import annotations

from collections.abc import Collection

from bowfem.design.design import Design
from bowfem.design.entries import is_number
from bowfem.design.fields import Number, Quantity
from bowfem.design.parts import LAWS
from bowfem.errors import InputError
from bowfem.units import parse


def number_of(design: Design, key: str) -> float:
    """Return a number of a design that can change by degrees, looked up if it is not written.

    Raises
    ------
    InputError
        The design has no such key, or no such number there.
    """
    written = spelled_out(design, [key])
    value, spec = written.value(key), written.spec(key)
    by_degrees = isinstance(spec, Quantity) or (isinstance(spec, Number) and not spec.whole)
    if not by_degrees or not is_number(value):
        raise InputError("key", key, "a key with a number that can change by degrees")
    return float(value)


def read_number(design: Design, key: str, text: str, name: str) -> float:
    """Read a number of a key as a design file has it, bare only where that has no unit."""
    spec = spelled_out(design, [key]).spec(key)
    if isinstance(spec, Quantity):
        return parse(text, spec.kind, name)
    try:
        return float(text)
    except ValueError:
        raise InputError(name, ascii(text), "a bare number") from None


def spelled_out(design: Design, keys: Collection[str]) -> Design:
    """Copy a design with the numbers written that keys need: the pipe's and the law's."""
    written: dict[str, str | float | None] = {}
    pipe, choice = design.pipe, design.material_choice
    if {"pipe.outer_diameter", "pipe.wall"} & {*keys}:
        written = {"pipe.outer_diameter": pipe.outer_diameter, "pipe.wall": pipe.wall}
    for key, usual in (("stiffness", 1.0), ("temperature", choice.preset.room)):
        if f"material.{key}" in keys and getattr(choice, key) is None:
            written[f"material.{key}"] = usual
    needed = LAWS["ramberg-osgood"]
    if choice.law is None and {f"material.{key}" for key in sum(needed, ())} & {*keys}:
        written["material.law"] = "ramberg-osgood"
        written["material.plastic"] = choice.preset.name
        written |= {f"material.{key}": getattr(choice.preset.law, key) for key in sum(needed, ())}
    for key in ("poisson", "density"):
        if f"material.{key}" in keys and getattr(choice, key) is None:
            written[f"material.{key}"] = getattr(design.material, key)
    return design.with_values(written) if written else design
