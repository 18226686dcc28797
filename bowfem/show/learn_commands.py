"""The command learn: what a finished bow is made of. `bowfem.cli` puts it in its parser.

Anything slow to import is imported when the command runs.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bowfem.bow.calibration import Learned
    from bowfem.bow.measured import Measurement
    from bowfem.units import System

LEARN = """\
MEASURED is a TOML file of what was measured on this bow; each table may come several times:

  [[weight]]                 # at a draw, in the design's convention
  draw = "28 in"
  force = "36 lbf"
  error = "0.4 lbf"          # standard deviation; every table may have one
  [[string]]                 # if the design gives the brace height; else [[brace]] height = "..."
  length = "43.4 in"
  [[tip]]                    # groove at brace, from the bow's centre
  limb = "upper"
  toward = "1.2 in"
  along = "21.5 in"
  [[hang]]                   # round offcut on two supports, a weight hung in the middle
  span = "20 in"
  weight = "10 lbf"
  sag = "2.6 mm"

Estimated are the stiffness of the plastic (all stresses over those of the law), the wall, and how
much thicker all marks are than written, from what is known beforehand and what was measured. With
--weight, the moves that bring this bow to its order. The design that --out writes is this bow.

exit status: 0 done, 2 bad input, 3 the bow cannot be braced or drawn, or nothing fits
"""


def add_commands(commands: Any) -> list[argparse.ArgumentParser]:
    """Add the command to those of the program; return its parser."""
    learn = commands.add_parser(
        "learn",
        help="learn from a finished bow, and how to correct it",
        epilog=LEARN,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
        description="Estimate stiffness, wall and thickness of a finished bow from what was "
        "measured on it.",
    )
    learn.add_argument("design", metavar="DESIGN.toml", help="the bow as it was meant")
    learn.add_argument("measured", metavar="MEASURED.toml", help="what was measured")
    learn.add_argument("--weight", metavar="FORCE", help="weight ordered at full draw")
    learn.add_argument("--out", metavar="NEW.toml", help="write the bow as it is here")
    learn.set_defaults(run=_learn)
    return [learn]


def _learn(args: argparse.Namespace) -> int:
    from bowfem.bow.design import Design
    from bowfem.bow.measured import measurements_from_file
    from bowfem.show.files import check_file
    from bowfem.show.tables import printable
    from bowfem.units import parse

    design = Design.from_file(args.design)
    measured = measurements_from_file(args.measured, design)
    weight = None if args.weight is None else parse(args.weight, "force", "--weight")
    if args.out is not None:
        check_file(args.out, "--out")
    from bowfem.bow.calibration import learn

    found = learn(design, measured, weight)
    print(learn_report(found, measured, weight, args.units))
    if args.out is not None:
        found.design.to_file(args.out)
        print(f"\nwrote {printable(args.out)}")
    return 0


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
    from bowfem.show.tables import labelled, printable, ruled, wrapped
    from bowfem.units import show

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
