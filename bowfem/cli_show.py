"""Commands that show a walk: look at it, hand it on, report on it on a page."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING

from bowfem.errors import DesignError, InputError

if TYPE_CHECKING:
    from bowfem.bow.walk import Walk

#: Exit statuses, those of the command line.
DONE, STOPPED_EARLY = 0, 3

VIEW = """\
Without --still, --film or --web a window opens: turn the bow with the mouse, walk it with the
slider. Keys: n next quantity, b shape at brace on or off, q close. A close-up beside it has the
wall cut open, at the curl if the bow has one, else where it is worked hardest.

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

EXPORT = """\
Writes state-*.vtu, one for each state, the first unstrung: the wall in hexahedra, fields on their
points in SI units; walk.pvd, which lists them by draw in m to the pivot; walk.csv and
stations.csv, units in their heads; unstrung.stl, a closed surface in mm.
"""

REPORT = """\
The page holds its pictures and needs nothing else; print it from the browser.
"""

Announced = Callable[[str], AbstractContextManager[None]]


def register(commands: argparse._SubParsersAction, announced: Announced) -> None:
    """Add the commands.

    Parameters
    ----------
    commands : argparse sub-parsers
        Where they are added.
    announced : callable
        Gives the context in which a design of some name is walked.
    """
    raw = argparse.RawDescriptionHelpFormatter
    view = commands.add_parser(
        "view",
        help="look at the bow in three dimensions",
        formatter_class=raw,
        description="Show the bow as the tube it is, from unstrung to full draw.",
        epilog=VIEW,
        allow_abbrev=False,
    )
    view.add_argument("--still", metavar="FILE.png", help="write a picture")
    view.add_argument("--film", metavar="FILE.gif", help="write a film, .gif or .mp4")
    view.add_argument("--web", metavar="FILE.html", help="write a page to turn and walk it")
    view.add_argument("--quantity", metavar="NAME", default="yield", help="colours (yield)")
    view.add_argument(
        "--draw",
        metavar="LENGTH",
        help="draw to this length instead of the design's own, in its convention, such as '20 in'",
    )
    view.set_defaults(run=_view)
    export = commands.add_parser(
        "export",
        help="write meshes, tables and a solid for other programs",
        formatter_class=raw,
        description="Write a walk as files that other programs read.",
        epilog=EXPORT,
        allow_abbrev=False,
    )
    export.add_argument("--out", metavar="FOLDER", required=True, help="where to")
    export.set_defaults(run=_export)
    report = commands.add_parser(
        "report",
        help="write a page about the bow, to read or print",
        formatter_class=raw,
        description="Write one page: what was asked, what comes out, pictures, marks, warnings.",
        epilog=REPORT,
        allow_abbrev=False,
    )
    report.add_argument("--out", metavar="FILE.html", required=True, help="where to")
    report.set_defaults(run=_report)
    for command in (view, export, report):
        command.add_argument("design", metavar="DESIGN.toml", help="the design file")
        command.add_argument(
            "--units", choices=("us", "metric"), default="us", help="units shown (default: us)"
        )
        command.set_defaults(announced=announced)


def _walked(args: argparse.Namespace, draw: str | None = None) -> Walk:
    """Walk the design of a command; its faults are told under the names of the arguments."""
    from bowfem.bow.design import Design

    design = Design.from_file(args.design)
    if draw is not None:
        try:
            design = design.with_value("draw.length", draw)
        except DesignError as error:
            for fault in error.faults:
                if fault.key == "draw.length":
                    raise InputError("--draw", fault.value, fault.allowed) from None
            raise
    from bowfem.bow.walk import walk
    from bowfem.show.tables import printable

    try:
        with args.announced(printable(design.name)):
            return walk(design)
    except InputError as error:  # with a string length given, only bracing tells the brace height
        if error.key != "to":
            raise
        key = "draw.length" if draw is None else "--draw"
        raise InputError(key, f"{error.value} to the pivot", error.allowed) from None


def _ended(walk: Walk) -> int:
    """Say on the error stream where a walk stopped early; return the exit status."""
    if not walk.message:
        return DONE
    from bowfem.show.tables import printable

    print(f"bowfem: stopped early: {printable(walk.message)}", file=sys.stderr)
    return STOPPED_EARLY


def _view(args: argparse.Namespace) -> int:
    from bowfem.show import viewing
    from bowfem.show.swept import check_quantity
    from bowfem.show.tables import printable
    from bowfem.show.viewer import check_rendering

    check_quantity(args.quantity, "--quantity")
    jobs = [
        (viewing.still, args.still, "--still"),
        (viewing.film, args.film, "--film"),
        (viewing.web, args.web, "--web"),
    ]
    jobs = [job for job in jobs if job[1] is not None]
    for _, path, key in jobs:
        viewing.check_target(path, key)
    if args.web is None or len(jobs) > 1:  # the page alone needs no renderer
        check_rendering(window=not jobs)
    walk = _walked(args, args.draw)
    for write, path, _ in jobs:
        write(walk, path, quantity=args.quantity, system=args.units)
        print(f"wrote {printable(path)}")
    if not jobs:
        viewing.look(walk, quantity=args.quantity, system=args.units)
    return _ended(walk)


def _export(args: argparse.Namespace) -> int:
    from bowfem.show.export import export
    from bowfem.show.files import check_folder
    from bowfem.show.tables import printable

    check_folder(args.out, "--out")
    walk = _walked(args)
    written = export(walk, args.out, args.units)
    print(f"wrote {len(written)} files into {printable(args.out)}: open walk.pvd, or the tables")
    return _ended(walk)


def _report(args: argparse.Namespace) -> int:
    from bowfem.show.files import check_file, write_whole
    from bowfem.show.report_page import report_page
    from bowfem.show.tables import printable

    check_file(args.out, "--out")
    walk = _walked(args)
    write_whole(args.out, report_page(walk, args.units).encode(), "--out")
    print(f"wrote {printable(args.out)}")
    return _ended(walk)
