"""Start the package in fresh interpreters: import, draws and a still, nothing compiled before."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
DESIGN = ROOT / "examples" / "designs" / "wagtail.toml"


def start() -> list[tuple[str, float, str, str]]:
    """Time each; return rows of what, seconds, unit and remark."""
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "NUMBA_CACHE_DIR": folder, "MPLBACKEND": "Agg"}
        env["PYTHONPATH"] = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])

        def spent(*command: str) -> float:
            begin = time.perf_counter()
            subprocess.run(
                [sys.executable, *command],
                check=True,
                env=env,
                cwd=folder,
                stdout=subprocess.DEVNULL,
            )
            return time.perf_counter() - begin

        bare = min(spent("-c", "pass") for _ in range(5))
        package = min(spent("-c", "import bowfem") for _ in range(5))
        draw = ("-m", "bowfem", "draw", str(DESIGN), "--out", "out")
        first, second = spent(*draw), spent(*draw)
        still = ("-m", "bowfem", "view", str(DESIGN), "--still", "still.png")
        warm = min(spent(*still) for _ in range(2))
    return [
        ("import bowfem", package - bare, "ms", f"interpreter alone {bare * 1e3:.0f} ms"),
        ("first draw of an example", first, "s", "compiles"),
        ("second draw", second, "s", "interpreter, imports, report and pictures included"),
        ("first still of a design", warm, "s", "interpreter, imports and walk included"),
    ]
