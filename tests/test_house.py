"""Rules of the house: imports go down only, lint, types, light imports, what is declared."""

import ast
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import bowfem
from benchmarks import names

MAX_LINES = 500
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "bowfem",
    "benchmarks",
    "tests",
    "examples",
}
MIB = 2**20


def run(root: Path, *command: str | Path) -> str:
    """Run a command in the top folder; what it printed is the message when it fails."""
    done = subprocess.run(command, cwd=root, capture_output=True, text=True)
    if done.returncode:
        pytest.fail(f"{command[0]}:\n{done.stdout}{done.stderr}", pytrace=False)
    return done.stdout


def python(root: Path, code: str) -> str:
    return run(root, sys.executable, "-c", code)


def modules_after(root: Path, code: str) -> set[str]:
    """Top-level modules loaded in a fresh interpreter after some code."""
    listing = "import sys, json; print(json.dumps(sorted({m.split('.')[0] for m in sys.modules})))"
    return set(json.loads(python(root, f"{code}\n{listing}").splitlines()[-1]))


def test_imports_go_down_only(root):
    out = run(root, Path(sys.executable).with_name("lint-imports"))
    assert re.search(r"Contracts: [1-9]\d* kept, 0 broken", out)


def test_ruff(root):
    run(root, sys.executable, "-m", "ruff", "check", ".")
    run(root, sys.executable, "-m", "ruff", "format", "--check", ".")


def test_pyright(root):
    out = run(root, sys.executable, "-m", "pyright", "--pythonpath", sys.executable)
    assert "No source files found" not in out


def test_import_is_light(root):
    loaded = modules_after(root, "import bowfem")
    assert "bowfem" in loaded
    assert not loaded & {"numba", "numpy", "scipy", "matplotlib", "rich", "pyvista", "meshio"}
    # best of five, so that a busy machine does not decide
    clock = "import time; t = time.perf_counter(); import bowfem; print(time.perf_counter() - t)"
    assert min(float(python(root, clock)) for _ in range(5)) < 0.5


def imports(node: ast.AST, at_top: bool) -> set[str]:
    """Top-level modules imported below a node; at_top leaves out functions and type checking."""
    found = set()
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.Import):
            found |= {alias.name.split(".")[0] for alias in child.names}
        elif isinstance(child, ast.ImportFrom):
            assert child.level == 0, "write the whole module name"
            found.add(str(child.module).split(".")[0])
        late = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef) or (
            isinstance(child, ast.If) and ast.unparse(child.test) == "TYPE_CHECKING"
        )
        if not (at_top and late):
            found |= imports(child, at_top)
    return found


def package_imports(root: Path, at_top: bool = False) -> set[str]:
    """Third-party modules imported anywhere in the package."""
    sources = [path.read_text() for path in (root / "bowfem").rglob("*.py")]
    found = {name for source in sources for name in imports(ast.parse(source), at_top)}
    assert "numpy" in found
    return found - set(sys.stdlib_module_names) - {"bowfem"}


def test_heavy_libraries_are_imported_inside_functions(root):
    assert not package_imports(root, at_top=True) & {"scipy", "matplotlib", "pyvista", "meshio"}


def test_no_module_loads_plotting(root):
    every = (
        "import importlib, pkgutil, bowfem\n"
        "names = [m.name for m in pkgutil.walk_packages(bowfem.__path__, 'bowfem.')]\n"
        "assert len(names) > 10, names\n"
        "for name in names:\n"
        "    importlib.import_module(name)\n"
    )
    assert modules_after(root, every) & {"matplotlib", "pyvista", "meshio"} == set()


ROOMS = ("rod", "section", "design", "bow", "findings", "orders", "show")
#: What a picture or a page may take from the solved bow: records, and the sections of a design.
RECORDS = {
    "BraceError",
    "LimbStates",
    "SmoothCurve",
    "Walk",
    "Ending",
    "sections_at",
    "sleeve_law",
    "sleeve_thickness",
}


def sources(root: Path) -> dict[str, ast.Module]:
    """Modules of the package by their dotted name, parsed."""
    found = {
        ".".join(path.relative_to(root).with_suffix("").parts): ast.parse(path.read_text())
        for path in (root / "bowfem").rglob("*.py")
    }
    assert "bowfem.rod.shape" in found
    return found


def taken(tree: ast.Module) -> list[tuple[str, str]]:
    """Names imported from the package anywhere in a module: where from, and what."""
    return [
        (node.module or "", alias.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("bowfem.")
        for alias in node.names
    ]


def test_every_name_of_a_face_is_there():
    rooms = [bowfem, *(getattr(bowfem, room) for room in ROOMS)]
    for room in rooms:
        assert room.__all__ == sorted(set(room.__all__))
        assert set(room.__all__) <= set(dir(room))
        for name in room.__all__:
            assert getattr(room, name) is not None
        with pytest.raises(AttributeError, match="no_such_name"):
            _ = room.no_such_name


def test_rooms_are_entered_by_their_face(root):
    """Modules are private to their room; others import from the room itself."""
    wrong = [
        (name, source, what)
        for name, tree in sources(root).items()
        for source, what in taken(tree)
        if source.split(".")[1] in ROOMS
        and name.split(".")[1] != source.split(".")[1]
        and source.count(".") > 1
    ]
    assert wrong == []


def test_show_takes_records_alone(root):
    wrong = {
        (name, what)
        for name, tree in sources(root).items()
        if name.startswith("bowfem.show.")
        for source, what in taken(tree)
        if source == "bowfem.bow" and what not in RECORDS
    }
    assert wrong == set()


def test_no_module_is_named_as_what_a_face_exports(root):
    exported = {name for room in ROOMS for name in getattr(bowfem, room).__all__}
    modules = {
        name.rpartition(".")[2] for name in sources(root) if name.split(".")[1] in ROOMS
    } - set(ROOMS)
    assert modules & exported == set()


def test_no_room_is_overgrown(root):
    lines = {
        room: sum(
            len(path.read_text().splitlines()) for path in (root / "bowfem" / room).rglob("*.py")
        )
        for room in (*ROOMS, "cli", "_kernels")
    }
    parts = ("text", "plot", "page", "body")  # show is a wing of four rooms
    whole = sum(len(path.read_text().splitlines()) for path in (root / "bowfem").rglob("*.py"))
    lines |= {
        f"show.{part}": sum(
            len(path.read_text().splitlines())
            for path in (root / "bowfem/show" / part).glob("*.py")
        )
        for part in parts
    }
    del lines["show"]
    assert {room: n for room, n in lines.items() if n > 0.2 * whole} == {}


def test_only_units_converts(root):
    """No inch, pound or psi is written out but in `units`; exact by definition (NIST SP 811)."""
    factors = {0.0254, 25.4, 4.4482216152605, 6894.757293168361, 0.3048, 0.45359237}
    wrong = [
        (name, node.value)
        for name, tree in sources(root).items()
        if name != "bowfem.units"
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant)
        and isinstance(node.value, float)
        and any(abs(node.value / factor - 1.0) < 1e-5 for factor in factors)
    ]
    assert wrong == []


def test_third_party_imports_are_declared(root):
    project = tomllib.loads((root / "pyproject.toml").read_text())["project"]
    declared = project["dependencies"] + project["optional-dependencies"]["view"]
    allowed = {re.match(r"[\w-]+", line)[0] for line in declared}
    assert package_imports(root) <= (allowed - {"pillow"}) | {"PIL"}  # its name in an import


def test_version_is_written_once(root):
    assert run(root, sys.executable, "-m", "pip", "show", "bowfem").splitlines()[1] == (
        f"Version: {bowfem.__version__}"
    )


def test_files_stay_short(root):
    lengths = {
        str(path.relative_to(root)): len(path.read_text().splitlines())
        for path in (root / "bowfem").rglob("*.py")
    }
    assert lengths
    assert {path: n for path, n in lengths.items() if n > MAX_LINES} == {}


def test_top_level(root):
    listed = run(root, "git", "ls-files", "--cached", "--others", "--exclude-standard").splitlines()
    entries = {Path(path).parts[0] for path in listed}
    assert {"README.md", "bowfem"} <= entries
    assert {entry for entry in entries if not entry.startswith(".")} <= TOP_LEVEL
    files = [root / path for path in listed if (root / path).is_file()]
    assert [path for path in files if path.stat().st_size > MIB] == []


def test_every_publication_is_listed(root):
    """Each author named in references.json is in references.bib; each entry says its status."""
    bib = (root / "benchmarks/references.bib").read_text()
    entries = re.findall(r"^@\w+\{(\w+),\n(.*?)^\}", bib, re.M | re.S)
    keys = [key for key, _ in entries]
    assert len(keys) == len(set(keys)) == bib.count("@")
    for key, body in entries:
        for field in ("title", "year", "note"):
            assert re.search(rf"^  {field} = \{{.+\}},$", body, re.M), (key, field)
        assert re.search(r"note = \{Status [SMD](, [SMD])*: \S", body), key
    authors = " ".join(re.findall(r"^  author = \{(.+)\},$", bib, re.M))
    cases = json.loads((root / "benchmarks/references.json").read_text())
    sources = " ; ".join(
        source if isinstance(source, str) else " ; ".join(source)
        for source in (case["source"] for case in cases)
    )
    named = set(re.findall(r"\b[A-Z]\. ([A-Z][A-Za-z-]+)(?=,| \d)", sources))
    assert {"Mattiasson", "Brazier", "Kooi"} <= named
    assert {name for name in named if name not in authors} == set()


def test_the_index_of_public_names_is_that_of_the_docstrings():
    made = names.index()
    assert names.FILE.read_text(encoding="utf-8") == made, "renew it: python -m benchmarks.names"
    rows = [line for line in made.splitlines() if line.startswith("| `")]
    assert len(rows) > 200 and not [row for row in rows if row.endswith("|  |")]
