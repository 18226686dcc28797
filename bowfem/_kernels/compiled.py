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
import tempfile
import traceback
from contextlib import suppress
from functools import lru_cache
from pathlib import Path
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
        made = _compiler(no_cpython_wrapper, _can_keep())(function)
    finally:
        numba.config.CACHE_DIR = before
    if not numba.config.DISABLE_JIT:
        made.compile = _without_collection(_forgiving(made))
    return made


def _compiler(no_cpython_wrapper, cache):
    return numba.njit(
        cache=cache,
        error_model="numpy",
        no_cpython_wrapper=no_cpython_wrapper,
        no_cfunc_wrapper=True,
    )


@lru_cache(maxsize=1)
def _can_keep():
    """Whether compiled code can be kept; said once where it cannot."""
    try:
        FOLDER.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=FOLDER):
            return True
    except OSError as error:
        if any(FOLDER.glob("*/*.nbi")):  # made before, and only to be read
            return True
        _say(f"compiled code cannot be kept ({error.strerror}): each run compiles anew")
        return False


def _say(text):
    with suppress(Exception):  # nobody may be there to be told
        print(f"bowfem: {text}", file=sys.stderr, flush=True)


def _forgiving(made):
    """Compile in spite of a cache that is spoilt, which is made anew, or full, which is left."""
    compile_ = made.compile

    def tried(*args):
        try:
            return compile_(*args)
        except numba.core.errors.NumbaError:
            raise
        except OSError as error:  # compiled, and not kept
            known = made.overloads.get(tuple(args[0]))
            if known is None:
                raise
            _say(f"compiled code could not be kept ({error.strerror})")
            return known.entry_point
        except Exception as error:  # whatever garbled code brings about
            if not (_from_cache(error) and _throw_away()):
                raise
            return compile_(*args)

    return tried


def _from_cache(error):
    """Whether an error came about while what was kept was read."""
    frames = traceback.extract_tb(error.__traceback__)
    return any(Path(frame.filename).name == "caching.py" for frame in frames)


@lru_cache(maxsize=1)
def _throw_away():
    """Throw away what was kept, once; return whether there was any."""
    kept = list(FOLDER.glob("*/*.nb[ci]"))
    for file in kept:
        with suppress(OSError):
            file.unlink()
    if kept:
        _say("the compiled code that was kept is spoilt: compiling it anew")
    return bool(kept)


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
