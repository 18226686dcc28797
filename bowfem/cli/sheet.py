"""The command sheet: what to make the bow from, to print."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import DONE, add_command, walked, working

SHEET = """\
On it: the order of work with boxes to tick, each step with its figures, blanks for what you measure
and its cautions; the pipe to scale with its marks from both ends and what to heat; the jig; a
tillering board to scale; nocks and bent ends in true size; a label for the bow.

sheet.pdf holds all pages; the same pages come as sheet-1.svg, sheet-2.svg and so on. Print at
100 %, not fitted to the page, and measure the scale bars before cutting or bending by an outline.

The band of the weight takes, to first order, the stiffness of rigid PVC found in six sources, the
walls a published size may have, and 1/32 in at the marks. A material or a wall given in the design
is taken as measured.
"""


def add(commands: Any) -> None:
    """Add the command."""
    sheet = add_command(
        commands,
        "sheet",
        run,
        help="print what to work from: order of work, marks, jig, tillering, true sizes",
        description="Write the sheet to make the bow from, step by step.",
        epilog=SHEET,
    )
    sheet.add_argument("design", metavar="DESIGN.toml", help="the design")
    sheet.add_argument(
        "--out", metavar="FOLDER", required=True, help="write sheet.pdf, sheet-1.svg ... here"
    )
    sheet.add_argument(
        "--paper", choices=("letter", "a4"), default="letter", help="paper (default: letter)"
    )


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.bow import Ending
    from bowfem.design import Design
    from bowfem.errors import ConvergenceError
    from bowfem.files import check_folder, make_folder, write_whole
    from bowfem.findings import Findings
    from bowfem.orders import WeightBand
    from bowfem.show import pages, printable, to_pdf, to_svg

    design = Design.from_file(args.design)
    check_folder(args.out, "--out")
    walk = walked(design)
    if walk.ending is not Ending.COMPLETE:
        raise ConvergenceError(f"no sheet for a bow that cannot be drawn: {walk.message}")
    with working(f"drawing the pages of {printable(design.name)}", solves=False):
        band = WeightBand.from_design(design)
        made = pages(Findings.from_walk(walk), band, args.paper, args.units)
        files = {"sheet.pdf": to_pdf(made, printable(design.name))}
        files |= {f"sheet-{number}.svg": to_svg(page) for number, page in enumerate(made, 1)}
    folder = make_folder(args.out, "--out")
    for name, data in files.items():
        write_whole(folder / name, data, "--out")
    print(f"wrote {printable(str(folder / 'sheet.pdf'))} and {len(made)} SVG pages")
    return DONE
