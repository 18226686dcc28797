"""The command study: many bows made alike."""

from __future__ import annotations

import argparse
from contextlib import suppress
from typing import Any

from bowfem.cli.common import DONE, add_command, working, write_pictures
from bowfem.errors import BowfemError, ConvergenceError, InputError

STUDY = """\
Without --vary: wall and diameter within the standard of a pipe named by its size, the stiffness of
plain rigid PVC as sources differ, marks by 1/32 in (place 1/16 in), cut length and brace or string
by 1/8 in, all evenly. --vary takes any number of the design file by its key (rows count from 1) and
may be given several times:

  --vary "limb.marks.1.thickness=+-0.8 mm"      evenly, about the design's own
  --vary "handle.set=-1 deg..3 deg"             evenly between two
  --vary "material.stiffness=normal 0.1"        normally, with this standard deviation
  --vary pipe.wall=tolerance                    evenly within the standard of the pipe
  --vary "draw.length=26 in..30 in:5"           a grid of 5; then all must be grids

The same seed gives the same bows, however many processes work on them. A bow that cannot be made,
braced or drawn fails by itself, with its reason. Causes are ranked by linear regression on ranks.
--data writes every bow as columns: CSV, or a numpy archive where the name ends in .npz.
--keep adds each batch to a file as it is made. Whatever stops the command, the same one then makes
only what is missing, and comes to the same to the last bit.

exit status: 0 done, 2 bad input, 3 not one bow could be drawn
"""


def add(commands: Any) -> None:
    """Add the command."""
    study = add_command(
        commands,
        "study",
        run,
        help="thousands of bows with the spread of pipe, plastic and workmanship",
        description="Simulate many bows that differ by the spread of pipe, plastic and "
        "workmanship: their weights, how many meet the order, which cause matters most.",
        epilog=STUDY,
    )
    study.add_argument("design", metavar="DESIGN.toml", help="the bow in the middle")
    study.add_argument("--vary", metavar="KEY=SPREAD", action="append", help="let a number vary")
    study.add_argument("--bows", metavar="N", default="1000", help="how many (1000)")
    study.add_argument("--seed", metavar="N", default="0", help="another seed, other bows (0)")
    study.add_argument(
        "--weight", metavar="FORCE", help="weight ordered (default: the design's own)"
    )
    study.add_argument(
        "--within", metavar="SHARE", default="5 %", help="tolerance on the ordered weight (5 %%)"
    )
    study.add_argument("--arrow", metavar="MASS", help="shoot such an arrow with every bow")
    study.add_argument("--workers", metavar="N", help="processes (default: one a core)")
    study.add_argument("--data", metavar="FILE", help="write every bow here, .csv or .npz")
    study.add_argument(
        "--keep",
        metavar="FILE",
        help="keep each bow here as it is made; the same command goes on where it was stopped",
    )
    study.add_argument("--out", metavar="FOLDER", help="write study.png here")


def _count(text: str, name: str, least: int) -> int:
    if not text.isdecimal() or len(text) > 12 or int(text) < least:
        raise InputError(name, ascii(text), f"a whole number, at least {least}")
    return int(text)


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.bow import HEAVIEST_ARROW, LIGHTEST_ARROW
    from bowfem.design import Design
    from bowfem.files import check_file, check_folder, write_whole
    from bowfem.show import printable
    from bowfem.units import parse

    design = Design.from_file(args.design)
    weight = None if args.weight is None else parse(args.weight, "force", "--weight")
    within = parse(args.within, "share", "--within")
    if not 0.0 < within < 1.0 or (weight is not None and weight <= 0.0):
        key, value = (
            ("--within", args.within) if not 0.0 < within < 1.0 else ("--weight", args.weight)
        )
        raise InputError(key, ascii(value), "above 0 and, of a share, below 100 %")
    count, seed = _count(args.bows, "--bows", 1), _count(args.seed, "--seed", 0)
    workers = None if args.workers is None else _count(args.workers, "--workers", 1)
    arrow = None if args.arrow is None else parse(args.arrow, "mass", "--arrow")
    if arrow is not None and not LIGHTEST_ARROW <= arrow <= HEAVIEST_ARROW:
        raise InputError("--arrow", ascii(args.arrow), "between 1 g and 1 kg")
    if args.data is not None:
        check_file(args.data, "--data")
    if args.keep is not None:
        check_file(args.keep, "--keep")
    if args.out is not None:
        check_folder(args.out, "--out")
    from bowfem.cli.progress import Progress
    from bowfem.orders import Plan, Spread, WeightBand, study, usual_spreads
    from bowfem.show import study_file, study_picture, study_report

    spreads = (
        usual_spreads(design)
        if args.vary is None
        else tuple(Spread.from_text(design, text) for text in args.vary)
    )
    with working(f"solving the sections of {printable(design.name)}"):
        plan = Plan(design, spreads, count, seed, arrow)
        found = study(plan, workers=workers, progress=Progress("bows"), keep=args.keep)
    predicted = None
    order = found.middle[0] if weight is None else weight
    band = ((1.0 - within) * order, (1.0 + within) * order) if order > 0.0 else None
    with suppress(BowfemError):  # the design itself may fail where others do not
        predicted = WeightBand.from_design(design)
    print(study_report(found, band, args.units, predicted))
    if args.data is not None:
        write_whole(args.data, study_file(found, args.data, args.units), "--data")
        print(f"\nwrote {printable(args.data)}")
    if args.out is not None:
        write_pictures(args.out, {"study.png": study_picture(found, band, system=args.units)})
    if not found.solved.any():
        raise ConvergenceError("study: not one bow could be drawn; see the reasons above")
    return DONE
