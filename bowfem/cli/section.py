"""The command section: one section, bent, and the stress in its wall."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import DONE, UsageError, add_command, walked, write_pictures
from bowfem.errors import InputError

SECTION = """\
Two ways to name it:
  bowfem section mybow.toml --at "8 in"                     as it stands at full draw
  bowfem section --pipe "3/4 in Sch 40" --thickness "0.5 in" --strain "3 %"

"lost by flattening" is what the moment falls short of a section that kept its outline; the surface
strain is that of such a section. "crosswise" is the wall bending round the section as the faces
come together, and at the inside of its edges. A section folds where its moment peaks. A curl
(--radius) is softer than a straight limb from the start; a negative strain opens it.
"""


def add(commands: Any) -> None:
    """Add the command."""
    section = add_command(
        commands,
        "section",
        run,
        help="one section: stiffness, flattening, fold, stress in its wall",
        description="Bend one section of pressed pipe and look into its wall.",
        epilog=SECTION,
    )
    section.add_argument(
        "design", metavar="DESIGN.toml", nargs="?", help="a design; show it at full draw"
    )
    section.add_argument("--at", metavar="LENGTH", help="its station, from the bow's centre")
    section.add_argument("--pipe", metavar="SIZE", help="instead: a pipe, by its published size")
    section.add_argument("--thickness", metavar="LENGTH", help="pressed to this, outside")
    section.add_argument(
        "--radius", metavar="LENGTH", help="formed to a curl of this radius, of its middle"
    )
    section.add_argument("--edge-on", action="store_true", help="standing on its edge")
    section.add_argument(
        "--strain", metavar="SHARE", default="2 %", help="bent to this at the surface (2 %%)"
    )
    section.add_argument("--out", metavar="FOLDER", help="write section.png here")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.files import check_folder
    from bowfem.findings import SectionState
    from bowfem.show import section_report
    from bowfem.units import parse

    if args.out is not None:
        check_folder(args.out, "--out")
    by_design, by_pipe = args.design is not None, args.pipe is not None
    if (
        by_design == by_pipe
        or by_design != (args.at is not None)
        or (by_pipe != (args.thickness is not None))
    ):
        raise UsageError("section: give DESIGN.toml with --at, or --pipe with --thickness")
    try:
        if by_pipe:
            from bowfem.section import RIGID_PVC, Pipe

            state = SectionState.from_pipe(
                Pipe.from_size(args.pipe),
                parse(args.thickness, "length", "--thickness"),
                RIGID_PVC,
                parse(args.strain, "share", "--strain"),
                edge_on=args.edge_on,
                radius=None if args.radius is None else parse(args.radius, "length", "--radius"),
            )
        else:
            from bowfem.design import Design

            design, at = Design.from_file(args.design), parse(args.at, "length", "--at")
            state = SectionState.from_walk(walked(design), at)
    except InputError as error:  # the option, as it was written, for the library's own name
        named = {key: key for key in ("strain", "thickness", "radius")} | {"s": "at"}
        named = named.get(error.key)
        if named is None:
            raise
        raise InputError(f"--{named}", getattr(args, named), error.allowed) from None
    print(section_report(state, args.units))
    if args.out is not None:
        from bowfem.show import section_picture

        write_pictures(args.out, {"section.png": section_picture(state, system=args.units)})
    return DONE
