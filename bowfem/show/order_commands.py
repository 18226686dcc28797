"""The commands from an order to a bow: size, levers, sheet. `bowfem.cli` puts them in its parser.

Anything slow to import is imported by the command that needs it.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from bowfem.errors import DesignError, InputError

if TYPE_CHECKING:
    from bowfem.bow.design import Design

#: Exit status of an order out of reach: the nearest bow was found.
OUT_OF_REACH = 4

SIZE = """\
Without --free the thickness at the marks is free. --free takes any number of the design file by its
key (rows count from 1) and may be given several times:

  bowfem size mybow.toml --weight "35 lbf" --at "28 in" --out sized.toml
  bowfem size mybow.toml --weight "35 lbf" --free "pipe.cut_length=46 in..56 in" \\
                         --free "limb.marks.1.thickness=0.5 in..0.9 in"

With more freedom than the weight takes up, the bow with the least peak strain is found. Limits are
the margins below, limits.longest of the design, the ranges of --free, and a thickness that does not
grow outward. What the bow leans on is told. A new design is written without the old one's comments.

exit status: 0 order met, 2 bad input, 3 the bow to begin with cannot be braced or drawn, 4 order
out of reach: the nearest bow within the limits is reported, and written
"""

LEVERS = """\
Moves are a millimetre of puff-up between two marks, a degree of handle set, 10 mm of cut length,
5 mm of brace height (or of string, where the design gives its length), 10 degrees C, and a quarter
of a millimetre of wall. Each is to first order, from the equilibria at brace and full draw.
"""


SHEET = """\
sheet.pdf holds all pages; the same pages come as sheet-1.svg, sheet-2.svg and so on. Print at
100 %, not fitted to the page, and measure the scale bars before cutting or bending by an outline.

The band of the weight takes, to first order, the stiffness of rigid PVC found in six sources, the
walls a published size may have, and 1/32 in at the marks. A material or a wall given in the design
is taken as measured.
"""


def add_commands(commands: Any) -> list[argparse.ArgumentParser]:
    """Add the commands to those of the program; return their parsers."""
    raw = argparse.RawDescriptionHelpFormatter
    size = commands.add_parser(
        "size",
        help="find dimensions for an ordered weight",
        formatter_class=raw,
        description="Change a design so that it draws an ordered weight, strained as little as "
        "can be.",
        epilog=SIZE,
        allow_abbrev=False,
    )
    size.add_argument("design", metavar="DESIGN.toml", help="the design to begin with")
    size.add_argument("--weight", metavar="FORCE", required=True, help="weight, such as '35 lbf'")
    size.add_argument(
        "--at",
        metavar="LENGTH",
        help="draw length of that weight, in the design's convention; by default the design's own",
    )
    size.add_argument(
        "--free", metavar="KEY=LOW..HIGH", action="append", help="let a number change in a range"
    )
    size.add_argument(
        "--yield-share", metavar="SHARE", default="95 %", help="most strain over yield (95 %%)"
    )
    size.add_argument(
        "--fold-share", metavar="SHARE", default="85 %", help="most bending over the fold (85 %%)"
    )
    size.add_argument(
        "--clearance",
        metavar="LENGTH",
        default="10 mm",
        help="least from string to belly on the inner half of the limb (10 mm)",
    )
    size.add_argument("--out", metavar="NEW.toml", help="write the design found here")
    size.set_defaults(run=_size)

    levers = commands.add_parser(
        "levers",
        help="what each of the maker's moves does",
        formatter_class=raw,
        description="Tell what each of the maker's moves does to weight, strain, string and brace.",
        epilog=LEVERS,
        allow_abbrev=False,
    )
    levers.add_argument("design", metavar="DESIGN.toml", help="the design")
    levers.add_argument("--out", metavar="FOLDER", help="write levers.png here")
    levers.set_defaults(run=_levers)

    sheet = commands.add_parser(
        "sheet",
        help="print what to work from: marks, jig, curls in true size",
        formatter_class=raw,
        description="Write the sheet to mark the pipe, set the jig and bend the ends from.",
        epilog=SHEET,
        allow_abbrev=False,
    )
    sheet.add_argument("design", metavar="DESIGN.toml", help="the design")
    sheet.add_argument(
        "--out", metavar="FOLDER", required=True, help="write sheet.pdf, sheet-1.svg ... here"
    )
    sheet.add_argument(
        "--paper", choices=("letter", "a4"), default="letter", help="paper (default: letter)"
    )
    sheet.set_defaults(run=_sheet)
    return [size, levers, sheet]


def _range(design: Design, text: str) -> tuple[str, tuple[float, float]]:
    """Read ``KEY=LOW..HIGH``."""
    from bowfem.bow.design_numbers import number_of, read_number

    key, equals, bounds = text.partition("=")
    key, ends = key.strip(), bounds.split("..")
    if not equals or len(ends) != 2:
        allowed = "KEY=LOW..HIGH, as in 'pipe.cut_length=46 in..56 in'"
        raise InputError("--free", ascii(text), allowed)
    number_of(design, key)
    low, high = (read_number(design, key, end.strip(), f"--free {key}") for end in ends)
    return key, (low, high)


def _size(args: argparse.Namespace) -> int:
    from bowfem.bow.design import Design
    from bowfem.show.files import check_file
    from bowfem.units import parse

    design = Design.from_file(args.design)
    if args.at is not None:
        try:
            design = design.with_value("draw.length", args.at)
        except DesignError as error:
            for fault in error.faults:
                if fault.key == "draw.length":
                    raise InputError("--at", fault.value, fault.allowed) from None
            raise
    weight = parse(args.weight, "force", "--weight")
    if args.out is not None:
        check_file(args.out, "--out")
    from bowfem.bow.sizing import Margins, size
    from bowfem.show.order_report import size_report
    from bowfem.show.tables import printable

    free = None if args.free is None else dict(_range(design, text) for text in args.free)
    margins = Margins(
        parse(args.yield_share, "share", "--yield-share"),
        parse(args.fold_share, "share", "--fold-share"),
        parse(args.clearance, "length", "--clearance"),
    )
    found = size(design, weight, free, margins)
    print(size_report(found, margins, args.units))
    if args.out is not None:
        found.design.to_file(args.out)
        print(f"\nwrote {printable(args.out)}")
    return 0 if found.met else OUT_OF_REACH


def _levers(args: argparse.Namespace) -> int:
    from bowfem.bow.design import Design
    from bowfem.bow.levers import Levers
    from bowfem.show.files import check_folder, make_folder, write_whole
    from bowfem.show.order_report import levers_picture, levers_report
    from bowfem.show.tables import printable

    design = Design.from_file(args.design)
    if args.out is not None:
        check_folder(args.out, "--out")
    found = Levers.from_design(design)
    print(levers_report(found, args.units))
    if args.out is not None:
        from bowfem.show.plots import png

        data = png(levers_picture(found, system=args.units))
        path = make_folder(args.out, "--out") / "levers.png"
        write_whole(path, data, "--out")
        print(f"\nwrote {printable(str(path))}")
    return 0


def _sheet(args: argparse.Namespace) -> int:
    from bowfem.bow.design import Design
    from bowfem.bow.walk import WalkStop, walk
    from bowfem.bow.weight_band import WeightBand
    from bowfem.errors import ConvergenceError
    from bowfem.show.files import check_folder, make_folder, write_whole
    from bowfem.show.sheet import pages, to_pdf, to_svg
    from bowfem.show.tables import printable

    design = Design.from_file(args.design)
    check_folder(args.out, "--out")
    walked = walk(design)
    if walked.stop is not WalkStop.COMPLETE:
        raise ConvergenceError(f"no sheet for a bow that cannot be drawn: {walked.message}")
    made = pages(walked, WeightBand.from_design(design), args.paper, args.units)
    files = {"sheet.pdf": to_pdf(made, printable(design.name))}
    files |= {f"sheet-{number}.svg": to_svg(page) for number, page in enumerate(made, 1)}
    folder = make_folder(args.out, "--out")
    for name, data in files.items():
        write_whole(folder / name, data, "--out")
    print(f"wrote {printable(str(folder / 'sheet.pdf'))} and {len(made)} SVG pages")
    return 0
