"""The command pipes: the published sizes a design can name."""

from __future__ import annotations

import argparse
from typing import Any

from bowfem.cli.common import DONE, add_command


def add(commands: Any) -> None:
    """Add the command."""
    add_command(
        commands,
        "pipes",
        run,
        help="list the published pipe sizes",
        description="List the pipe sizes a design can name, with standard and status.",
    )


def run(args: argparse.Namespace) -> int:
    """Run the command."""
    from bowfem.show import pipe_table

    print(pipe_table(args.units))
    return DONE
