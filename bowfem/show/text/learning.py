"""What was learned from a finished bow, printed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bowfem.show.text.tables import labelled, printable, ruled, wrapped
from bowfem.units import System, show

if TYPE_CHECKING:
    from bowfem.orders import Learned, Measurement


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
    (factor, wall, press), (df, dw, dp), (pf, pw, pp) = found.estimate, found.error, found.before
    rows = [
        [
            "stiffness of the plastic",
            f"{100.0 * factor:+.1f} %",
            f"{100.0 * df:.1f} %",
            f"{100.0 * pf:.1f} %",
        ],
        *(
            [name, f"{1000.0 * a:+.2f} mm", f"{1000.0 * b:.2f} mm", f"{1000.0 * c:.2f} mm"]
            for name, a, b, c in (("wall", wall, dw, pw), ("thickness at the marks", press, dp, pp))
        ),
    ]
    heads = [["this bow", "than thought", "error", "before"]]
    fits = [
        [
            each.kind,
            *(
                show(x, "force" if each.kind == "weight" else "length", system, 4)
                for x in (each.value, fit)
            ),
            f"{(each.value - fit) / each.error:+.1f}",
        ]
        for each, fit in zip(measured, found.fitted, strict=True)
    ]
    band = [show(found.weight + 1.96 * s * found.weight_error, "force", system, 4) for s in (-1, 1)]
    lines = [
        (
            "weight",
            f"{show(found.weight, 'force', system, 4)} at full draw; 95 % sure "
            f"between {band[0]} and {band[1]}",
        )
    ]
    parts = [
        f"{printable(found.design.name)}: learned from {len(measured)} measurements",
        ruled(heads, rows, left=1),
        labelled(lines),
        ruled([["measured", "value", "fitted", "off by (errors)"]], fits, left=1),
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
    return "\n\n".join(parts)
