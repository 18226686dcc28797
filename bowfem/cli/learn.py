"""The command learn: what a finished bow is made of."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import DONE, STOPPED_EARLY, add_command, working, write_like, write_pictures

LEARN = """\
MEASURED is a TOML file of what was measured on this bow; each table may come several times:

  [[weight]]                 # at a draw, in the design's convention
  draw = "28 in"
  force = "36 lbf"
  error = "0.4 lbf"          # standard deviation; every table may have one
  [[string]]                 # if the design gives the brace height; else [[brace]] height = "..."
  length = "43.4 in"
  [[tip]]                    # groove at brace, from the bow's centre
  limb = "upper"
  toward = "1.2 in"
  along = "21.5 in"
  [[tiller]]                 # from string to belly at the fades, at brace
  upper = "5.1 in"
  lower = "5.0 in"
  [[unbraced]]               # groove of the unstrung bow, from the bow's centre; keys as of tip
  toward = "-0.2 in"
  [[pressed]]                # by calipers, so far from the bow's centre
  at = "21 in"
  thickness = "0.31 in"
  [[sideways]]               # a groove pushed sideways by a spring scale, the grip held
  push = "1 lbf"
  moved = "0.5 in"
  strung = true              # or false

of its memory, both weights 3 s after a draw, the first just after stringing:

  [[kept]]                   # strung for so long between
  for = "8 h"
  before = "37 lbf"
  after = "34 lbf"
  [[follow]]                 # grooves of the unstrung bow, a night after its first full draw,
  toward = "0.6 in"          # from where they were formed

and before anything is heated, on the pipe:

  [[hang]]                   # round offcut on two supports, a weight hung in the middle
  span = "20 in"
  weight = "10 lbf"
  sag = "2.6 mm"
  [[weighed]]                # a length of pipe
  length = "24 in"
  mass = "0.46 lb"
  [[wall]]                   # by calipers, the mean of several places
  thickness = "0.118 in"

Estimated are the stiffness of the plastic (all stresses over those of the law), the wall, and how
much thicker all marks are than written, from what is known beforehand and what was measured; with
[[tiller]] also how much the limbs differ, with [[unbraced]] the set of the handle. Measurements
that fit no such bow are refused: by how unlikely they are, by name, and with the slip that would
explain them. With --weight, the moves that bring this bow to its order. The design that --out
writes is this bow, in the units of the file, with its comments.

exit status: 0 done, 2 bad input, 3 the bow cannot be braced or drawn, or nothing fits
"""


def add(commands: Any) -> None:
    """Add the command."""
    learn = add_command(
        commands,
        "learn",
        run,
        help="learn from a finished bow, and how to correct it",
        description="Estimate stiffness, wall and thickness of a finished bow from what was "
        "measured on it.",
        epilog=LEARN,
    )
    learn.add_argument("design", metavar="DESIGN.toml", help="the bow as it was meant")
    learn.add_argument("measured", metavar="MEASURED.toml", help="what was measured")
    learn.add_argument("--weight", metavar="FORCE", help="weight ordered at full draw")
    learn.add_argument("--out", metavar="NEW.toml", help="write the bow as it is here")
    learn.add_argument("--pictures", metavar="FOLDER", help="write learn.png here")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.design import Design
    from bowfem.files import check_file, check_folder
    from bowfem.orders import measurements_from_file
    from bowfem.units import parse

    design = Design.from_file(args.design)
    measured = measurements_from_file(args.measured, design)
    weight = None if args.weight is None else parse(args.weight, "force", "--weight")
    if args.out is not None:
        check_file(args.out, "--out")
    if args.pictures is not None:
        check_folder(args.pictures, "--pictures")
    from bowfem.orders import REMEMBERED, learn, learn_memory, with_memory
    from bowfem.show import learn_report, memory_report, printable

    of_memory = [each for each in measured if each.kind in REMEMBERED]
    measured = [each for each in measured if each.kind not in REMEMBERED]
    learned, known = None, design
    with working(f"learning from {printable(design.name)}"):
        found = learn(design, measured, weight) if measured else None
        if found is not None and found.plausible:
            known = found.design
        if of_memory and (found is None or found.plausible):
            learned = learn_memory(known, of_memory)
            known = with_memory(known, learned)
    parts = []
    if found is not None:
        parts.append(learn_report(found, measured, weight, args.units))
    if learned is not None:
        parts.append(memory_report(known.name, learned))
    print("\n\n".join(parts))
    if found is not None and not found.plausible:
        return STOPPED_EARLY
    if args.pictures is not None and found is not None:
        from bowfem.show import learned_picture

        picture = learned_picture(found, weight, system=args.units)
        write_pictures(args.pictures, {"learn.png": picture})
    if args.out is not None:
        write_like(args.design, known, args.out)
        print(f"\nwrote {printable(args.out)}")
    return DONE
