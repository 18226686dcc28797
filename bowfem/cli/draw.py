"""The command draw: walk a design from brace to full draw."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from bowfem.cli.common import (
    STOPPED_EARLY,
    add_command,
    band_of,
    drawn_to,
    exit_status,
    in_colour,
    walked,
    working,
    write_pictures,
)

DRAW = """\
DESIGN is a TOML file. Groups: [pipe] size and cut length; [handle]; [limb] marks (distance from
the bow's centre and pressed thickness), bends, tip, sleeves, overlays; [lower] the lower limb where
it is another; [nock]; [string] strands and brace height or length; [draw] length and its measure;
[material] if not plain rigid PVC; [limits]. Every quantity carries its unit. A wrong file is
refused with all its faults listed by key. `bowfem new FILE` writes one in which every key is
explained. Example designs come with the source, in examples/designs: wagtail.toml (straight),
dunlin.toml (stiff tips), curlew.toml (curls), lapwing.toml (two unlike limbs).

"""

NUMBERS = """\
what the numbers mean:
  draw      draw length in the design's own convention, which is always named:
            "amo" (nock point to grip pivot plus 1.75 in) or "pivot"
  weight    force on the fingers at that draw
  tension   force in the string
  energy    stored since brace; energy / (weight x stroke) is 0.5 for a straight draw curve;
            higher is better
  stack     the steepest rise of weight near full draw: how hard the last inch comes
  of yield  largest strain over the yield strain; from 100 % on the limb takes a set

exit status:
  0 done, 2 bad input (one message), 3 the bow cannot be braced, flips sideways, or the walk
  stopped before the draw asked for (what was reached is printed, with where and why), 4 an order
  out of reach
"""

NEXT = """
next step: change one dimension (cut length, a mark's thickness), draw again and compare; then
measure your own pipe and material, and put them in the design.
"""


def add(commands: Any) -> None:
    """Add the command."""
    from bowfem.show import cautions_text

    draw = add_command(
        commands,
        "draw",
        run,
        help="walk a design from brace to full draw",
        description="Walk a design from brace to full draw and report on it.",
        epilog=f"{DRAW}{NUMBERS}{NEXT}\n{cautions_text()}",
    )
    draw.add_argument("design", metavar="DESIGN.toml", help="the design file")
    draw.add_argument(
        "--to",
        metavar="LENGTH",
        help="draw to this length instead of the design's own, in its convention, such as '26 in'",
    )
    draw.add_argument("--full", action="store_true", help="print all findings, tables and cautions")
    draw.add_argument("--json", metavar="FILE", help="write every state here; keys carry units")
    draw.add_argument("--out", metavar="FOLDER", help="write draw.png and shape.png here")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.design import Design
    from bowfem.files import check_file, check_folder, write_whole

    design = drawn_to(Design.from_file(args.design), args.to, "--to")
    if args.json is not None:
        check_file(args.json, "--json")
    if args.out is not None:
        check_folder(args.out, "--out")

    from bowfem.findings import Findings
    from bowfem.orders import Eased, needs_easing, what_eases
    from bowfem.show import draw_report, first_screen, printable

    walk = walked(design, "draw.length" if args.to is None else "--to")
    findings = Findings.from_walk(walk)
    band = band_of(walk)
    if args.full:
        print(draw_report(findings, args.units, band))
    else:
        eased: tuple[Eased, ...] = ()
        if band is not None and needs_easing(findings):
            with working(f"trying what eases {printable(design.name)}"):
                eased = what_eases(walk)
        print(in_colour(first_screen(findings, args.units, band, eased)))
    if args.json is not None:
        from bowfem.show import to_json

        write_whole(args.json, to_json(findings, args.units), "--json")
        print(f"\nwrote {printable(args.json)}")
    if args.out is not None:
        from bowfem.show import draw_curve, shapes

        pictures = {
            "draw.png": draw_curve(walk, system=args.units),
            "shape.png": shapes(walk, system=args.units),
        }
        write_pictures(args.out, pictures)
    if findings.sideways is not None and findings.sideways.flips:
        print(f"bowfem: {printable(design.name)}: {findings.verdict}", file=sys.stderr)
        return STOPPED_EARLY
    return exit_status(walk)
