"""The compiled kernels of the rod and of the section's wall."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path


def _folder() -> Path:
    here, digest = Path(__file__).parent, hashlib.sha256()
    for source in sorted(here.glob("*.py")):
        digest.update(source.read_bytes())
    name = f"kernels-{digest.hexdigest()[:12]}"
    if os.environ.get("NUMBA_CACHE_DIR"):
        return Path(os.environ["NUMBA_CACHE_DIR"]) / name
    if os.access(here, os.W_OK):
        return here / "__pycache__" / name
    if os.environ.get("XDG_CACHE_HOME"):
        return Path(os.environ["XDG_CACHE_HOME"]) / "bowfem" / name
    try:
        return Path.home() / ".cache" / "bowfem" / name
    except RuntimeError:  # a user without a home
        return Path(tempfile.gettempdir()) / f"bowfem-{os.getuid()}" / name


#: Set by the program before anything is compiled: the compiler then does not look for linear
#: algebra, which no kernel uses and which takes scipy a fifth of a second to import. It would be
#: missing in all of the process, so the library leaves it alone.
LEAN = False
#: Where compiled kernels are kept, and section tables beside it.
FOLDER = _folder()
