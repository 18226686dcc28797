"""The command size: dimensions for an ordered weight."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from bowfem.cli.common import (
    DONE,
    OUT_OF_REACH,
    add_command,
    band_of,
    drawn_to,
    working,
    write_like,
)
from bowfem.errors import InputError

if TYPE_CHECKING:
    from bowfem.design import Design

SIZE = """\
Without --free the thickness at the marks is free. --free takes any number of the design file by its
key (rows count from 1) and may be given several times:

  bowfem size mybow.toml --weight "35 lbf" --at "28 in" --out sized.toml
  bowfem size mybow.toml --weight "35 lbf" --free "pipe.cut_length=46 in..56 in" \\
                         --free "limb.marks.1.thickness=0.5 in..0.9 in"

With the cut length free, marks that are not free themselves go with it. Where the given bow does
not lead to the order, others spread over the ranges are tried. With more freedom than the weight
takes up, the bow with the least peak strain is found. Limits are the margins below, limits.longest
of the design, the ranges of --free, and a thickness that does not grow outward. The report lists
the active limits, and where the order is out of reach, what freeing one more number would bring. A
new design is written in the units of the old one, with its comments.

exit status: 0 order met, 2 bad input, 3 no bow tried can be braced and drawn, 4 order out of reach:
the nearest bow found is reported, and written
"""


def add(commands: Any) -> None:
    """Add the command."""
    size = add_command(
        commands,
        "size",
        run,
        help="find dimensions for an ordered weight",
        description="Change a design so that it draws an ordered weight, strained as little "
        "as can be.",
        epilog=SIZE,
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
    size.add_argument(
        "--sideways",
        metavar="TIMES",
        default="1.2",
        help="least times the string's pull at brace that rolls over a tip turned edge-on (1.2)",
    )
    size.add_argument("--out", metavar="NEW.toml", help="write the design found here")


def _range(design: Design, text: str) -> tuple[str, tuple[float, float]]:
    """Read ``KEY=LOW..HIGH``."""
    from bowfem.design import number_of, read_number

    key, equals, bounds = text.partition("=")
    key, ends = key.strip(), bounds.split("..")
    if not equals or len(ends) != 2:
        allowed = "KEY=LOW..HIGH, as in 'pipe.cut_length=46 in..56 in'"
        raise InputError("--free", ascii(text), allowed)
    number_of(design, key)
    low, high = (read_number(design, key, end.strip(), f"--free {key}") for end in ends)
    return key, (low, high)


def _times(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError("--sideways", ascii(text), "a number, as in 1.2") from None


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.design import Design
    from bowfem.files import check_file
    from bowfem.units import parse

    design = drawn_to(Design.from_file(args.design), args.at, "--at")
    weight = parse(args.weight, "force", "--weight")
    if args.out is not None:
        check_file(args.out, "--out")
    from bowfem.findings import Findings
    from bowfem.orders import Margins, size
    from bowfem.show import printable, size_report

    free = None if args.free is None else dict(_range(design, text) for text in args.free)
    margins = Margins(
        parse(args.yield_share, "share", "--yield-share"),
        parse(args.fold_share, "share", "--fold-share"),
        parse(args.clearance, "length", "--clearance"),
        _times(args.sideways),
    )
    with working(f"sizing {printable(design.name)}"):
        found = size(design, weight, free, margins)
    print(
        size_report(found, Findings.from_walk(found.walk), margins, args.units, band_of(found.walk))
    )
    if args.out is not None:
        write_like(args.design, found.design, args.out)
        print(f"\nwrote {printable(args.out)}")
    return DONE if found.met else OUT_OF_REACH
