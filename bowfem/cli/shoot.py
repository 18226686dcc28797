"""The command shoot: how fast an arrow leaves the bow."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from bowfem.cli.common import (
    DONE,
    STOPPED_EARLY,
    add_command,
    band_of,
    walked,
    working,
    write_pictures,
)
from bowfem.errors import DesignError, InputError

SHOOT = """\
The arrow's mass is in grains or grams, as "400 gr" or "26 g"; by default 9 grains a pound of the
bow's weight, amid the 8 to 10 that the trade advises; [arrow] and [shot] in the design say more
(`bowfem new` lists the keys). The table shoots ten arrows of 5 to 20 grains
a pound. The virtual mass is what would have to fly with the arrow for nothing to be lost.

exit status: 0 done, 2 bad input, 3 the bow is not drawn in full, or flips sideways
"""


def add(commands: Any) -> None:
    """Add the command."""
    shoot = add_command(
        commands,
        "shoot",
        run,
        help="how fast an arrow leaves the bow, and where the rest of the work stays",
        description="Let an arrow go from full draw, and arrows from light to heavy.",
        epilog=SHOOT,
    )
    shoot.add_argument("design", metavar="DESIGN.toml", help="the design file")
    shoot.add_argument("--arrow", metavar="MASS", help="its mass (9 grains a pound)")
    shoot.add_argument("--hold", metavar="TIME", help="how long the draw is held (3 s)")
    shoot.add_argument("--json", metavar="FILE", help="write the figures here; keys carry units")
    shoot.add_argument("--csv", metavar="FILE", help="write every instant here")
    shoot.add_argument("--meshes", metavar="FOLDER", help="write instants for other programs here")
    shoot.add_argument("--film", metavar="FILE.gif", help="write a slow film, .gif or .mp4")
    shoot.add_argument("--web", metavar="FILE.html", help="write a page to turn and step it")
    shoot.add_argument("--out", metavar="FOLDER", help="write pictures here")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.bow import shot_as_walk
    from bowfem.design import Design
    from bowfem.files import check_file, check_folder, write_whole
    from bowfem.findings import FLIPS, Shots, SideStability
    from bowfem.show import (
        check_rendering,
        check_target,
        energy_in_time,
        export,
        film,
        printable,
        shapes_in_time,
        shot_csv,
        shot_json,
        shot_report,
        speed_over_mass,
        tension_in_time,
        web,
    )
    from bowfem.units import parse

    arrow = None if args.arrow is None else parse(args.arrow, "mass", "--arrow")
    design = Design.from_file(args.design)
    if args.hold is not None:
        hold = parse(args.hold, "duration", "--hold")
        try:
            design = design.with_value("shot.hold", hold)
        except DesignError as error:
            fault = error.faults[0]
            raise InputError("--hold", fault.value, fault.allowed) from None
    jobs = [(film, args.film, "--film"), (web, args.web, "--web")]
    jobs = [job for job in jobs if job[1] is not None]
    for _, path, key in jobs:
        check_target(path, key)
    if args.film is not None:
        check_rendering(window=False)
    for name, key in ((args.json, "--json"), (args.csv, "--csv")):
        if name is not None:
            check_file(name, key)
    if args.meshes is not None:
        check_folder(args.meshes, "--meshes")
    if args.out is not None:
        check_folder(args.out, "--out")
    walk = walked(design)
    stable = SideStability.from_walk(walk)
    if stable is not None and stable.flips:
        print(f"bowfem: {printable(design.name)}: no shot: {FLIPS}", file=sys.stderr)
        return STOPPED_EARLY
    with working(f"shooting {printable(design.name)}"):
        band = band_of(walk)
        shots = Shots.from_walk(walk, arrow, None if band is None else (band.low, band.high))
    print(shot_report(shots, args.units))
    if args.json is not None:
        write_whole(args.json, shot_json(shots, args.units), "--json")
        print(f"\nwrote {printable(args.json)}")
    if args.csv is not None:
        write_whole(args.csv, shot_csv(shots, args.units), "--csv")
        print(f"\nwrote {printable(args.csv)}")
    if args.meshes is not None:
        written = export(shot_as_walk(shots.shot), args.meshes, args.units)
        print(f"wrote {len(written)} files into {printable(args.meshes)}: open walk.pvd")
    if args.out is not None:
        pictures = {
            "shot.png": energy_in_time(shots, system=args.units),
            "tension.png": tension_in_time(shots, system=args.units),
            "limbs.png": shapes_in_time(shots, system=args.units),
            "arrows.png": speed_over_mass(shots, system=args.units),
        }
        write_pictures(args.out, pictures)
    for write, path, _ in jobs:
        write(shot_as_walk(shots.shot), path, system=args.units)
        print(f"wrote {printable(path)}")
    return DONE
