"""Reports on an order: a sized bow with its active limits, and the effect of each lever."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from bowfem.design import Number, Quantity
from bowfem.findings import DrawLength, Findings
from bowfem.show.text.tables import (
    band_text,
    fixed,
    labelled,
    printable,
    ruled,
    warning_lines,
    wrapped,
)
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.design import Design
    from bowfem.orders import Effect, Levers, Margins, Sizing, WeightBand

#: Change of temperature by one degree of each scale, K.
DEGREES = {"us": ("F", 5.0 / 9.0), "metric": ("C", 1.0)}


def value_text(design: Design, key: str, value: float, system: System) -> str:
    """Write a number of a design file in the unit of its kind, to 4 digits."""
    spec = design.spec(key)
    if isinstance(spec, Quantity):
        return show(value, spec.kind, system, 4)
    assert isinstance(spec, Number)
    return f"{value:.4g}"


def _state(walk: Walk, system: System) -> str:
    folds = max(float(limb.fold_share.max()) for limb in walk.limbs)
    return (
        f"{show(walk.force[-1], 'force', system, 4)} at "
        f"{DrawLength.of(walk, walk.draw[-1]).text(system)}; at most "
        f"{100 * float(walk.yield_share.max()):.0f} % of yield, bent to {100 * folds:.0f} % of "
        "folding"
    )


def _first(found: Sizing, system: System) -> str:
    return "cannot be braced or drawn" if found.first is None else _state(found.first, system)


def _freeing(found: Sizing, system: System) -> list[str]:
    """Say what else could be freed, each solved."""
    rows = [
        [
            each.key,
            *(
                value_text(found.design, each.key, value, system)
                for value in (each.low, each.high, each.value)
            ),
            show(each.weight, "force", system, 3),
            "met" if each.met else "",
        ]
        for each in found.freeing
    ]
    heads = [["freeing one more", "from", "to", "gives, at", "weight", "order"]]
    if rows:
        return [ruled(heads, rows, left=1)]
    return [] if found.met else [wrapped("Freeing any one more number does not bring it nearer.")]


def size_report(
    found: Sizing,
    findings: Findings,
    margins: Margins,
    system: System,
    band: WeightBand | None = None,
) -> str:
    """Return the printed answer to an order.

    Parameters
    ----------
    found : Sizing
        The answer.
    findings : Findings
        What its walk comes to.
    margins : Margins
        What was to be kept.
    system : {"us", "metric"}
        Units.
    band : WeightBand, optional
        The band of its weight.
    """
    design, walk = found.design, found.walk
    off = 100.0 * (float(walk.force[-1]) / found.weight - 1.0)
    if found.met:
        verdict = "order met"
    elif found.kept:
        verdict = f"order out of reach; the nearest bow found within the limits is {off:+.1f} % off"
    else:
        verdict = "order out of reach, and no bow within the limits was found; this one breaks them"
    rows = [
        [key, *(value_text(design, key, value, system) for value in (before, after, low, high))]
        for key, low, high, before, after in found.free
    ]
    heads = [["free", "was", "becomes", "least", "most"]]
    leans = "; ".join(found.binding) or "none"
    lines = [
        (
            "ordered",
            f"{show(found.weight, 'force', system, 4)} at "
            f"{DrawLength.of(walk, walk.draw[-1]).text(system)}",
        ),
        ("was", _first(found, system)),
        ("becomes", _state(walk, system)),
        *([] if band is None else [("band", band_text(band, system))]),
        (
            "string",
            f"{show(walk.string_length, 'length', system)} between grooves, untensioned, "
            f"for a brace height of {show(walk.brace_height, 'length', system)}",
        ),
        (
            "limits",
            f"{100 * margins.yield_share:.0f} % of yield, {100 * margins.fold_share:.0f} % "
            f"of folding, {show(margins.clearance, 'length', system, 2)} from string to belly"
            + (
                f", {margins.sideways:g} times the string's pull at brace sideways"
                if any(shape.limb.tip is not None for shape in design.limbs)
                else ""
            )
            + "".join(
                f", {show(most, 'length', system)} {what} of the parcel"
                for most, what in (
                    (design.limits.longest, "long side"),
                    (design.limits.length_and_girth, "length and girth"),
                )
                if most is not None
            ),
        ),
        ("active limits", leans if found.met else f"{leans}: these stand in the way"),
    ]
    parts = [
        f"{printable(design.name)}: {verdict}",
        ruled(heads, rows, left=1),
        labelled(lines),
        *_freeing(found, system),
        *warning_lines(findings, system),
    ]
    return "\n\n".join(parts)


def amount_text(effect: Effect, system: System) -> str:
    """Write how much of a move is made; all moves are made upward."""
    move = effect.move
    if move.kind == "kelvin":
        unit, one = DEGREES[system]
        return f"{move.amount / one:g} {unit}"
    return show(move.amount, move.kind, system, 2)


def levers_report(found: Levers, system: System) -> str:
    """Return the table of the maker's moves.

    Parameters
    ----------
    found : Levers
        The effects.
    system : {"us", "metric"}
        Units.
    """
    length, force = shown_unit("length", system), shown_unit("force", system)
    places = 3 if system == "us" else 2
    heads = [
        ["move", "by", "weight", "weight", "of yield", "string", "brace", "tiller", "arrow"],
        ["", "", force, "%", "points", length, length, length, shown_unit("speed", system)],
    ]

    def signed(value: float, digits: int) -> str:
        text = fixed(value, digits)
        return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"

    rows = [
        [
            effect.move.name,
            amount_text(effect, system),
            signed(float(convert(effect.weight, "force", system)), 2),
            signed(100.0 * effect.weight / found.weight, 1),
            signed(100.0 * effect.yield_share, 1),
            signed(float(convert(effect.string_length, "length", system)), places),
            signed(float(convert(effect.brace_height, "length", system)), places),
            signed(float(convert(effect.tiller, "length", system)), places),
            signed(float(convert(effect.speed, "speed", system)), 2)
            if np.isfinite(effect.speed)
            else "-",
        ]
        for effect in found.effects
    ]
    kept = "brace height" if found.design.string.brace_height is not None else "string"
    note = (
        f"Each move by itself, at the same {kept}. Less of a move, or the other way round, does as "
        "much less; moves add up, while they are small. A puff-up is nothing at the two marks it "
        "lies between and most half-way. Tiller is from string to belly at the fades, upper less "
        f"lower; arrow is the speed of one of {show(found.arrow, 'mass', system, 3)}."
    )
    now = (
        f"{show(found.weight, 'force', system, 3)} at full draw, "
        f"{100 * found.yield_share:.0f} % of yield, string "
        f"{show(found.string_length, 'length', system)}, brace "
        f"{show(found.brace_height, 'length', system)}"
        + (f", arrow {show(found.speed, 'speed', system, 4)}" if np.isfinite(found.speed) else "")
    )
    parts = [f"{printable(found.design.name)}: {now}", ruled(heads, rows, left=1), wrapped(note)]
    if found.fades:
        parts += _fades(found, signed, system)
    return "\n\n".join(parts)


def _fades(found: Levers, signed: Callable[[float, int], str], system: System) -> list[str]:
    heads = [
        ["fade", "by", "weight", "of yield", "crease"],
        ["", "", shown_unit("force", system), "points", "% of yield"],
    ]
    rows = [["as it is", "", "", "", f"{100.0 * found.crease_share:.0f}"]] + [
        [
            move.name,
            "" if move.amount is None else show(move.amount, "length", system, 2),
            signed(float(convert(move.weight, "force", system)), 2),
            signed(100.0 * move.yield_share, 1),
            f"{100.0 * move.crease_share:.0f}",
        ]
        for move in found.fades
    ]
    note = (
        "Each way to make the fade was walked. A crease threatens where the fade runs into the "
        "flat: the last column is the strain there, with the factor of the fade."
    )
    return [ruled(heads, rows, left=1), wrapped(note)]
