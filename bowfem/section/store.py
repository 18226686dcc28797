"""Section tables on disk, beside the compiled kernels: solved once on a machine.

A file's name is a digest of all that its tables depend on: the arguments to the last bit, and the
sources that solve them. So nothing kept can go stale, and what cannot be read is solved anew.
"""

from __future__ import annotations

import hashlib
import io
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields, is_dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels import FOLDER, building

Arrays = dict[str, NDArray[Any]]

#: Files kept at most, some 30 MB; of more, the quarter not used for longest goes.
MOST = 256


@cache
def _sources() -> bytes:
    """Digest what solves the tables."""
    digest = hashlib.sha256(np.__version__.encode())
    package = Path(__file__).parents[1]
    for room in ("_kernels", "section"):
        for source in sorted((package / room).glob("*.py")):
            digest.update(source.read_bytes())
    return digest.digest()


def _spelled(value: object) -> str:
    """Spell an argument out so that two are spelled alike only if they are the same."""
    if is_dataclass(value):
        inside = ",".join(_spelled(getattr(value, each.name)) for each in fields(value))
        return f"{type(value).__module__}.{type(value).__qualname__}({inside})"
    if isinstance(value, np.ndarray):
        return f"array({value.shape},{value.dtype.str},{value.tobytes().hex()})"
    if isinstance(value, tuple | list):
        return f"({','.join(map(_spelled, value))})"
    if isinstance(value, float):
        return float(value).hex()
    if value is None or isinstance(value, str | bool | int | np.generic):
        return repr(value)
    if callable(value) and getattr(value, "__module__", "").startswith("bowfem.section."):
        return f"{value.__module__}.{value.__qualname__}"
    raise TypeError(f"{value!r} has no name of its own")


def kept(what: str, arguments: tuple[object, ...], solve: Callable[[], Arrays]) -> Arrays:
    """Return arrays kept under what they are of, or solve and keep them.

    Parameters
    ----------
    what : str
        Kind of tables.
    arguments : tuple
        All that they depend on, beside the sources: numbers, laws, functions of this room.
        Others, such as a function of the caller's own, are solved and not kept.
    solve : callable
        Makes the arrays, by name.

    Notes
    -----
    A folder that is missing is made; one that cannot be read or written is done without. Files are
    written whole beside their place and moved there, so that two processes cannot spoil one.
    """
    try:
        text = f"{what}:{_spelled(arguments)}"
    except TypeError:
        return solve()
    name = hashlib.sha256(_sources() + text.encode()).hexdigest()[:32]
    file = FOLDER.parent / "tables" / f"{name}.tables"
    try:
        arrays = _read(file)
        with suppress(OSError):
            os.utime(file)
        return arrays
    except (OSError, ValueError):  # missing, or spoilt
        building.begin()  # a walk mostly follows
        arrays = solve()
    with suppress(OSError):
        _keep(file, arrays)
    return arrays


def _read(file: Path) -> Arrays:
    """Read what `_keep` wrote.

    Raises
    ------
    OSError, ValueError
        There is no such file; it is not as it was written.
    """
    content = file.read_bytes()
    digest, data = content[:32], content[32:]
    if hashlib.sha256(data).digest() != digest:
        raise ValueError(f"{file.name} is spoilt")
    with np.load(io.BytesIO(data), allow_pickle=False) as found:
        return {key: found[key] for key in found.files}


def _keep(file: Path, arrays: Arrays) -> None:
    data = io.BytesIO()
    np.savez(data, **arrays)  # pyright: ignore[reportArgumentType] - its stub takes a flag by name
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, draft = tempfile.mkstemp(dir=file.parent, suffix=".draft")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(hashlib.sha256(data.getvalue()).digest() + data.getvalue())
        os.chmod(draft, 0o644)  # whoever may run the package may read it
        os.replace(draft, file)
    except OSError:
        with suppress(OSError):
            os.unlink(draft)
        raise
    every = list(file.parent.glob("*.tables"))
    if len(every) > MOST:
        for old in sorted(every, key=_last_used)[: len(every) - 3 * MOST // 4]:
            with suppress(OSError):
                old.unlink()


def _last_used(file: Path) -> float:
    try:
        return file.stat().st_mtime
    except OSError:  # another process was first
        return 0.0
