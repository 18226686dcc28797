"""Levers: what each of the maker's moves does to weight, strain, string and brace."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from bowfem.bow import USUAL_ARROW_MASS, Walk, arrow_speed
from bowfem.design import Design, Side
from bowfem.errors import ConvergenceError
from bowfem.findings import fade_gaps
from bowfem.orders.fades import FadeMove, fade_moves
from bowfem.orders.slopes import Lever, SolvedBow, sensitivities

Array = NDArray[np.float64]

#: Change differenced: lengths m, angles rad, temperature K.
LENGTH, ANGLE, KELVIN = 2e-6, 2e-5, 0.02


@dataclass(frozen=True)
class Move:
    """One of the maker's moves, in the maker's unit.

    Parameters
    ----------
    name : str
        What is done.
    amount : float
        How much of it, in SI units.
    kind : str
        Dimension of the amount.
    lever : Lever
        How a design changes with it.
    finished : bool
        Whether it can be made on a finished bow.
    shortens : bool
        Whether, on a finished bow, it can only be reduced.
    """

    name: str
    amount: float
    kind: str
    lever: Lever
    finished: bool = True
    shortens: bool = False


@dataclass(frozen=True)
class Effect:
    """What one move changes, to first order.

    Parameters
    ----------
    move : Move
        The move.
    weight : float
        At full draw, N.
    yield_share : float
        Peak strain over yield strain, brace and full draw.
    string_length, brace_height : float
        m; one of the two is held, as the design says.
    tiller : float
        String to belly at the end of the fades at brace, upper less lower, m.
    speed : float
        Of the arrow, m/s; not a number where it cannot be shot.
    """

    move: Move
    weight: float
    yield_share: float
    string_length: float
    brace_height: float
    tiller: float
    speed: float


@dataclass(frozen=True)
class Levers:
    """Hold the figures of a bow and the effects of the moves on it.

    Parameters
    ----------
    design : Design
        The bow.
    weight, yield_share, string_length, brace_height, tiller, speed : float
        As it is, see `Effect`.
    arrow : float
        Mass of the arrow that is shot, kg: the design's, or 9 grains a pound of the weight.
    effects : tuple of Effect
        In the order of `moves`.
    crease_share : float
        Strain over yield strain where the fade runs into the flat, as it is.
    fades : tuple of FadeMove
        Other ways to make the fade, each walked.
    """

    design: Design
    weight: float
    yield_share: float
    string_length: float
    brace_height: float
    tiller: float
    speed: float
    arrow: float
    effects: tuple[Effect, ...]
    crease_share: float
    fades: tuple[FadeMove, ...]

    @classmethod
    def from_design(cls, design: Design) -> Levers:
        """Find the effects of all moves on a bow.

        Raises
        ------
        ConvergenceError
            The bow cannot be braced or drawn.

        Notes
        -----
        Slopes of the equilibria (see `sensitivity`) times the move: exact for small moves.
        """
        made = moves(design)
        # one arrow for all: what a heavier bow would shoot otherwise is another question
        arrow = design.arrow.mass or USUAL_ARROW_MASS * float(
            SolvedBow.from_design(design).walk.force[-1]
        )

        def figures(found: Walk) -> Array:
            return _figures(found, arrow)

        values, slopes = sensitivities(design, [move.lever for move in made], figures)
        weight, string, brace, tiller, speed, *peaks = values.tolist()
        effects = []
        for move, slope in zip(made, slopes.T, strict=True):
            more, length, height, uneven, faster, *strains = (slope * move.amount).tolist()
            # limbs alike are strained alike: of two that part, the harder one counts
            share = max(p + d for p, d in zip(peaks, strains, strict=True)) - max(peaks)
            effects.append(Effect(move, more, share, length, height, uneven, faster))
        now = weight, max(peaks), string, brace, tiller, speed, arrow
        return cls(design, *now, tuple(effects), *fade_moves(design))


def _figures(found: Walk, arrow: float) -> Array:
    peaks = [float(np.max(limb.yield_share)) for limb in found.limbs]
    _, gaps = fade_gaps(found)
    lengths = found.string_length, found.brace_height, gaps[0] - gaps[1]
    try:
        speed = arrow_speed(found, arrow)
    except ConvergenceError:
        speed = np.nan
    return np.array([found.force[-1], *lengths, speed, *peaks])


def moves(design: Design) -> tuple[Move, ...]:
    """Return the moves a maker can make on a bow.

    A puff-up is a swelling between two marks: nothing at the marks, most in the middle. It is made
    on both limbs, and on each by itself: on one of two alike limbs, since the other does the same.
    """
    found = []
    for side in design.written_sides:
        which = f"{side.value} limb " if design.lower else ""
        shape = design.shape(side)
        knots = [mark.at for mark in shape.limb.marks if mark.at < shape.nock_station]
        for number, (a, b) in enumerate(pairwise(knots), 1):
            text = f"{which}puffed up, {number} to {number + 1}"
            change = _puffed(side, 0.5 * (a + b))
            found.append(Move(text, 1e-3, "length", Lever(text, LENGTH, change)))
            if design.lower is None:
                text = f"{text}, upper alone"
                change = _puffed(side, 0.5 * (a + b), alone=True)
                found.append(Move(text, 1e-3, "length", Lever(text, LENGTH, change)))
        if shape.limb.tip is not None:
            text, key = f"{which}stiff tip begins further out", f"{side.table}.tip.edge_on_from"
            lever = Lever(text, LENGTH, _keyed(key, shape.limb.tip.edge_on_from, {}))
            found.append(Move(text, 0.005, "length", lever, finished=False))
    wall = {"pipe.outer_diameter": design.pipe.outer_diameter}
    temperature = design.material_choice.temperature or design.material_choice.preset.room
    string = design.string
    held = ("string.brace_height", string.brace_height, "more brace height")
    if string.brace_height is None:
        held = ("string.length", string.length, "longer string")
    for text, amount, kind, step, key, value, kept in (
        ("handle set forward", np.pi / 180, "angle", ANGLE, "handle.set", design.handle.set, {}),
        (
            "longer cut",
            0.01,
            "length",
            LENGTH,
            "pipe.cut_length",
            design.pipe_choice.cut_length,
            {},
        ),
        ("nock further in", 0.005, "length", LENGTH, "nock.inset", design.nock.inset, {}),
        (held[2], 0.005, "length", LENGTH, held[0], held[1], {}),
        ("warmer", 10.0, "kelvin", KELVIN, "material.temperature", temperature, {}),
        ("thicker wall", 0.25e-3, "length", LENGTH, "pipe.wall", design.pipe.wall, wall),
    ):
        assert value is not None
        lever = Lever(text, step, _keyed(key, float(value), kept))
        is_bought = key in ("material.temperature", "pipe.wall")
        found.append(
            Move(text, float(amount), kind, lever, not is_bought, key == "pipe.cut_length")
        )
    return tuple(found)


def _keyed(key: str, value: float, kept: dict[str, float]) -> Callable[[Design, float], Design]:
    return lambda design, amount: design.with_values({**kept, key: value + amount})


def _puffed(side: Side, at: float, alone: bool = False) -> Callable[[Design, float], Design]:
    """Put a mark in the middle of a stretch and make the limb thicker there."""

    def change(design: Design, amount: float) -> Design:
        if alone and design.lower is None:
            design = replace(design, lower=design.limb)
        limb = design.shape(side).limb
        thickness = design.shape(side).thickness_at(at)
        mark = replace(limb.marks[0], at=at, thickness=float(thickness) + amount)
        marks = tuple(sorted((*limb.marks, mark), key=lambda each: each.at))
        return replace(design, **{side.table: replace(limb, marks=marks)})

    return change
