"""The timings run to their end and their floors are sound; nothing is timed here."""

import os
import subprocess
import sys

import pytest

# Uncompiled, so that the bare loop needs no compiler here; small, since that is slow.
QUICK = """
from benchmarks.speed import __main__ as speed, curl
curl.DRAWS = 2
speed.links_for = lambda error: (3, 2.0)
speed.smallest_mesh = lambda error, begin=1: 2
speed.sideways = speed.shots = lambda runs: []
speed.main((), runs=1)
"""


def uncompiled(root, code: str) -> str:
    path = os.pathsep.join([str(root), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=root,
        capture_output=True,
        text=True,
        env={**os.environ, "NUMBA_DISABLE_JIT": "1", "PYTHONPATH": path},
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def table(root) -> dict[str, list[str]]:
    """Rows of the tables by their first column."""
    out = uncompiled(root, QUICK)
    rows = [line.split("|")[1:-1] for line in out.splitlines() if line.startswith("| ")]
    assert "151 ms" in out and "Richardson" in out
    return {row[0].strip(): [cell.strip() for cell in row[1:]] for row in rows}


def test_every_figure_is_there(table):
    times = [row for name, row in table.items() if name != "what" and row[2] in ("ms", "s")]
    assert len(times) >= 10
    assert all(float(row[0]) > 0.0 for row in times)
    assert "0 steps halved" in table["walk of 50 steps"][3]
    assert "wrapped" in table["curled limb, brace and 40 draws"][3]


def test_times_of_bows_are_there(monkeypatch):
    from benchmarks.speed import __main__ as speed

    monkeypatch.setattr(speed, "EXAMPLE_NAMES", ("wagtail",))
    (states,), three = speed.sideways(1), speed.shots(1)
    assert "% of its walk's" in states[-1]
    assert len(three) == 3 and all(float(each[1]) > 0.0 for each in [states, *three])


def test_smallest_mesh():
    from benchmarks.speed.__main__ import smallest_mesh

    assert smallest_mesh(lambda n: float(n) ** -4.0) == 32
    assert smallest_mesh(lambda n: 0.0) == 1


def test_chain_of_links_is_of_order_two():
    from benchmarks.speed.links import full_draw_force, links_for

    links, order = links_for(1e-4)
    assert order == pytest.approx(2.0, abs=0.05)
    # case 14, D0, at full draw: 2 Fy is the bow's weight
    assert full_draw_force(links) == pytest.approx(100.331440561, rel=1.02e-4)


def test_bare_loop_solves_the_solver_s_equations(root):
    # at equilibrium its step is nil, with the nock elsewhere it is not
    code = (
        "from benchmarks.cases import c14_reference_walk as case\n"
        "from benchmarks.speed.clock import bare_iterations\n"
        "path, string = case.draw('D0', 2), case.limb('D0', 2)[1]\n"
        "print(bare_iterations(path, string, 3)(), bare_iterations(path, string, 1, at=-2)())\n"
    )
    here, off = map(float, uncompiled(root, code).split())
    assert here < 1e-7 and off > 1e-2
