"""Compile the kernels in two processes side by side, where the machine has not kept them yet.

One function compiles after the other within a process, for half a minute in all. Most of it lies in
a few pieces that do not need each other, and a piece compiled by one process is taken from the
cache by the next.
"""

# numba publishes no types:
# pyright: reportAttributeAccessIssue=false, reportPrivateImportUsage=false

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from bowfem._kernels import FOLDER
from bowfem.processes import leave_with

#: Names of pieces: what the second process compiles, and what the first one meanwhile, which mostly
#: has section tables to solve as well.
SECOND = (
    *("renew", "load_state", "save_state", "report", "new_work", "new_mesh"),
    *("share_model", "share_loads", "share_string"),
)
FIRST = ("assemble", "correct")

_second: subprocess.Popen[bytes] | None = None
_begun = False


def begin() -> None:
    """Set the second process going where nothing has been kept yet; cheap when called again."""
    global _second, _begun
    if _begun:
        return
    _begun = True
    import numba

    if numba.config.DISABLE_JIT or list(FOLDER.glob("*/path.walk-*.nbi")):
        return
    if not Path(sys.executable or "").name.startswith("python"):  # within another program
        return
    try:
        FOLDER.mkdir(parents=True, exist_ok=True)
        words = f"from {__name__} import beside; beside({os.getpid()})"
        command = [sys.executable, "-c", words]
        quiet = subprocess.DEVNULL
        _second = subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet)
    except OSError:  # no place to keep anything: each process compiles all of it
        return


def finish() -> None:
    """Compile what the second process does not, and wait for it; nothing where all is kept."""
    global _second
    begin()
    if _second is None:
        return
    second, _second = _second, None
    build(FIRST)
    second.wait()


def beside(parent: int) -> None:
    """Compile the second process's pieces, as long as the first one is there."""
    leave_with(parent)
    build(SECOND)


def build(names: tuple[str, ...]) -> None:
    """Compile some pieces into the cache."""
    from numba import types

    from bowfem._kernels import assembly, newton, records, solve, state
    from bowfem._kernels.compiled import KINDS

    def array(axes: int) -> types.Array:
        return types.Array(types.float64, axes, "C")

    def given(record: type, shared: types.StructRef, **other: types.Type) -> types.NamedTuple:
        """Return the type of what callers give for a record."""
        kinds = dict(shared._fields) | other
        return types.NamedTuple([kinds[name] for name in record._fields], record)

    model, loads, string, mesh, work = (
        KINDS[name] for name in ("ModelRef", "LoadsRef", "StringRef", "Mesh", "Work")
    )
    whole, number, yes = types.int64, types.float64, types.boolean
    pieces = {
        "renew": (newton.renew, (model, loads, string, mesh, mesh, mesh, work, array(1), whole)),
        "assemble": (assembly.assemble, (model, loads, string, mesh, work, array(1), array(1))),
        "correct": (solve.correct, (mesh, work, whole, yes, array(2), number, number)),
        "load_state": (state.load_state, (model, mesh, array(1))),
        "save_state": (state.save_state, (mesh, work, array(1), array(1))),
        "report": (
            state.report,
            (model, loads, string, mesh, work, array(1), array(3), array(1), array(2)),
        ),
        "new_mesh": (records.new_mesh, (whole,)),
        "new_work": (records.new_work, (array(2),)),
        "share_model": (records.share_model, (given(records.Model, model),)),
        "share_loads": (
            records.share_loads,
            (given(records.Loads, loads, fixed=types.Array(types.uint8, 2, "C"), spread=yes),),
        ),
        "share_string": (
            records.share_string,
            (given(records.String, string, present=yes, on_surface=yes),),
        ),
    }
    for name in names:
        function, signature = pieces[name]
        function.compile(signature)
