"""What is not known of a bow before it is measured, and how far it may be off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import Families
from bowfem.design import Design, Side, spelled_out
from bowfem.orders.slopes import Lever
from bowfem.orders.tolerances import THICKNESS
from bowfem.section import PIPES, FamilyRange, Pipe, family_of

Array = NDArray[np.float64]

#: What may be learned: share of stiffness (logarithm), wall, m, all pressed thicknesses, m; upper
#: limb's thickness less lower's, m, and set of the handle, rad, where something tells of them.
NAMES = ("stiffness", "wall", "thickness", "limbs apart", "set")
#: Steps differenced.
STEPS = (1e-4, 2e-6, 2e-6, 2e-6, 1e-4)
#: Prior error of a tested plastic, a share; of a measured wall, m; of the set, rad (C).
TESTED, MEASURED, SET = 0.03, 0.05e-3, np.deg2rad(2.0)


def prior(design: Design) -> Array:
    """Return the standard deviations known before anything is measured, shape (5,).

    Notes
    -----
    That of the plastic from pipe to pipe, and those of even spreads over the walls of the standard
    and over 1/32 in either way at the marks (C). A tested plastic and a measured wall are known
    better. The limbs' marks are pressed independently, so they differ by root 2 of one.
    """
    choice = design.material_choice
    stiffness = TESTED if choice.is_tested else choice.preset.stiffness_deviation
    wall = MEASURED
    if design.pipe_choice.size is not None:
        low, high = next(row.wall_range for row in PIPES if row.name == design.pipe.name)
        wall = (high - low) / np.sqrt(12.0)
    pressed = THICKNESS / np.sqrt(3.0)
    return np.array([stiffness, wall, pressed, np.sqrt(2.0) * pressed, SET])


def changed(design: Design, amount: Sequence[float] | Array) -> Design:
    """Return a bow with each of `NAMES` changed by a given amount; those left out stay.

    A mark is pressed no further than shut and no thicker than the pipe.

    Raises
    ------
    DesignError
        There is no such bow.
    """
    all_amounts = np.zeros(len(NAMES))
    all_amounts[: len(amount)] = amount
    stiffer, more, thicker, apart, turned = all_amounts
    keys = ("material.stiffness", "pipe.wall")
    written = spelled_out(design, keys)
    factor, wall = (float(written.value(key) or 0.0) for key in keys)
    values = {keys[0]: factor * float(np.exp(stiffer)), keys[1]: wall + float(more)}
    if apart and written.lower is None:
        written = replace(written, lower=written.limb)
    if turned:
        values["handle.set"] = design.handle.set + float(turned)
    shut, whole = 2.0 * values[keys[1]], design.pipe.outer_diameter
    for side in written.written_sides:
        shift = float(thicker + (0.5 if side is Side.UPPER else -0.5) * apart)
        for row, mark in enumerate(written.shape(side).limb.marks, 1):
            if mark.thickness != "round":
                pressed = min(max(mark.thickness + shift, shut), whole)
                values[f"{side.table}.marks.{row}.thickness"] = pressed
    return written.with_values(values)


def unknown_levers(which: Sequence[int]) -> list[Lever]:
    """Return a lever for each quantity that is learned."""

    def lever(i: int) -> Lever:
        one = np.eye(len(NAMES))[i]
        return Lever(NAMES[i], STEPS[i], lambda design, more: changed(design, more * one))

    return [lever(i) for i in which]


def sections_about(design: Design) -> Families:
    """Return sections for all walls a bow may turn out to have."""
    wall, reach = design.pipe.wall, 4.0 * prior(design)[1]
    return _sections(design, [wall, wall - reach, wall + reach])


def sections_between(design: Design) -> Families:
    """Return the sections of a design's pipe, interpolated between formed curvatures."""
    return _sections(design, [design.pipe.wall])


def _sections(design: Design, walls: Sequence[float]) -> Families:
    pairs = [(Pipe(design.pipe.outer_diameter, wall), design.material) for wall in walls]
    turned = any(shape.limb.tip is not None for shape in design.limbs)
    return FamilyRange.from_pairs(pairs, between=True, turned=turned) or family_of
