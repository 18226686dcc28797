"""The command levers: what each of the maker's moves does."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import DONE, add_command, working, write_pictures

LEVERS = """\
Moves are a millimetre of puff-up between two marks, a degree of handle set, 10 mm of cut length,
5 mm of brace height (or of string, where the design gives its length), 10 degrees C, and a quarter
of a millimetre of wall. Each is to first order, from the equilibria at brace and full draw.
"""


def add(commands: Any) -> None:
    """Add the command."""
    levers = add_command(
        commands,
        "levers",
        run,
        help="what each of the maker's moves does",
        description="Show what each of the maker's moves does to weight, strain, string and brace.",
        epilog=LEVERS,
    )
    levers.add_argument("design", metavar="DESIGN.toml", help="the design")
    levers.add_argument("--out", metavar="FOLDER", help="write levers.png here")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.design import Design
    from bowfem.files import check_folder
    from bowfem.orders import Levers
    from bowfem.show import levers_picture, levers_report, printable

    design = Design.from_file(args.design)
    if args.out is not None:
        check_folder(args.out, "--out")
    with working(f"moving the levers of {printable(design.name)}"):
        found = Levers.from_design(design)
    print(levers_report(found, args.units))
    if args.out is not None:
        write_pictures(args.out, {"levers.png": levers_picture(found, system=args.units)})
    return DONE
