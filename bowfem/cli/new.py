"""The command new: a commented design to start from, sized for an order where one is given."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from bowfem.cli.common import DONE, OUT_OF_REACH, add_command, band_of, working
from bowfem.errors import DesignError, InputError

#: Options by the keys of the design that they fill in.
OPTIONS = {"pipe.size": "--pipe", "pipe.cut_length": "--cut", "draw.length": "--draw"}

NEW = """\
Without --weight the file holds a bow to change. With it, the bow is sized for the order, and the
file says so:

  bowfem new mybow.toml --weight "35 lbf" --draw "28 in"
  bowfem new mybow.toml --kind tips --weight "40 lbf" --pipe "1 in Sch 40"
  bowfem new kid.toml --weight "12 lbf" --draw "20 in" --cut "42 in"

Kinds: straight; tips, the ends turned edge-on and set forward; curls, the ends bent forward. Left
out, the pipe is the thinnest published size (ASTM D1785) that bears the order, and the cut length
what strains it least.

exit status: 0 done, 2 bad input, 4 no such bow was found: the nearest one is written
"""


def add(commands: Any) -> None:
    """Add the command."""
    new = add_command(
        commands,
        "new",
        run,
        help="write a commented design to start from, sized for an order if you give one",
        description="Write a design file in which every key is explained.",
        epilog=NEW,
    )
    new.add_argument("file", metavar="FILE", help="where to; a file already there is kept")
    kinds = ("straight", "tips", "curls")
    new.add_argument("--kind", choices=kinds, default="straight", help="what bow (straight)")
    new.add_argument("--weight", metavar="FORCE", help="weight ordered, such as '35 lbf'")
    new.add_argument(
        "--draw", metavar="LENGTH", default="28 in", help="AMO draw length of it (28 in)"
    )
    new.add_argument("--pipe", metavar="SIZE", help="pipe size, one of bowfem pipes")
    new.add_argument("--cut", metavar="LENGTH", help="length of the pipe")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.cli.starter import starter
    from bowfem.files import check_file, write_whole

    check_file(args.file, "FILE")
    if Path(args.file).exists():
        raise InputError("FILE", ascii(args.file), "a new file; there is one already")
    if args.weight is None:
        for key in ("pipe", "cut"):
            if getattr(args, key) is not None:
                raise InputError(f"--{key}", getattr(args, key), "given with --weight")
        write_whole(args.file, starter(args.kind).encode(), "FILE")
        print(f"wrote {args.file}; next: bowfem draw {args.file}")
        return DONE
    return _order(args)


def _order(args: argparse.Namespace) -> int:
    from bowfem.cli.ordered import ordered
    from bowfem.cli.starter import starter
    from bowfem.design import AMO_ALLOWANCE, rewritten
    from bowfem.files import write_whole
    from bowfem.show import band_text, wrapped
    from bowfem.units import parse, show

    weight = parse(args.weight, "force", "--weight")
    draw = parse(args.draw, "length", "--draw") - AMO_ALLOWANCE
    cut = None if args.cut is None else parse(args.cut, "length", "--cut")
    if not weight > 0.0:
        raise InputError("--weight", args.weight, "above 0")
    try:
        with working(f"sizing a bow of {args.weight}"):
            found, met = ordered(args.kind, weight, draw, args.pipe, cut)
            band = band_of(found.walk)
    except DesignError as error:
        for fault in error.faults:
            if fault.key in OPTIONS:
                raise InputError(OPTIONS[fault.key], fault.value, fault.allowed) from None
        raise
    write_whole(args.file, rewritten(starter(args.kind), found.design).encode(), "FILE")
    design = found.design
    drawn = show(float(found.walk.force[-1]), "force", args.units, 3)
    length = show(design.pipe_choice.cut_length, "length", args.units)
    worst = 100.0 * float(found.walk.yield_share[-1])
    size = design.pipe_choice.size
    print(f"{size}, cut {length}: {drawn} at {args.draw} AMO, {worst:.0f} % of yield")
    if band is not None:
        print(wrapped(band_text(band, args.units)))
    if not met:
        print("not as ordered: another pipe, draw or kind may bear it (bowfem size says why)")
    print(f"wrote {args.file}; next: bowfem draw {args.file}")
    return DONE if met else OUT_OF_REACH
