"""What was learned from a finished bow, printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from bowfem.show.text.tables import labelled, printable, ruled, wrapped
from bowfem.units import System, show

if TYPE_CHECKING:
    from bowfem.orders import Learned, Measurement, Remembered


#: What is learned, as printed: label, places, unit.
LABELS = {
    "stiffness": "stiffness of the plastic",
    "wall": "wall",
    "thickness": "thickness at the marks",
    "limbs apart": "upper limb's thickness, over the lower's",
    "set": "set of the handle",
}
PLACES = {"stiffness": 1, "wall": 2, "thickness": 2, "limbs apart": 2, "set": 1}
UNITS = {"stiffness": " %", "wall": " mm", "thickness": " mm", "limbs apart": " mm", "set": " deg"}


def _amount(value: float, name: str) -> float:
    return value * (100.0 if name == "stiffness" else np.rad2deg(1.0) if name == "set" else 1e3)


def kind_of(each: Measurement) -> str:
    """Return the dimension of what was measured."""
    return {"weight": "force", "mass": "mass"}.get(each.kind, "length")


def _refusal(found: Learned, measured: list[Measurement], system: System) -> list[str]:
    """Say that the measurements do not fit, which of them, and what would explain it."""
    chance = f"{found.chance:.1g}" if found.chance > 1e-9 else "below one in a billion"
    parts = [
        wrapped(
            "They are further from what this bow can be than chance explains (probability "
            f"{chance}). No weight is given, since it would be wrong: check each figure, its unit, "
            "the draw and how it was measured."
        )
    ]
    for each in found.suspects:
        one = measured[each.number]
        value, expected, error = (
            show(x, kind_of(one), system, 3) for x in (one.value, each.expected, each.deviation)
        )
        text = f"{one.kind}: {value} measured, {expected} +- {error} expected from the rest"
        parts.append(wrapped(f"{text}: {each.slip}" if each.slip else f"{text}."))
    if not found.suspects:
        parts.append(wrapped("No single measurement, nor all of one kind, explains it."))
    return parts


def learn_report(
    found: Learned, measured: list[Measurement], weight: float | None, system: System
) -> str:
    """Return what was learned, printed.

    Parameters
    ----------
    found : Learned
        What was learned.
    measured : list of Measurement
        From what.
    weight : float, optional
        Weight ordered, N.
    system : {"us", "metric"}
        Units.
    """
    rows = [
        [
            LABELS[name],
            *(
                f"{_amount(value, name):{sign}.{PLACES[name]}f}{UNITS[name]}"
                for value, sign in ((at, "+"), (off, ""), (was, ""))
            ),
        ]
        for name, at, off, was in zip(
            found.names, found.estimate, found.error, found.before, strict=True
        )
    ]
    heads = [["this bow", "than thought", "error", "before"]]
    fits = [
        [
            each.kind,
            *(show(x, kind_of(each), system, 4) for x in (each.value, fit)),
            f"{(each.value - fit) / each.error:+.1f}",
        ]
        for each, fit in zip(measured, found.fitted, strict=True)
    ]
    fitted = ruled([["measured", "value", "fitted", "off by (errors)"]], fits, left=1)
    title = f"{printable(found.design.name)}: "
    if not found.plausible:
        refusal = _refusal(found, measured, system)
        return "\n\n".join([f"{title}these measurements do not fit", *refusal, fitted])
    band = [show(found.weight + 1.96 * s * found.weight_error, "force", system, 4) for s in (-1, 1)]
    lines = [
        (
            "weight",
            f"{show(found.weight, 'force', system, 4)} at full draw; 95 % sure "
            f"between {band[0]} and {band[1]}",
        )
    ]
    parts = [
        f"{title}learned from {len(measured)} measurement{'' if len(measured) == 1 else 's'}",
        ruled(heads, rows, left=1),
        labelled(lines),
        fitted,
        ruled(
            [["measure next", "% of the weight's variance gone"]],
            [[name, f"{100.0 * share:.1f}"] for name, share in found.worth],
            left=1,
        ),
    ]
    if weight is not None:
        moves = [
            [
                each.move.name,
                show(each.amount, each.move.kind, system, 3),
                f"{100.0 * each.yield_share:.0f} %",
            ]
            for each in found.corrections
        ]
        title = f"to draw {show(weight, 'force', system, 4)}, one of"
        parts.append(
            ruled([[title, "by", "of yield"]], moves, left=1)
            if moves
            else wrapped(
                "No single move of usual size brings this bow to "
                f"{show(weight, 'force', system, 4)}."
            )
        )
    if found.tiller_corrections:
        now, meant = (show(x, "length", system, 3) for x in found.tiller)
        moves = [
            [
                each.move.name,
                show(each.amount, each.move.kind, system, 3),
                show(each.weight, "force", system, 4),
            ]
            for each in found.tiller_corrections
        ]
        title = f"to bring the tiller from {now} to {meant}, one of"
        parts.append(ruled([[title, "by", "weight"]], moves, left=1))
        parts.append(
            wrapped(
                "Tiller is from string to belly at the fades, upper less lower, at brace. A puff-up"
                " below nought is pressing thinner, by so much in the middle of that stretch."
            )
        )
    return "\n\n".join(parts)


def memory_report(name: str, found: Remembered) -> str:
    """Return what was learnt of the plastic's memory, printed."""
    parts = [f"{printable(name)}: what it remembers"]
    if np.isfinite(found.fading):
        text = (
            f"what fades after the first minute is {found.fading:.2f} +- {found.error:.2f} of what "
            "is remembered of rigid PVC (material.fading; 0.7 to 1.3 was thought)"
        )
        if found.at_end:
            text += "; that is the end of what can be: check both weights and how they were read"
        parts.append(wrapped(text))
    if np.isfinite(found.plastic_share):
        parts.append(
            wrapped(
                f"of what the plastic's curve would keep of a full draw {found.plastic_share:.0%} "
                "stayed; the rest came back"
            )
        )
    return "\n\n".join(parts)
