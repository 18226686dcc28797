"""The program: its parser, and what is done with errors."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import NoReturn

import bowfem
from bowfem.cli import (
    diary,
    draw,
    export,
    learn,
    levers,
    new,
    pipes,
    report,
    section,
    sheet,
    shoot,
    size,
    study,
    view,
)
from bowfem.cli.common import (
    BAD_INPUT,
    DONE,
    INTERRUPTED,
    OUTPUT_LOST,
    STOPPED_EARLY,
    UsageError,
)
from bowfem.errors import BowfemError, ConvergenceError
from bowfem.processes import interrupt_outside_callbacks

#: The commands, in the order of the help text.
COMMANDS = (
    *(draw, section, view, export, report, shoot, diary, pipes),
    *(size, levers, sheet, study, learn, new),
)

ABOUT = """\
Compute a bow of heated, flattened plastic pipe before any pipe is heated: what it draws from brace
to full draw, where it is worked hardest, how the string runs, how long the string must be.

examples:
  bowfem new mybow.toml                        a commented design to change
  bowfem draw mybow.toml                       weight, worst place, what to change
  bowfem draw mybow.toml --full                every finding, table, hot spots
  bowfem draw mybow.toml --to "26 in"          only so far
  bowfem draw mybow.toml --out pictures        also draw.png and shape.png
  bowfem draw mybow.toml --units metric --json walk.json
  bowfem view mybow.toml                       look at it, from unstrung to full draw
  bowfem report mybow.toml --out bow.html      one page to read or print
  bowfem export mybow.toml --out meshes        for other programs
  bowfem shoot mybow.toml --arrow "400 gr"     how fast it shoots
  bowfem diary mybow.toml                      what hours and weeks do to it
  bowfem section mybow.toml --at "8 in"        what one section bears there at full draw
  bowfem size mybow.toml --weight "35 lbf"     dimensions for an order
  bowfem levers mybow.toml                     what each of your moves does
  bowfem sheet mybow.toml --out print          marks, jig, curls in true size, to print
  bowfem study mybow.toml                      how many of a thousand meet the order, and why not
  bowfem learn mybow.toml measured.toml        what a finished bow tells, and how to correct it
  bowfem pipes                                 pipe sizes a design can name
"""


class _Parser(argparse.ArgumentParser):
    """A parser whose errors are those of the package: one line, no usage in front."""

    def error(self, message: str) -> NoReturn:
        """Raise instead of leaving the program."""
        raise UsageError(f"{message} (see {self.prog} --help)")


def _parser() -> argparse.ArgumentParser:
    from bowfem.show import cautions_text

    parser = _Parser(
        prog="bowfem",
        description=ABOUT,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog=f"{draw.NUMBERS}{draw.NEXT}\n{cautions_text()}",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"bowfem {bowfem.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    for command in COMMANDS:
        command.add(commands)
    return parser


def program() -> NoReturn:
    """Run one command, and leave without tearing down what was imported: that takes a third."""
    import bowfem._kernels

    bowfem._kernels.LEAN = True
    interrupt_outside_callbacks()
    status = main()
    with suppress(OSError, ValueError, AttributeError):  # whoever read it may be gone
        sys.stdout.flush()
    with suppress(OSError, ValueError, AttributeError):
        sys.stderr.flush()
    os._exit(status)


def _silence() -> None:
    """Write what is left to nowhere, so that leaving does not fail on it again."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    argv : sequence of str, optional
        Arguments after the program's name; by default those of the process.

    Returns
    -------
    int
        Exit status: 0 done, 2 bad input, 3 no bracing or stopped early, 4 order out of reach,
        5 output lost, 130 interrupted.
    """
    for stream in (sys.stdout, sys.stderr):
        # a name the terminal cannot show must not end the program
        with suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # pyright: ignore[reportAttributeAccessIssue]
    try:
        args = _parser().parse_args(argv)
        status = args.run(args)
        if sys.stdout is not None:  # closed from the start
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
        _silence()
        return DONE
    except OSError as error:
        _silence()
        print(f"bowfem: the output could not be written: {error.strerror}", file=sys.stderr)
        return OUTPUT_LOST
    except KeyboardInterrupt:
        print("bowfem: interrupted", file=sys.stderr)
        return INTERRUPTED
