"""The command new: a commented design to start from."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from bowfem.cli.common import DONE, add_command
from bowfem.errors import InputError


def add(commands: Any) -> None:
    """Add the command."""
    new = add_command(
        commands,
        "new",
        run,
        help="write a commented design to start from",
        description="Write a design file in which every key is explained.",
        units=False,
    )
    new.add_argument("file", metavar="FILE", help="where to; a file already there is kept")


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.cli.starter import STARTER
    from bowfem.files import check_file, write_whole

    check_file(args.file, "FILE")
    if Path(args.file).exists():
        raise InputError("FILE", ascii(args.file), "a new file; there is one already")
    write_whole(args.file, STARTER.encode(), "FILE")
    print(f"wrote {args.file}; next: bowfem draw {args.file}")
    return DONE
