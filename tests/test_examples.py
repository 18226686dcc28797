"""Every numbered example runs as a script does, and gives a figure known from outside."""

import importlib.util
import math
import runpy
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("[0-9]*.py"))


def load(name: str):
    (path,) = [path for path in EXAMPLES if path.stem == name]
    spec = importlib.util.spec_from_file_location(f"example_{name}", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_runs_as_a_script(path, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.argv", [str(path)])
    runpy.run_path(str(path), run_name="__main__")
    assert capsys.readouterr().out.strip()


def test_draw_curve_stores_what_the_fingers_work():
    found = load("01_draw_curve").run()
    # first law; the trapezoids' error goes with the square of the step
    area = np.trapezoid(found.force, found.draw)
    assert found.energy[-1] == pytest.approx(area, rel=1 / (found.draw.size - 1) ** 2)


def elastica(load: float) -> tuple[float, float]:
    """Tip of a cantilever under a dead tip load, by elliptic integrals.

    Bisshopp and Drucker, Quart. Appl. Math. 3 (1945) 272-275 (from memory).
    """

    def start(m: float) -> float:
        return math.asin(1 / math.sqrt(2 * m))

    m = brentq(
        lambda m: ellipk(m) - ellipkinc(start(m), m) - math.sqrt(load),
        0.5 + 1e-12, 1 - 1e-12, xtol=1e-15,
    )  # fmt: skip
    root = math.sqrt(load)
    height = 1 - 2 * (ellipe(m) - ellipeinc(start(m), m)) / root
    return height, 1 - math.sqrt(2 * (2 * m - 1)) / root


def test_cantilever_follows_the_elastica():
    for factor, height, approach in load("02_cantilever").run(n_elements=32):
        # what is left is the discretisation, which falls with a high power of the element
        assert (height, approach) == pytest.approx(elastica(factor), rel=1e-8)
