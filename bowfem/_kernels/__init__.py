"""The compiled kernels of the rod and of the section's wall."""

import hashlib
import os
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
    return Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "bowfem" / name


#: Where compiled kernels are kept, and section tables beside it.
FOLDER = _folder()
