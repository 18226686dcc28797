"""The command view: the bow as a body, in a window, a picture, a film or a web page."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import add_command, drawn_to, exit_status, in_colour, walked, working

VIEW = """\
Without --still, --film or --web a window opens: turn the bow with the mouse, walk it with the
slider. Keys: n next quantity, b shape at brace on or off, f the shape in which the bow would flip
sideways, q close. A close-up beside it has the wall cut open where the bow is worked hardest.

quantities (--quantity NAME):
  yield      strain over the yield strain of its sign
  stress     along the limb, tension positive
  fold       bending over that at which the section folds
  bending    change of curvature from the formed shape
  crosswise  strain of the wall as the faces come together
  pressure   of the string on the belly

The tube is drawn as the pipe pressed to the thickness it has under load, with its sleeves, rods
and strips; wraps, which have no thickness, as bands. The scale is that of the bow's own plastic:
another material may go beyond it, and is grey where the quantity is not known of it.

--web writes one page that a browser shows without anything else: turn the bow, walk it, choose
the quantity, cut it open. Writing it needs no renderer.
"""


def add(commands: Any) -> None:
    """Add the command."""
    view = add_command(
        commands,
        "view",
        run,
        help="look at the bow in three dimensions",
        description="Show the bow as the tube it is, from unstrung to full draw.",
        epilog=VIEW,
    )
    view.add_argument("design", metavar="DESIGN.toml", help="the design file")
    view.add_argument("--still", metavar="FILE.png", help="write a picture")
    view.add_argument("--film", metavar="FILE.gif", help="write a film, .gif or .mp4")
    view.add_argument("--web", metavar="FILE.html", help="write a page to turn and walk it")
    view.add_argument("--quantity", metavar="NAME", default="yield", help="colours (yield)")
    view.add_argument(
        "--draw",
        metavar="LENGTH",
        help="draw to this length instead of the design's own, in its convention, such as '20 in'",
    )


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.design import Design
    from bowfem.findings import Findings
    from bowfem.show import (
        check_quantity,
        check_rendering,
        check_target,
        film,
        first_screen,
        look,
        printable,
        still,
        web,
    )

    check_quantity(args.quantity, "--quantity")
    jobs = [
        (still, args.still, "--still"),
        (film, args.film, "--film"),
        (web, args.web, "--web"),
    ]
    jobs = [job for job in jobs if job[1] is not None]
    for _, path, key in jobs:
        check_target(path, key)
    if args.web is None or len(jobs) > 1:  # the page alone needs no renderer
        check_rendering(window=not jobs)
    design = drawn_to(Design.from_file(args.design), args.draw, "--draw")
    walk = walked(design, "draw.length" if args.draw is None else "--draw")
    findings = Findings.from_walk(walk)
    # what it comes to, before what is to be seen of it
    print(in_colour(first_screen(findings, args.units, eased=None).partition("\ndraws")[0]))
    options = {
        "quantity": args.quantity,
        "system": args.units,
        "sideways": findings.sideways,
    }
    for write, path, _ in jobs:
        with working(f"drawing {printable(path)}", solves=False):
            write(walk, path, **options)
        print(f"wrote {printable(path)}")
    if not jobs:
        look(walk, **options)
    return exit_status(walk)
