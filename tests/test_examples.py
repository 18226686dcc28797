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
        0.5 + 1e-12,
        1 - 1e-12,
        xtol=1e-15,
    )
    root = math.sqrt(load)
    height = 1 - 2 * (ellipe(m) - ellipeinc(start(m), m)) / root
    return height, 1 - math.sqrt(2 * (2 * m - 1)) / root


def test_cantilever_follows_the_elastica():
    for factor, height, approach in load("02_cantilever").run(n_elements=32):
        # what is left is the discretisation, which falls with a high power of the element
        assert (height, approach) == pytest.approx(elastica(factor), rel=1e-8)


def test_where_the_string_lies_it_carries_the_moment_alone():
    """A taut string without friction, laid on the limb: M = T times its distance from the axis.

    Cut limb and string where they touch: beyond the cut nothing else pulls (D).
    """
    found = load("03_curl_with_contact").run()
    limb, state = found.limbs[0], 0
    outer, inner = limb.contact[state, 1]
    wrapped = (limb.s > inner) & (limb.s < outer)
    assert np.sum(wrapped) >= 4
    offset = 0.5 * (limb.thickness + found.design.string.thickness)
    moment = limb.moment[state] / (limb.tension[state] * offset)
    # the rod's axis is strained and sheared a little: some 0.1 % of its length
    assert moment[wrapped] == pytest.approx(np.ones(np.sum(wrapped)), rel=5e-3)
    assert np.max(np.abs(moment[limb.s < inner])) > 2.0


def test_section_is_in_balance():
    state, lost = load("04_section_under_bending").run()
    assert 0.0 < lost < 0.3
    stress = state.stress
    height = stress.y
    moment = -np.sum(stress.longitudinal * height * stress.area)
    response = state.response
    expected = np.interp(state.curvature, response.curvature, response.moment)
    # straight lines between 32 knots of the table
    assert moment == pytest.approx(expected, rel=2e-3)
    assert abs(np.sum(stress.longitudinal * stress.area)) < 1e-6 * np.max(
        np.abs(stress.longitudinal)
    ) * np.sum(stress.area)


def test_viewer_still_shows_the_bow():
    scene = load("05_viewer_still").run()
    picture = scene.picture()
    scene.plotter.close()
    assert f"{scene.walk.force[-1]:.0f} N" in scene.label()
    paper = np.median(picture.reshape(-1, 3), axis=0)
    ink = np.mean(np.any(np.abs(picture - paper) > 30, axis=2))
    assert 0.03 < ink < 0.3  # a slender thing on paper, with its scale


@pytest.mark.parametrize("picture", sorted((EXAMPLES[0].parent / "pictures").glob("*.png")))
def test_pictures_are_small(picture):
    assert picture.stat().st_size < 150_000
