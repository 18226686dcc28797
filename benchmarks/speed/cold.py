"""Start the program in fresh interpreters, from an empty cache on: what a user waits for."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
DESIGN = ROOT / "examples" / "designs" / "wagtail.toml"
#: Commands timed once all is compiled, and the most they should take, s.
LATER = (
    (("pipes",), 0.25),
    (("new", "fresh.toml"), 0.25),
    (("draw", "missing.toml"), 0.25),
    (("draw", str(DESIGN), "--out", "out"), 1.4),
    (("view", str(DESIGN), "--still", "still.png"), 2.5),
    (("report", str(DESIGN), "--out", "report.html"), 3.0),
    (("export", str(DESIGN), "--out", "meshes"), 3.0),
    (("sheet", str(DESIGN), "--out", "print"), 2.5),
    (("view", str(DESIGN), "--film", "film.gif"), None),
)
RUNS = 3


def start() -> list[tuple[str, float, str, str]]:
    """Time each; return rows of what, seconds, unit and remark."""
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "NUMBA_CACHE_DIR": str(Path(folder) / "cache"), "MPLBACKEND": "Agg"}
        env["PYTHONPATH"] = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])

        def spent(*command: str) -> tuple[float, float]:
            """Return the time to the first words, and to the end."""
            begin = time.perf_counter()
            (Path(folder) / "fresh.toml").unlink(missing_ok=True)
            with subprocess.Popen(
                [sys.executable, *command],
                env=env,
                cwd=folder,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            ) as running:
                assert running.stdout is not None
                running.stdout.read(1)
                words = time.perf_counter() - begin
                running.stdout.read()
            return words, time.perf_counter() - begin

        bare = min(spent("-c", "pass")[1] for _ in range(RUNS))
        package = min(spent("-c", "import bowfem")[1] for _ in range(RUNS))
        rows = [("import bowfem", package - bare, "ms", f"interpreter alone {bare * 1e3:.0f} ms")]
        first = spent("-m", "bowfem", "draw", str(DESIGN), "--out", "out")[1]
        rows.append(("first draw, to the end", first, "s", "compiles (target 12)"))
        for words, most in LATER:
            times = [spent("-m", "bowfem", *words) for _ in range(RUNS)]
            name = " ".join(Path(word).name for word in words)
            told, done = (min(each) for each in zip(*times, strict=True))
            if words[0] == "draw" and most and most > 1.0:
                rows.append((name, told, "s", "to the table (target 0.7)"))
            remark = f"to the end (target {most:g})" if most else "44 frames (target 0.45 each)"
            rows.append((name, done, "s", remark))
    return rows
