"""Write the index of public names, bowfem/INDEX.md: ``python -m benchmarks.names``."""

from __future__ import annotations

import inspect
from importlib import import_module
from pathlib import Path
from typing import Any

FILE = Path(__file__).parents[1] / "bowfem" / "INDEX.md"
#: Rooms, from the ground up.
ROOMS = ("rod", "section", "design", "bow", "findings", "orders", "show")


def index() -> str:
    """Return every public name with the first sentence of its docstring, as Markdown."""
    lines = [
        "# Public names of bowfem",
        "",
        "Made from the docstrings by `python -m benchmarks.names`; `help(name)` says the rest.",
    ]
    for room in ROOMS:
        module = import_module(f"bowfem.{room}")
        head = ["| name | what it is |", "|---|---|"]
        lines += ["", f"## bowfem.{room}", "", _sentence(module), "", *head]
        for name in module.__all__:
            value = getattr(module, name)
            if inspect.isclass(value) or inspect.isroutine(value):
                call = "" if inspect.isclass(value) else "()"
                lines.append(f"| `{name}{call}` | {_sentence(value)} |")
            else:
                lines.append(f"| `{name}` | constant, {type(value).__name__} |")
    return "\n".join(lines) + "\n"


def _sentence(value: Any) -> str:
    """Return the first paragraph of a docstring in one line."""
    first = (inspect.getdoc(value) or "").partition("\n\n")[0]
    return " ".join(first.split()).replace("|", "\\|")


if __name__ == "__main__":
    FILE.write_text(index(), encoding="utf-8")
    print(f"wrote {FILE.name}")
