"""The command line. Anything slow to import is imported by the command that needs it."""

from __future__ import annotations

import argparse
import os
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import bowfem
from bowfem import cli_show
from bowfem.errors import BowfemError, ConvergenceError, DesignError, InputError
from bowfem.show import learn_commands, order_commands, study_commands
from bowfem.show.cautions import cautions_text

if TYPE_CHECKING:
    from bowfem.bow.design import Design

#: Exit statuses.
DONE, BAD_INPUT, STOPPED_EARLY, INTERRUPTED = 0, 2, 3, 130
#: A walk that takes longer than this is announced, s.
PATIENCE = 1.5

ABOUT = """\
Compute a bow of heated, flattened plastic pipe before any pipe is heated: what it draws from brace
to full draw, where it is worked hardest, how the string runs, how long the string must be.

examples:
  bowfem new mybow.toml                        a commented design to change
  bowfem draw mybow.toml                       table, summary, hot spots
  bowfem draw mybow.toml --to "26 in"          only so far
  bowfem draw mybow.toml --out pictures        also draw.png and shape.png
  bowfem draw mybow.toml --units metric --json walk.json
  bowfem view mybow.toml                       look at it, from unstrung to full draw
  bowfem report mybow.toml --out bow.html      one page to read or print
  bowfem export mybow.toml --out meshes        for other programs
  bowfem section mybow.toml --at "8 in"        what one section bears there at full draw
  bowfem size mybow.toml --weight "35 lbf"     dimensions for an order
  bowfem levers mybow.toml                     what each of your moves does
  bowfem sheet mybow.toml --out print          marks, jig, curls in true size, to print
  bowfem study mybow.toml                      how many of a thousand meet the order, and why not
  bowfem learn mybow.toml measured.toml        what a finished bow tells, and how to correct it
  bowfem pipes                                 pipe sizes a design can name
"""

NUMBERS = """\
what the numbers mean:
  draw      draw length in the design's own convention, which is always named:
            "amo" (nock point to grip pivot plus 1.75 in) or "pivot"
  weight    force on the fingers at that draw
  tension   force in the string
  energy    stored since brace; over weight x stroke it is 0.5 for a straight draw curve, and
            the more the better the bow stores at its weight
  stack     the steepest rise of weight near full draw: how hard the last inch comes
  of yield  largest strain over the yield strain; from 100 % on the limb takes a set

exit status:
  0 done, 2 bad input (one message), 3 the bow cannot be braced or the walk stopped before the
  draw asked for (what was reached is printed, with where and why), 4 an order out of reach
"""

DRAW = """\
DESIGN is a TOML file. Groups: [pipe] size and cut length; [handle]; [limb] marks (distance from
the bow's centre and pressed thickness), bends, tip, sleeves, overlays; [lower] the lower limb where
it is another; [nock]; [string] strands and brace height or length; [draw] length and its measure;
[material] if not plain rigid PVC; [limits]. Every quantity carries its unit. A wrong file is
refused with all its faults listed by key. `bowfem new FILE` writes one in which every key is
explained. Example designs come with the source, in examples/designs: wagtail.toml (straight),
dunlin.toml (stiff tips), curlew.toml (curls), lapwing.toml (two unlike limbs).

"""

SECTION = """\
Two ways to name it:
  bowfem section mybow.toml --at "8 in"                     as it stands at full draw
  bowfem section --pipe "3/4 in Sch 40" --thickness "0.5 in" --strain "3 %"

"lost by flattening" is what the moment falls short of a section that kept its outline; the surface
strain is that of such a section. "crosswise" is the wall bending round the section as the faces
come together. A section folds where its moment peaks.
"""

NEXT = """
next step: change one dimension (cut length, a mark's thickness), draw again and compare; then
measure your own pipe and material, and put them in the design.
"""


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are those of the package: one line, no usage in front."""

    def error(self, message: str) -> NoReturn:
        """Raise instead of leaving the program."""
        raise _UsageError(f"{message} (see {self.prog} --help)")


class _UsageError(BowfemError):
    """The command line itself is wrong."""


def _parser() -> argparse.ArgumentParser:
    raw = argparse.RawDescriptionHelpFormatter
    parser = _Parser(
        prog="bowfem",
        description=ABOUT,
        formatter_class=raw,
        epilog=f"{NUMBERS}{NEXT}\n{cautions_text()}",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"bowfem {bowfem.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    draw = commands.add_parser(
        "draw",
        help="walk a design from brace to full draw",
        formatter_class=raw,
        description="Walk a design from brace to full draw and report on it.",
        epilog=f"{DRAW}{NUMBERS}{NEXT}\n{cautions_text()}",
        allow_abbrev=False,
    )
    draw.add_argument("design", metavar="DESIGN.toml", help="the design file")
    draw.add_argument(
        "--to",
        metavar="LENGTH",
        help="draw to this length instead of the design's own, in its convention, such as '26 in'",
    )
    draw.add_argument("--json", metavar="FILE", help="write every state here; keys carry units")
    draw.add_argument("--out", metavar="FOLDER", help="write draw.png and shape.png here")
    draw.set_defaults(run=_draw)

    section = commands.add_parser(
        "section",
        help="one section: stiffness, flattening, fold, stress in its wall",
        formatter_class=raw,
        description="Bend one section of pressed pipe and look into its wall.",
        epilog=SECTION,
        allow_abbrev=False,
    )
    section.add_argument(
        "design", metavar="DESIGN.toml", nargs="?", help="a design; show it at full draw"
    )
    section.add_argument("--at", metavar="LENGTH", help="its station, from the bow's centre")
    section.add_argument("--pipe", metavar="SIZE", help="instead: a pipe, by its published size")
    section.add_argument("--thickness", metavar="LENGTH", help="pressed to this, outside")
    section.add_argument("--edge-on", action="store_true", help="standing on its edge")
    section.add_argument(
        "--strain", metavar="SHARE", default="2 %", help="bent to this at the surface (2 %%)"
    )
    section.add_argument("--out", metavar="FOLDER", help="write section.png here")
    section.set_defaults(run=_section)

    cli_show.register(commands, _announced)

    pipes = commands.add_parser(
        "pipes",
        help="list the published pipe sizes",
        allow_abbrev=False,
        description="List the pipe sizes a design can name, with standard and status.",
    )
    pipes.set_defaults(run=_pipes)
    more = (
        each
        for module in (order_commands, study_commands, learn_commands)
        for each in module.add_commands(commands)
    )
    for command in (draw, section, pipes, *more):
        command.add_argument(
            "--units", choices=("us", "metric"), default="us", help="units shown (default: us)"
        )

    new = commands.add_parser(
        "new",
        help="write a commented design to start from",
        allow_abbrev=False,
        description="Write a design file in which every key is explained.",
    )
    new.add_argument("file", metavar="FILE", help="where to; a file already there is kept")
    new.set_defaults(run=_new)
    return parser


@contextmanager
def _announced(name: str) -> Iterator[None]:
    """Say on a terminal what is going on, once it takes long."""
    if not sys.stderr.isatty():
        yield
        return

    def say() -> None:
        print(
            f"walking {name}; the first walk on a computer compiles for a minute or so ...",
            file=sys.stderr,
            flush=True,
        )

    timer = threading.Timer(PATIENCE, say)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def _draw(args: argparse.Namespace) -> int:
    from bowfem.bow.design import Design

    design = Design.from_file(args.design)
    if args.to is not None:
        design = _drawn_to(design, args.to)

    from bowfem.show.files import check_file, check_folder, make_folder, write_whole

    if args.json is not None:
        check_file(args.json, "--json")
    if args.out is not None:
        check_folder(args.out, "--out")

    from bowfem.bow.walk import WalkStop, walk
    from bowfem.show.tables import printable, report

    try:
        with _announced(printable(design.name)):
            walked = walk(design)
    except InputError as error:  # with a string length given, only bracing tells the brace height
        if error.key != "to":
            raise
        key = "draw.length" if args.to is None else "--to"
        raise InputError(key, f"{error.value} to the pivot", error.allowed) from None
    print(report(walked, args.units))
    if args.json is not None:
        from bowfem.show.record import to_json

        write_whole(args.json, to_json(walked, args.units), "--json")
        print(f"\nwrote {printable(args.json)}")
    if args.out is not None:
        from bowfem.show.plots import draw_curve, png, shapes

        pictures = {
            "draw.png": png(draw_curve(walked, system=args.units)),
            "shape.png": png(shapes(walked, system=args.units)),
        }
        folder = make_folder(args.out, "--out")
        for name, data in pictures.items():
            write_whole(folder / name, data, "--out")
        print(f"\nwrote {' and '.join(printable(str(folder / name)) for name in pictures)}")
    if walked.stop is WalkStop.COMPLETE:
        return DONE
    print(f"bowfem: stopped early: {printable(walked.message)}", file=sys.stderr)
    return STOPPED_EARLY


def _drawn_to(design: Design, text: str) -> Design:
    """Copy the design with another draw length; its own checks then say what is possible."""
    try:
        return design.with_value("draw.length", text)
    except DesignError as error:
        for fault in error.faults:
            if fault.key == "draw.length":
                raise InputError("--to", fault.value, fault.allowed) from None
        raise


def _section(args: argparse.Namespace) -> int:
    from bowfem.bow.section_state import SectionState
    from bowfem.show.files import check_folder, make_folder, write_whole
    from bowfem.show.section_report import section_report
    from bowfem.show.tables import printable
    from bowfem.units import parse

    if args.out is not None:
        check_folder(args.out, "--out")
    by_design, by_pipe = args.design is not None, args.pipe is not None
    if (
        by_design == by_pipe
        or by_design != (args.at is not None)
        or (by_pipe != (args.thickness is not None))
    ):
        raise _UsageError("section: give DESIGN.toml with --at, or --pipe with --thickness")
    try:
        if by_pipe:
            from bowfem.section import RIGID_PVC, Pipe

            state = SectionState.from_pipe(
                Pipe.from_size(args.pipe),
                parse(args.thickness, "length", "--thickness"),
                RIGID_PVC,
                parse(args.strain, "share", "--strain"),
                edge_on=args.edge_on,
            )
        else:
            from bowfem.bow.design import Design
            from bowfem.bow.walk import walk

            design, at = Design.from_file(args.design), parse(args.at, "length", "--at")
            with _announced(printable(design.name)):
                state = SectionState.from_walk(walk(design), at)
    except InputError as error:  # the option, as it was written, for the library's own name
        named = {"s": "at", "strain": "strain", "thickness": "thickness"}.get(error.key)
        if named is None:
            raise
        raise InputError(f"--{named}", getattr(args, named), error.allowed) from None
    print(section_report(state, args.units))
    if args.out is not None:
        from bowfem.show.plots import png
        from bowfem.show.section_plot import section_picture

        data = png(section_picture(state, system=args.units))
        path = make_folder(args.out, "--out") / "section.png"
        write_whole(path, data, "--out")
        print(f"\nwrote {printable(str(path))}")
    return DONE


def _pipes(args: argparse.Namespace) -> int:
    from bowfem.show.tables import pipe_table

    print(pipe_table(args.units))
    return DONE


def _new(args: argparse.Namespace) -> int:
    from bowfem.show.files import check_file, write_whole
    from bowfem.show.starter import STARTER

    check_file(args.file, "FILE")
    if Path(args.file).exists():
        raise InputError("FILE", ascii(args.file), "a new file; there is one already")
    write_whole(args.file, STARTER.encode(), "FILE")
    print(f"wrote {args.file}; next: bowfem draw {args.file}")
    return DONE


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments after the program's name; by default those of the process.

    Returns
    -------
    int
        Exit status: 0 done, 2 bad input, 3 no bracing or stopped early, 130 interrupted.
    """
    for stream in (sys.stdout, sys.stderr):
        # a name the terminal cannot show must not end the program
        with suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # pyright: ignore[reportAttributeAccessIssue]
    try:
        args = _parser().parse_args(argv)
        status = args.run(args)
        sys.stdout.flush()
        return status
    except SystemExit as stop:  # --help and --version
        return int(stop.code or DONE)
    except ConvergenceError as error:
        print(f"bowfem: {error}", file=sys.stderr)
        return STOPPED_EARLY
    except BowfemError as error:
        print(f"bowfem: {error}", file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:  # the reader has seen enough, as `| head` does
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except KeyboardInterrupt:
        print("bowfem: interrupted", file=sys.stderr)
        return INTERRUPTED
