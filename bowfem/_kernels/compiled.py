"""The decorators of the compiled kernels: numba with an on-disk cache that cannot go stale.

numba looks only at the caller's own file when it decides whether a cached kernel is still good, so
an edit of a callee in another file would be missed. Here the cache folder's name carries a digest
of all kernel sources.
"""

# numba publishes no types:
# pyright: reportAttributeAccessIssue=false, reportCallIssue=false
# pyright: reportPrivateImportUsage=false

import gc
import sys
from types import SimpleNamespace

import numba
from numba import types
from numba.experimental import structref

import bowfem._kernels
from bowfem._kernels import FOLDER

if bowfem._kernels.LEAN and "numba.np.arraymath" not in sys.modules:
    _BLAS = "scipy.linalg.cython_blas"
    _there = sys.modules.get(_BLAS)
    sys.modules[_BLAS] = None  # pyright: ignore[reportArgumentType] - "not to be imported"
    try:
        import numba.np.arraymath
    finally:
        del sys.modules[_BLAS]
        if _there is not None:
            sys.modules[_BLAS] = _there


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
    return _cached(function, no_cpython_wrapper=False)


def piece(function):
    """Compile a function that only kernels call, but keep it by itself in the cache.

    What calls it takes it from there, even when another process has compiled it: see `building`.
    """
    return _cached(function, no_cpython_wrapper=True)


def _cached(function, no_cpython_wrapper):
    before = numba.config.CACHE_DIR
    numba.config.CACHE_DIR = str(FOLDER)
    try:
        made = numba.njit(
            cache=True,
            error_model="numpy",
            no_cpython_wrapper=no_cpython_wrapper,
            no_cfunc_wrapper=True,
        )(function)
    finally:
        numba.config.CACHE_DIR = before
    if not numba.config.DISABLE_JIT:
        made.compile = _without_collection(made.compile)
    return made


def _without_collection(compile_):
    """Hold back the search for reference cycles meanwhile: it finds few, and costs a tenth."""

    def held(*args):
        on = gc.isenabled()
        gc.disable()
        try:
            return compile_(*args)
        finally:
            if on:
                gc.enable()

    return held


#: Types of the records by name, filled by `shared`.
KINDS = {}


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
    globals()[name] = Shared  # found by name, it is the same type in every process's cache
    structref.register(Shared)
    structref.define_attributes(Shared)
    kinds = []
    for field, axes in fields.items():
        if isinstance(axes, type):
            kinds.append((field, types.int64 if axes is int else types.float64))
        else:
            scalar = types.float64 if axes > 0 else types.int64
            kinds.append((field, types.Array(scalar, abs(axes), "C")))
    kind = KINDS[name] = Shared(kinds)

    @kernel
    def make():
        return structref.new(kind)

    return make
