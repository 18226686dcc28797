"""Write an input file for CalculiX, run it, read what it printed."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.solid.mesh import Mesh

#: Longest run, s.
PATIENCE = 1800.0


class NotInstalledError(RuntimeError):
    """The program is missing."""


class FailedError(RuntimeError):
    """The program found no state."""


@dataclass(frozen=True)
class Run:
    """Last state: displacements and reactions of the nodes asked for; stresses, (n, points, 6)."""

    moved: dict[int, np.ndarray]
    reaction: dict[int, np.ndarray]
    stress: np.ndarray


def version() -> str:
    """Return the program's version.

    Raises
    ------
    NotInstalledError
        There is none.
    """
    if shutil.which("ccx") is None:
        raise NotInstalledError("ccx is not installed (Debian: apt-get install calculix-ccx)")
    said = subprocess.run(["ccx", "-v"], capture_output=True, text=True).stdout
    found = re.search(r"[\d.]+\d", said)
    return f"CalculiX {found.group(0) if found else '?'}"


def deck(
    mesh: Mesh,
    material: str,
    equations: Sequence[Sequence[tuple[int, int, float]]],
    fixed: Sequence[tuple[int, int]],
    moved: dict[tuple[int, int], float],
    printed: Sequence[int],
    loads: Sequence[tuple[int, int, float]] = (),
) -> str:
    """Return the input file of one static step with large displacements."""
    reference = len(mesh.nodes) + 1
    lines = ["*NODE,NSET=ALL"]
    lines += [f"{n},{x:.10g},{y:.10g},{z:.10g}" for n, (x, y, z) in mesh.nodes.items()]
    lines += [f"{reference},0,0,0", "*ELEMENT,TYPE=C3D20R,ELSET=BODY"]
    for number, nodes in enumerate(mesh.elements, 1):
        ids = [number, *map(int, nodes)]
        lines += [",".join(map(str, ids[:11])) + ",", ",".join(map(str, ids[11:]))]
    lines += [material.rstrip(), "*SOLID SECTION,ELSET=BODY,MATERIAL=M"]
    for terms in equations:
        lines += ["*EQUATION", str(len(terms))]
        lines += [f"{node},{freedom},{factor:.12g}" for node, freedom, factor in terms]
    lines += ["*NSET,NSET=SEEN"] + [f"{node}," for node in printed]
    lines += ["*BOUNDARY"] + [f"{node},{freedom},{freedom}" for node, freedom in fixed]
    if equations:
        lines += [f"{reference},3,3"]
    lines += ["*STEP,NLGEOM,INC=500", "*STATIC", "0.1,1.,1e-6,0.25"]
    if moved:
        lines += ["*BOUNDARY"]
        lines += [f"{node},{freedom},{freedom},{by:.12g}" for (node, freedom), by in moved.items()]
    if loads:
        lines += ["*CLOAD"] + [f"{node},{freedom},{by:.12g}" for node, freedom, by in loads]
    lines += ["*NODE PRINT,NSET=SEEN,FREQUENCY=1000", "U,RF"]
    lines += ["*EL PRINT,ELSET=BODY,FREQUENCY=1000", "S", "*END STEP", ""]
    return "\n".join(lines)


def run(mesh: Mesh, material: str, *arguments, loads=()) -> Run:
    """Run one case in a folder of its own.

    Raises
    ------
    NotInstalledError
        The program is missing.
    FailedError
        It found no state.
    """
    version()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "case.inp").write_text(deck(mesh, material, *arguments, loads=loads))
        done = subprocess.run(
            ["ccx", "-i", "case"],
            cwd=place,
            capture_output=True,
            text=True,
            timeout=PATIENCE,
            env={**os.environ, "OMP_NUM_THREADS": os.environ.get("OMP_NUM_THREADS", "1")},
        )
        text = (place / "case.dat").read_text() if (place / "case.dat").exists() else ""
    if "*ERROR" in done.stdout or "forces" not in text:
        raise FailedError(done.stdout[-600:])
    return read(text)


def read(text: str) -> Run:
    """Read the last tables of displacements, forces and stresses that were printed."""
    tables: dict[str, list[list[float]]] = {}
    name = ""
    for line in text.splitlines():
        head = re.match(r"\s*(displacements|forces|stresses)\b", line)
        if head:
            name = head.group(1)
            tables[name] = []
        elif name and line.strip():
            tables[name].append([float(word) for word in line.split()])
    moved, pulled = (
        {int(row[0]): np.array(row[1:4]) for row in tables[name]}
        for name in ("displacements", "forces")
    )
    rows = np.array(tables["stresses"])
    points = int(np.max(rows[:, 1]))
    return Run(moved, pulled, rows[:, 2:8].reshape(-1, points, 6))
