"""Kill the program at random moments and look at what is left: ``python -m benchmarks.kills``.

    python -m benchmarks.kills [--number N] [--seed N] [--only WAY]

Each kill is of one way, in turn: a study's own process; a worker of it; a command that writes; the
first compilation; a worker of a Dask cluster. After each, nothing may run on, no file may be half
written, and the same command must come to what it comes to undisturbed. What is not so is listed.
A process that the system ends at once cannot take its hidden draft (`.name.part`) with it.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from xml.etree import ElementTree

DESIGN = Path(__file__).parents[1] / "examples" / "designs" / "wagtail.toml"
#: How a process is ended: by the system, by a shell that closes, by the keyboard.
SIGNALS = signal.SIGKILL, signal.SIGTERM, signal.SIGINT
#: How long processes that were left may take to notice, s.
NOTICE = 30.0
#: What a study makes; of each file's kind, what its last bytes are.
BOWS = ["--bows", "300", "--workers", "2", "--keep", "kept.bows", "--data", "bows.csv"]
ENDS = {".png": b"IEND\xaeB`\x82", ".pdf": b"%%EOF\n", ".html": b"</html>\n"}
#: Commands that write, and how each says where to.
WRITING = (
    ["draw", "--out", "."],
    ["draw", "--json", "bow.json"],
    ["sheet", "--out", "."],
    ["report", "--out", "report.html"],
    ["export", "--out", "."],
)
CLUSTER = """
import sys
from pathlib import Path
from dask.distributed import Client, LocalCluster
import numpy as np
from bowfem import Design
from bowfem.orders import Plan, Spread, study

if __name__ == "__main__":
    plan = Plan(Design.from_file(sys.argv[1]), (Spread("handle.set", -0.02, 0.02),), 200)
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as cluster:
        with Client(cluster) as client:
            found = study(plan, client.get_executor())
    Path("bows.csv").write_bytes(np.ascontiguousarray(found.figures).tobytes())
"""


@dataclass
class Place:
    """A folder to work in, and what the program comes to there when nobody disturbs it."""

    folder: Path
    rng: random.Random
    wrong: list[str] = field(default_factory=list)

    def run(self, words: Sequence[str], **more: str) -> subprocess.Popen[bytes]:
        """Start a command in the folder, as the leader of a group of its own."""
        return subprocess.Popen(
            words,
            cwd=self.folder,
            env={**os.environ, **more},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )

    def finished(self, words: Sequence[str], **more: str) -> bytes:
        """Run a command to its end; return what it prints."""
        process = self.run(words, **more)
        out, err = process.communicate()
        if process.returncode:
            self.wrong.append(f"{_short(words)}: status {process.returncode}: {err[-300:]!r}")
        return out

    def killed(self, words: Sequence[str], most: float, **more: str) -> None:
        """Start a command and end it some time before `most`, s; look at what it leaves."""
        process, how = self.run(words, **more), self.rng.choice(SIGNALS)
        time.sleep(self.rng.uniform(0.05, most))
        process.send_signal(how)
        _, err = process.communicate()
        if b"Traceback" in err:
            self.wrong.append(f"{_short(words)}: a traceback: {err[-300:]!r}")
        if how == signal.SIGINT and process.returncode not in (0, 130, -signal.SIGINT):
            self.wrong.append(f"{_short(words)}: status {process.returncode} when interrupted")
        end = time.monotonic() + NOTICE
        while left := _processes(group=process.pid):
            if time.monotonic() > end:
                self.wrong.append(f"{_short(words)}: {len(left)} processes run on")
                os.killpg(process.pid, signal.SIGKILL)
                return
            time.sleep(0.1)

    def whole(self) -> None:
        """Look whether each file is whole, drafts aside."""
        for file in self.folder.rglob("*"):
            draft = file.name.startswith(".") and file.suffix == ".part"
            if file.is_file() and not draft and file.suffix != ".bows" and not _is_whole(file):
                self.wrong.append(f"{file.name} is half written")

    def clear(self) -> None:
        """Empty the folder."""
        for each in self.folder.iterdir():
            shutil.rmtree(each) if each.is_dir() else each.unlink()

    @cached_property
    def study(self) -> list[str]:
        """The command of a study."""
        return _bowfem("study", str(DESIGN), *BOWS)

    @cached_property
    def bows(self) -> bytes:
        """What a study writes."""
        self.clear()
        self.finished(self.study)
        return (self.folder / "bows.csv").read_bytes()

    @cached_property
    def cluster(self) -> bytes:
        """What a study on a cluster writes."""
        self.clear()
        self.finished([sys.executable, "-c", CLUSTER, str(DESIGN)])
        return (self.folder / "bows.csv").read_bytes()

    @cached_property
    def drawn(self) -> bytes:
        """What is printed of a bow."""
        return self.finished(_bowfem("draw", str(DESIGN)))

    def same(self, want: bytes) -> None:
        """Look whether a study wrote what it should."""
        file = self.folder / "bows.csv"
        if not file.exists() or file.read_bytes() != want:
            self.wrong.append("a study that goes on comes to other bows")


def _bowfem(*words: str) -> list[str]:
    return [sys.executable, "-m", "bowfem", *words]


def _short(words: Sequence[str]) -> str:
    return " ".join(Path(each).name for each in words[2:6])


def _processes(parent: int = -1, group: int = -1) -> list[int]:
    """Return the processes that one has made, or those of a group, that still run."""
    found = []
    for each in Path("/proc").iterdir():
        try:
            if each.name.isdecimal():
                words = (each / "stat").read_text().rpartition(")")[2].split()
                if words[0] != "Z" and (int(words[1]) == parent or int(words[2]) == group):
                    found.append(int(each.name))
        except OSError:
            continue
    return found


def _is_whole(file: Path) -> bool:
    content = file.read_bytes()
    if file.suffix in ENDS:
        return content.endswith(ENDS[file.suffix])
    if file.suffix == ".json":
        return _reads(lambda: json.loads(content))
    if file.suffix in (".svg", ".pvd", ".vtp", ".vtu", ".vtm"):
        return _reads(lambda: ElementTree.fromstring(content)) or b"</VTKFile>" in content[-40:]
    if file.suffix == ".csv":
        lines = content.decode().splitlines()
        return content.endswith(b"\n") and len({line.count(",") for line in lines[1:]}) == 1
    return file.suffix in (".obj", ".stl", ".toml", ".txt", ".npz", ".glb", ".gltf", ".py")


def _reads(read: Callable[[], object]) -> bool:
    try:
        read()
    except (ValueError, ElementTree.ParseError):
        return False
    return True


def own(place: Place) -> None:
    """Kill a study; the same command then makes what is missing."""
    want = place.bows
    place.clear()
    place.killed(place.study, 6.0)
    place.whole()
    place.finished(place.study)
    place.same(want)


def worker(place: Place) -> None:
    """Kill a worker of a study; the bows it had are made again."""
    want = place.bows
    place.clear()
    process = place.run(place.study)
    time.sleep(place.rng.uniform(1.0, 4.0))
    _kill_one(place, _processes(parent=process.pid))
    _, err = process.communicate()
    if process.returncode:
        place.wrong.append(f"a study that lost a worker: {process.returncode}: {err[-300:]!r}")
    place.same(want)


def writing(place: Place) -> None:
    """Kill a command that writes."""
    place.clear()
    words = place.rng.choice(WRITING)
    command = _bowfem(words[0], str(DESIGN), *words[1:])
    place.killed(command, 6.0)
    place.whole()
    place.finished(command)
    place.whole()


def compiling(place: Place) -> None:
    """Kill the first command of a machine while it compiles; the next one makes up for it."""
    want = place.drawn
    place.clear()
    with tempfile.TemporaryDirectory() as cache:
        command = _bowfem("draw", str(DESIGN))
        place.killed(command, 25.0, NUMBA_CACHE_DIR=cache)
        if place.finished(command, NUMBA_CACHE_DIR=cache) != want:
            place.wrong.append("after a compilation that was killed a bow is told otherwise")


def cluster(place: Place) -> None:
    """Kill a worker of a Dask cluster."""
    want = place.cluster
    place.clear()
    process = place.run([sys.executable, "-c", CLUSTER, str(DESIGN)])
    time.sleep(place.rng.uniform(2.0, 5.0))
    _kill_one(place, [pid for pid in _processes(group=process.pid) if pid != process.pid])
    _, err = process.communicate()
    if process.returncode:
        place.wrong.append(f"a cluster that lost a worker: {process.returncode}: {err[-300:]!r}")
    place.same(want)


def _kill_one(place: Place, among: Sequence[int]) -> None:
    if among:
        try:
            os.kill(place.rng.choice(among), signal.SIGKILL)
        except ProcessLookupError:
            pass


WAYS = {each.__name__: each for each in (own, worker, writing, compiling, cluster)}
#: Of twenty kills, so many are of each way: compilations take long.
SHARES = {own: 7, worker: 5, writing: 6, compiling: 1, cluster: 1}


def main(words: Sequence[str] | None = None) -> int:
    """Kill, look and print; return how much was wrong."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.kills", description=__doc__)
    parser.add_argument("--number", type=int, default=200, help="kills (default 200)")
    parser.add_argument("--seed", type=int, default=0, help="other moments (default 0)")
    parser.add_argument("--only", choices=list(WAYS), help="kills of one way alone")
    asked = parser.parse_args(words)
    if asked.number < 1:
        parser.error("--number must be at least 1")
    rng, count, wrong = random.Random(asked.seed), Counter[str](), 0
    order = [way for way, many in SHARES.items() for _ in range(many)]
    rng.shuffle(order)
    with tempfile.TemporaryDirectory() as folder:
        place = Place(Path(folder), rng)
        for number in range(asked.number):
            way = WAYS[asked.only] if asked.only else order[number % len(order)]
            way(place)
            count[way.__name__] += 1
            for text in place.wrong[wrong:]:
                print(f"kill {number + 1}, {way.__name__}: {text}", flush=True)
            wrong = len(place.wrong)
            if sys.stderr.isatty():
                print(f"\r{number + 1} of {asked.number} ", end="", file=sys.stderr, flush=True)
    for name, many in count.items():
        print(f"{many:6d}  {name}: {WAYS[name].__doc__.partition('.')[0]}")
    print(f"{asked.number} kills, {wrong} found wrong")
    return wrong


if __name__ == "__main__":
    sys.exit(min(main(), 1))
