"""Every numbered example runs as a script does, and gives a figure known from outside."""

import importlib.util
import math
import runpy
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

from bowfem import Pipe
from bowfem.orders import study
from bowfem.section import Linear, SectionFamily

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


def test_tapered_spring_bends_and_swings_as_a_beam():
    """Castigliano's integral at a small load, and Rayleigh and Ritz's frequency in polynomials."""
    module, end = load("06_tapered_spring"), 0.2
    deflections, strains, frequency = module.run(end)
    EI = module.E * module.WIDTH * module.THICKNESS**3 / 12.0
    mass, length = module.DENSITY * module.WIDTH * module.THICKNESS, module.LENGTH
    x, w = np.polynomial.legendre.leggauss(40)
    s, w = 0.5 * length * (x + 1.0), 0.5 * length * w
    width = 1.0 - (1.0 - end) * s / length
    by_load = np.sum(w * (length - s) ** 2 / (EI * width))
    assert deflections[0] == pytest.approx(module.LOADS[0] * by_load, rel=1e-7)
    assert np.all(np.diff(deflections / module.LOADS) < 0.0)  # it stiffens as its arm shortens
    assert strains[0] == pytest.approx(
        0.5 * module.THICKNESS * module.LOADS[0] * length / EI, rel=2e-2
    )  # at the wall; the outermost station lies a little inside
    k = np.arange(2, 12)[:, None]
    shapes, curved = (s / length) ** k, k * (k - 1) * (s / length) ** (k - 2) / length**2
    stiffness = (curved * w * EI * width) @ curved.T
    inertia = (shapes * w * mass * width) @ shapes.T
    lowest = math.sqrt(float(np.min(np.linalg.eigvals(np.linalg.solve(inertia, stiffness)).real)))
    assert frequency == pytest.approx(lowest / (2.0 * np.pi), rel=1e-6)


def test_arch_gives_back_what_it_took():
    """First law: work of the load is energy stored; an even arch has one way to snap."""
    path, ways = load("07_snap_through_arch").run(n_elements=16)
    crown = path.nodes[:, 8, 1]
    up, down = path.limits
    assert path.factor[up] == np.max(path.factor[: down + 1])
    assert path.factor[down] == np.min(path.factor[up:])
    assert (
        set(ways[:up]) == {0} and set(ways[up + 1 : down]) == {1} and set(ways[down + 1 :]) == {0}
    )
    stored = np.sum(path.energy, axis=1)
    work = np.concatenate(
        [[0.0], np.cumsum(-0.5 * (path.factor[1:] + path.factor[:-1]) * np.diff(crown))]
    )
    # trapezoids between states as far apart as the steps are
    np.testing.assert_allclose(stored - stored[0], work, atol=0.05 * np.max(stored))


def test_strut_goes_on_along_the_elastica():
    """Euler's load; beyond it ``(2 K / pi)^2`` (Timoshenko and Gere 1961)."""
    module = load("08_strut_past_buckling")
    factor, ways, branch = module.run()
    assert factor == pytest.approx(np.pi**2 / 4.0, rel=1e-8) and ways == [0, 1]
    known = (2.0 * ellipk(np.sin(0.5 * module.SLOPES) ** 2) / np.pi) ** 2
    assert branch == pytest.approx(known, rel=1e-8)


def test_own_plastic_is_as_stiff_at_rest_as_one_of_the_same_modulus():
    module = load("09_own_plastic")
    stiffness, fold = module.bent()
    same = SectionFamily.from_pipe(Pipe.from_size("3/4 in Sch 40"), Linear(2.9e9)).at(12e-3)
    assert stiffness == pytest.approx(float(same.bending_stiffness), rel=1e-9)
    assert not fold > float(same.limit)  # a plastic that gives way folds no later
    assert module.tested().design.material.stress(0.02) == pytest.approx(43.5e6)


def test_study_on_a_cluster_is_that_of_one_process():
    found = load("10_study_on_dask").run(bows=12)
    np.testing.assert_array_equal(found.figures, study(found.plan, workers=1).figures)


def test_two_bows_in_one_plotter():
    plotter, scenes = load("11_own_plotter").run(("wagtail", "lapwing"))
    picture = plotter.screenshot(None, return_img=True)
    plotter.close()
    assert [scene.state for scene in scenes] == [scenes[0].walk.draw.size - 1, 0]
    for half in (picture[:, :500], picture[:, 500:]):
        assert np.std(half) > 5.0


@pytest.mark.parametrize("picture", sorted((EXAMPLES[0].parent / "pictures").glob("*.png")))
def test_pictures_are_small(picture):
    assert picture.stat().st_size < 150_000


def test_portal_frame_sways_at_its_load():
    """S. P. Timoshenko, J. M. Gere, Theory of Elastic Stability, 1961, 2.16: kL = 2.7165."""
    module = load("12_portal_frame")
    critical = 2.7165**2
    straight = module.portal().follow([0.99 * critical, 1.01 * critical])
    assert straight.unstable.tolist() == [0, 1]
    # pushed a little, it goes to the side by as much more as it is nearer: 1 / (1 - P / P_cr)
    sideways = module.swayed().rods[0].tip[:3, 0]
    loads = np.array(module.LOADS[:3])
    grows = sideways / loads * (1.0 - loads / critical)
    assert np.ptp(grows) / np.mean(grows) < 0.02


@pytest.mark.parametrize("bent", [0.0, 0.6, 1.0, 1.8])
def test_own_outline_has_the_moment_of_its_polygon(bent):
    """Second moment of the outer boundary less that of the inner, by Green's theorem."""
    pipe = Pipe(26.67e-3, 2.87e-3)
    outline = load("13_own_outline").turned(bent, pipe)
    assert outline.perimeter == pytest.approx(pipe.mid_perimeter)
    u = np.linspace(0.0, 1.0, 20001)
    curved, g = 1.0 / max(bent, 1.0), min(bent, 1.0)
    v = np.minimum(u / curved, 1.0)
    angle = 0.5 * np.pi * (v + g * np.sin(np.pi * v) / np.pi)
    step = 0.25 * pipe.mid_perimeter * np.diff(u)
    middle = 0.5 * (angle[1:] + angle[:-1])
    y = np.concatenate([[0.0], np.cumsum(step * np.cos(middle))])
    x = np.concatenate([np.cumsum((step * np.sin(middle))[::-1])[::-1], [0.0]])

    def moment(out: float) -> float:
        """About the width axis, of a quarter: int x y^2 dy."""
        px, py = x + out * np.cos(angle), y + out * np.sin(angle)
        return float(np.sum(np.diff(py) * (px * py**2)[1:] + np.diff(py) * (px * py**2)[:-1]) / 2)

    wanted = 4.0 * (moment(0.5 * pipe.wall) - moment(-0.5 * pipe.wall))
    assert outline.second_moment_weak == pytest.approx(wanted, rel=2e-5)
    assert outline.thickness == pytest.approx(2.0 * y[-1] + pipe.wall, rel=1e-6)


def test_own_outline_flattens_as_a_family_does():
    module = load("13_own_outline")
    pipe = Pipe(26.67e-3, 2.87e-3)
    family = SectionFamily.from_pipe(pipe, shape=module.gathered, n_thickness=4)
    rigid = SectionFamily.from_pipe(pipe, shape=module.gathered, n_thickness=4, ovalise=False)
    assert family.at(20e-3).moment.max() < rigid.at(20e-3).moment.max()
    assert float(family.at(20e-3).bending_stiffness) == pytest.approx(
        2.9e9 * module.gathered(pipe, 20e-3).second_moment_weak, rel=2e-3
    )
