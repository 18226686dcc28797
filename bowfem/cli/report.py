"""The command report: one page about the bow."""

from __future__ import annotations

import argparse
from contextlib import suppress
from typing import Any

from bowfem.cli.common import add_command, band_of, exit_status, walked, working

REPORT = """\
The page holds its pictures and needs nothing else; print it from the browser.
"""


def add(commands: Any) -> None:
    """Add the command."""
    report = add_command(
        commands,
        "report",
        run,
        help="write a page about the bow, to read or print",
        description="Write one page: what was asked, what comes out, pictures, marks, warnings.",
        epilog=REPORT,
    )
    report.add_argument("design", metavar="DESIGN.toml", help="the design file")
    report.add_argument("--out", metavar="FILE.html", required=True, help="where to")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.bow import Ending
    from bowfem.design import Design
    from bowfem.errors import ConvergenceError
    from bowfem.files import check_file, write_whole
    from bowfem.findings import Findings, SectionState, Shots
    from bowfem.orders import what_eases, what_steadies
    from bowfem.show import printable, report_page

    check_file(args.out, "--out")
    walk = walked(Design.from_file(args.design))
    findings = Findings.from_walk(walk)
    section = SectionState.worst(walk, findings.hot_spots)
    with working(f"trying what eases {printable(walk.design.name)}"):
        band = band_of(walk)
        eased = () if band is None else what_eases(walk)
        steadied = what_steadies(walk, findings.sideways)
    shots, sideways = None, findings.sideways
    if walk.ending is Ending.COMPLETE and not (sideways is not None and sideways.flips):
        ranged = None if band is None else (band.low, band.high)
        with (
            working(f"shooting {printable(walk.design.name)}"),
            suppress(ConvergenceError),  # a limb folds on the way: the page does without
        ):
            shots = Shots.from_walk(walk, band=ranged)
    page = report_page(findings, section, args.units, band, eased, steadied, shots)
    write_whole(args.out, page.encode(), "--out")
    print(f"wrote {printable(args.out)}")
    return exit_status(walk)
