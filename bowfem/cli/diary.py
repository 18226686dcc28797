"""The command diary: what time does to a bow."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import DONE, add_command, walked, working, write_pictures

DIARY = """\
What is done with the bow is in the design, in order; without it, a day: strung for an hour, thirty
draws of 3 s a minute apart, strung for half an hour, unstrung for the night.

  [[diary]]
  what = "strung"           # "strung", "drawn" (held so long, so many times) or "rest"
  for = "8 h"
  [[diary]]
  what = "drawn"
  for = "3 s"
  times = 30
  every = "1 min"           # from draw to draw, strung between
  temperature = "30 C"      # of the limbs meanwhile

More designs are ranked by how hard they are worked.

exit status: 0 done, 2 bad input, 3 the bow is not drawn in full
"""


def add(commands: Any) -> None:
    """Add the command."""
    diary = add_command(
        commands,
        "diary",
        run,
        help="what holding, being kept strung and rest do to the bow",
        description="Go through hours and weeks with a bow: weight, tension, set of the tips.",
        epilog=DIARY,
    )
    diary.add_argument("design", metavar="DESIGN.toml", help="the design file")
    diary.add_argument("others", metavar="OTHER.toml", nargs="*", help="designs to rank it among")
    diary.add_argument("--json", metavar="FILE", help="write the figures here; keys carry units")
    diary.add_argument("--out", metavar="FOLDER", help="write diary.png here")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.design import Design
    from bowfem.files import check_file, check_folder, write_whole
    from bowfem.findings import Diary, ranked
    from bowfem.show import diary_json, diary_picture, diary_report, printable

    if args.json is not None:
        check_file(args.json, "--json")
    if args.out is not None:
        check_folder(args.out, "--out")
    walk = walked(Design.from_file(args.design))
    others = [walked(Design.from_file(name)) for name in args.others]
    with working(f"going through the diary of {printable(walk.design.name)}"):
        found = Diary.from_walk(walk)
    print(diary_report(found, args.units, ranked([walk, *others])))
    if args.json is not None:
        write_whole(args.json, diary_json(found, args.units), "--json")
        print(f"\nwrote {printable(args.json)}")
    if args.out is not None:
        write_pictures(args.out, {"diary.png": diary_picture(found, system=args.units)})
    return DONE
