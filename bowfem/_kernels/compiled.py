"""The decorators of the compiled kernels: numba with an on-disk cache that cannot go stale.

numba looks only at the caller's own file when it decides whether a cached kernel is still good, so
an edit of a callee in another file would be missed. Here the cache folder's name carries a digest
of all kernel sources.
"""

# numba publishes no types:
# pyright: reportAttributeAccessIssue=false, reportCallIssue=false
# pyright: reportPrivateImportUsage=false

import hashlib
import os
from pathlib import Path
from types import SimpleNamespace

import numba
from numba import types
from numba.experimental import structref

_HERE = Path(__file__).parent


def _cache_folder() -> Path:
    digest = hashlib.sha256()
    for source in sorted(_HERE.glob("*.py")):
        digest.update(source.read_bytes())
    name = f"kernels-{digest.hexdigest()[:12]}"
    if numba.config.CACHE_DIR:
        return Path(numba.config.CACHE_DIR) / name
    if os.access(_HERE, os.W_OK):
        return _HERE / "__pycache__" / name
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "bowfem" / name


_FOLDER = str(_cache_folder())


def kernel(function):
    """Compile a function that only other kernels call: no Python wrapper, no cache of its own."""
    return numba.njit(error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)(function)


def part(function):
    """Compile a function as part of each kernel that calls it, where the call would cost most."""
    return numba.njit(
        error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True, forceinline=True
    )(function)


def entry(function):
    """Compile a function that Python calls; its machine code, callees included, is cached."""
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = _FOLDER
    try:
        return numba.njit(cache=True, error_model="numpy", no_cfunc_wrapper=True)(function)
    finally:
        numba.config.CACHE_DIR = before


def shared(name, fields):
    """Make a record type that kernels pass as one pointer; return its empty maker.

    ``fields``: name to ``int``, ``float``, or an array's number of axes (negative: whole numbers).
    A named tuple of arrays would go through every call as hundreds of scalars, slow to compile and
    slow to run.
    """
    if numba.config.DISABLE_JIT:
        return lambda: SimpleNamespace()

    class Shared(types.StructRef):
        def __init__(self, fields):
            super().__init__(fields)
            self.name = name  # the default spells all fields out, in every compiled symbol

    Shared.__name__ = Shared.__qualname__ = name
    structref.register(Shared)
    structref.define_attributes(Shared)
    kinds = []
    for field, axes in fields.items():
        if isinstance(axes, type):
            kinds.append((field, types.int64 if axes is int else types.float64))
        else:
            scalar = types.float64 if axes > 0 else types.int64
            kinds.append((field, types.Array(scalar, abs(axes), "C")))
    kind = Shared(kinds)

    @kernel
    def make():
        return structref.new(kind)

    return make
