"""The command export: meshes, tables and a solid for other programs."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import add_command, exit_status, walked, working

EXPORT = """\
Writes state-*.vtu, one for each state, the first unstrung: the wall in hexahedra, fields on their
points in SI units; walk.pvd, which lists them by draw in m to the pivot; walk.csv and
stations.csv, units in their heads; unstrung.stl, a closed surface in mm.
"""


def add(commands: Any) -> None:
    """Add the command."""
    export = add_command(
        commands,
        "export",
        run,
        help="write meshes, tables and a solid for other programs",
        description="Write a walk as files that other programs read.",
        epilog=EXPORT,
    )
    export.add_argument("design", metavar="DESIGN.toml", help="the design file")
    export.add_argument("--out", metavar="FOLDER", required=True, help="where to")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.design import Design
    from bowfem.files import check_folder
    from bowfem.show import export, printable

    check_folder(args.out, "--out")
    walk = walked(Design.from_file(args.design))
    with working(f"writing into {printable(args.out)}", solves=False):
        written = export(walk, args.out, args.units)
    print(f"wrote {len(written)} files into {printable(args.out)}: open walk.pvd, or the tables")
    return exit_status(walk)
