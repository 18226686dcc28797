"""What the commands share: exit statuses, walking a design, saying that work goes on, pictures.

Anything slow to import is imported inside the function that needs it.
"""

from __future__ import annotations

import argparse
import os
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from bowfem.errors import BowfemError, DesignError, InputError

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.design import Design
    from bowfem.orders import WeightBand

#: Exit statuses: done; bad input; stopped early or not braced; order out of reach; interrupted.
DONE, BAD_INPUT, STOPPED_EARLY, OUT_OF_REACH, OUTPUT_LOST, INTERRUPTED = 0, 2, 3, 4, 5, 130
#: Units to choose from, those of `bowfem.units`, which takes numpy along.
SYSTEMS = ("us", "metric", "metric-lb")
#: Work that takes longer than this is announced, s.
PATIENCE = 1.5


class UsageError(BowfemError):
    """The command line itself is wrong."""


def add_command(
    commands: Any,
    name: str,
    run: Callable[[argparse.Namespace], int],
    *,
    help: str,
    description: str,
    epilog: str = "",
    units: bool = True,
) -> argparse.ArgumentParser:
    """Add a command to the program's; return its parser, to which it adds its arguments."""
    command = commands.add_parser(
        name,
        help=help,
        description=description,
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    if units:
        command.add_argument(
            "--units",
            choices=SYSTEMS,
            default="us",
            help="units shown (default: us); metric-lb: metric, but weights in pounds",
        )
    command.set_defaults(run=run)
    return command


@contextmanager
def working(what: str, *, solves: bool = True) -> Iterator[None]:
    """Say on a terminal what is being worked on, once it takes long."""
    if not sys.stderr.isatty():
        yield
        return

    def say() -> None:
        first = "; the first run on a computer compiles for half a minute or so" if solves else ""
        print(f"{what}{first} ...", file=sys.stderr, flush=True)

    timer = threading.Timer(PATIENCE, say)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()


def in_colour(text: str) -> str:
    """Colour what a maker must see, on a terminal that can (and unless NO_COLOR is set)."""
    if not sys.stdout.isatty() or os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return text
    rows, warned = [], False
    for number, row in enumerate(text.split("\n")):
        warned = row.startswith("warning") or (warned and row.startswith(" "))
        code = "1" if number == 0 or row.startswith("weight") else "33" if warned else ""
        rows.append(f"\x1b[{code}m{row}\x1b[0m" if code else row)
    return "\n".join(rows)


def drawn_to(design: Design, text: str | None, key: str) -> Design:
    """Copy a design with another draw length; its own checks then say what is possible."""
    if text is None:
        return design
    try:
        return design.with_value("draw.length", text)
    except DesignError as error:
        for fault in error.faults:
            if fault.key == "draw.length":
                raise InputError(key, fault.value, fault.allowed) from None
        raise


def walked(design: Design, draw_key: str = "draw.length") -> Walk:
    """Walk a design; `draw_key` names its draw length in a message."""
    from bowfem.bow import walk
    from bowfem.show import printable

    try:
        with working(f"walking {printable(design.name)}"):
            return walk(design)
    except InputError as error:  # with a string length given, only bracing tells the brace height
        if error.key != "to":
            raise
        raise InputError(draw_key, f"{error.value} to the pivot", error.allowed) from None


def exit_status(walk: Walk) -> int:
    """Say on the error stream where a walk stopped early; return the exit status."""
    if not walk.message:
        return DONE
    from bowfem.show import printable

    print(f"bowfem: stopped early: {printable(walk.message)}", file=sys.stderr)
    return STOPPED_EARLY


def write_pictures(folder: str, pictures: dict[str, Any]) -> None:
    """Write axes as PNG files into a folder, made where missing, and say so."""
    from bowfem.files import make_folder, write_whole
    from bowfem.show import png, printable

    made = {name: png(axes) for name, axes in pictures.items()}
    place = make_folder(folder, "--out")
    for name, data in made.items():
        write_whole(place / name, data, "--out")
    print(f"\nwrote {' and '.join(printable(str(place / name)) for name in made)}")


def band_of(walk: Walk) -> WeightBand | None:
    """Return the band of a bow's weight; None where it has none: stopped early, or at an edge."""
    from bowfem.bow import Ending
    from bowfem.orders import WeightBand

    if walk.ending is not Ending.COMPLETE:
        return None
    try:
        return WeightBand.from_design(walk.design)
    except BowfemError:  # a bow a little off cannot be braced or drawn; this one still is
        return None


def write_like(source: str, design: Design, out: str) -> None:
    """Write a design as its source is written: units, order and comments kept."""
    from bowfem.design import read_text, rewritten, write_text

    write_text(out, rewritten(read_text(source), design))
