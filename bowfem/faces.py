"""The face of a room: its public names, each imported from its module when it is first used.

A room writes its names once, in the ``__init__.pyi`` beside its ``__init__.py``: the imports that
type checkers read are followed at run time too. So ``import bowfem`` loads nothing else, and a
command loads only what it needs.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

Face = tuple[Callable[[str], Any], Callable[[], list[str]], list[str]]


def face(room: str, file: str) -> Face:
    """Return ``__getattr__``, ``__dir__`` and ``__all__`` of a room (PEP 562).

    Parameters
    ----------
    room : str
        The ``__name__`` of the package.
    file : str
        Its ``__file__``; the names are read from the ``.pyi`` beside it.

    Raises
    ------
    AttributeError
        On use, for a name that the room does not have.
    """
    stub = ast.parse(Path(file).with_suffix(".pyi").read_text(encoding="utf-8"))
    homes = {
        alias.name: node.module
        for node in stub.body
        if isinstance(node, ast.ImportFrom) and node.module
        for alias in node.names
    }

    def get(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        home = homes[name]
        # `from package import module` names a room; all else stands in a module
        value = (
            import_module(f"{home}.{name}") if home == room else getattr(import_module(home), name)
        )
        setattr(sys.modules[room], name, value)
        return value

    return get, lambda: sorted({*vars(sys.modules[room]), *homes}), sorted(homes)
