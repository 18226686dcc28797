"""The viewer shows the walk's states in step, off screen, and refuses in one line."""

import numpy as np
import pytest

from bowfem.errors import BowfemError, InputError
from bowfem.show.body import rendering, viewer, viewing
from bowfem.show.body.browser import web_page
from bowfem.show.body.colour_scale import scale_ends
from bowfem.show.body.exporting import export
from bowfem.show.body.quantities import (
    QUANTITIES,
    Quantity,
    own_quantity,
)
from bowfem.show.body.swept import (
    UNSTRUNG,
    Swept,
    SweptBow,
    SweptState,
)
from bowfem.show.body.viewer import Scene


@pytest.fixture(scope="module")
def scene(curlew):
    found = Scene(curlew, size=(640, 400))
    yield found
    found.plotter.close()


@pytest.fixture(scope="module")
def frames(scene):
    return dict(scene.frames())


def apex(image) -> int:
    """Column of the string's middle: the leftmost ink half way up, below the label."""
    high, wide = image.shape[:2]
    left = wide * viewer.WIDTHS[0] // sum(viewer.WIDTHS)
    band = image[int(0.35 * high) : int(0.65 * high), :left]
    dark = np.max(band, axis=2) < 190  # paper is 244, the ghost about 210
    return int(np.argmax(np.any(dark, axis=0)))


def test_frames_are_in_step_with_the_walk(frames, scene):
    walk = scene.walk
    assert list(frames) == [UNSTRUNG, *range(walk.draw.size)]
    # even steps of draw, so that even frames are an even draw
    assert np.diff(walk.draw) == pytest.approx(np.full(walk.draw.size - 1, np.diff(walk.draw)[0]))
    columns = np.array([apex(frames[state]) for state in range(walk.draw.size)])
    camera = scene.plotter.renderers[0].camera
    way = np.array(camera.focal_point) - camera.position
    side = np.cross(way, [0.0, 1.0, 0.0])
    metre = frames[0].shape[0] / (2.0 * camera.parallel_scale)  # pixels, parallel projection
    moved = (walk.nock_x - walk.nock_x[0]) * side[0] / np.linalg.norm(side) * metre
    assert np.ptp(moved) > 80
    assert columns - columns[0] == pytest.approx(moved, abs=1.5)  # a pixel at either end


def test_a_film_holds_every_state(scene, frames, tmp_path, monkeypatch):
    from PIL import Image

    monkeypatch.setattr(Scene, "frames", lambda self: iter(frames.items()))
    path = tmp_path / "film.gif"
    viewing.film(scene.walk, path)
    with Image.open(path) as film:
        assert film.n_frames == len(frames)
        for number in (0, 1, 20, film.n_frames - 1):
            film.seek(number)
            seen = np.asarray(film.convert("RGB"), dtype=float)
            apart = {state: np.mean(np.abs(seen - image)) for state, image in frames.items()}
            assert min(apart, key=apart.__getitem__) == scene.bow.states[number]
            assert apart[scene.bow.states[number]] < 2.0  # 256 colours for all


# imageio's reader leaves its pipes to the garbage collector
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_an_mp4_holds_every_state(scene, frames, tmp_path, monkeypatch):
    pytest.importorskip("imageio_ffmpeg", reason="the extra 'film' is not installed")
    imageio = pytest.importorskip("imageio.v2")
    monkeypatch.setattr(Scene, "frames", lambda self: iter(frames.items()))
    path = tmp_path / "film.mp4"
    viewing.film(scene.walk, path)
    with imageio.get_reader(path) as reader:
        seen = [np.asarray(image, dtype=float) for image in reader]
    assert len(seen) == len(frames)
    for number in (0, 1, 20, len(seen) - 1):
        apart = {state: np.mean(np.abs(seen[number] - image)) for state, image in frames.items()}
        assert min(apart, key=apart.__getitem__) == scene.bow.states[number]


def test_still_and_colours(scene, tmp_path):
    """The darkest end of the scale marks what is unstrained: unstrung, the whole limb."""
    path = tmp_path / "still.png"
    viewing.still(scene.walk, path, state=0, quantity="stress", system="metric")
    assert path.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")
    mesh = scene._pieces[0][0]
    for name in QUANTITIES:
        scene.update(UNSTRUNG, name)
        assert np.max(np.abs(mesh["shown"])) < 1e-12
    scene.update(scene.bow.n_states - 1, "yield")
    assert np.max(mesh["shown"]) == pytest.approx(
        100.0 * scene.walk.yield_share[-1], rel=1e-3
    )  # between stations the walk's ends are read off by polynomials
    assert "28 in AMO" in scene.label() and "lbf" in scene.label()
    scene.update(0)
    assert "string on the limb" in scene.label()


def test_colours_are_those_of_the_points(scene):
    """In the whole and in the close-up, at each place of the body."""
    state = scene.bow.n_states - 1
    scene.update(state, "stress")
    body = scene.bow.at(state)
    known = dict(zip(map(bytes, body.points), body.field("stress"), strict=True))
    for mesh, _ in scene._pieces:
        expected = [known[bytes(np.asarray(point))] for point in mesh.points]
        assert mesh["shown"] == pytest.approx(np.array(expected) / 6894.757, rel=1e-6)  # psi


def test_takes_and_gives_back_a_plotter(scene):
    import pyvista as pv

    plotter = pv.Plotter(off_screen=True, window_size=[400, 300])
    plotter.add_mesh(pv.Cube(), name="mine")
    assert Scene(scene.walk, "bending", plotter=plotter).plotter is plotter
    assert {"mine", "wall0", "ghost"} <= set(plotter.actors)
    assert np.ptp(plotter.screenshot(None)) > 100
    plotter.close()


def test_keeps_to_its_view_of_a_plotter(scene):
    """Two scenes and a mesh of one's own, each in its view: none touches what another shows."""
    import pyvista as pv

    plotter = pv.Plotter(shape=(1, 3), off_screen=True, window_size=[600, 200])
    scenes = []
    for view in (0, 1):
        plotter.subplot(0, view)
        scenes.append(Scene(scene.walk, "yield", plotter=plotter))
    plotter.subplot(0, 2)
    cube = pv.Cube()
    cube["heat"] = np.linspace(0.0, 7.0, cube.n_points)
    plotter.add_mesh(cube, name="mine", scalars="heat", scalar_bar_args={"title": "heat"})
    mine = plotter.renderers[2].actors["mine"].mapper
    before = tuple(mine.scalar_range), set(plotter.renderers[2].actors)
    other = tuple(plotter.renderers[1].actors["wall0"].mapper.scalar_range)
    shown = np.array(scenes[1]._pieces[0][0]["shown"])
    scenes[0].update(-1, "stress")
    assert scenes[0].state == scene.walk.draw.size - 1
    assert (tuple(mine.scalar_range), set(plotter.renderers[2].actors)) == before
    assert tuple(plotter.renderers[1].actors["wall0"].mapper.scalar_range) == other
    np.testing.assert_array_equal(scenes[1]._pieces[0][0]["shown"], shown)
    assert "heat" in plotter.scalar_bars.keys() and len(plotter.scalar_bars) == 3
    plotter.close()


@pytest.mark.parametrize("state", [1000, -1000, 0.5, "braced", True])
def test_a_state_there_is_not(scene, state):
    with pytest.raises(InputError, match=r"^state = "):
        scene.update(state)


def test_controls_move_the_walk(scene):
    scene.update(scene.bow.n_states - 1, "yield")
    scene.add_controls()
    scene.slider.GetRepresentation().SetValue(1.0)
    scene.slider.InvokeEvent("InteractionEvent")
    assert scene.state == 0
    names = list(QUANTITIES)
    for callback in scene.plotter.iren._key_press_event_callbacks["n"]:
        callback()
    assert scene.quantity == names[names.index("yield") + 1]


@pytest.mark.parametrize(
    ("largest", "name", "system", "ends"),
    [
        (0.6, "yield", "us", (0.0, 100.0)),
        (1.3, "yield", "us", (0.0, 160.0)),
        (47.2e6, "stress", "metric", (-48.0, 48.0)),
        (0.0, "pressure", "metric", (0.0, 1.0)),
    ],
)
def test_scale_ends_in_short_numbers(largest, name, system, ends):
    """And a part of another material, of which no yield is known, does not stretch it."""
    zero, unknown = np.zeros((1, 4, 2)), np.full((1, 4, 2), np.nan)
    own = Swept(np.zeros((1, 4, 2, 3)), {"yield": zero, name: zero - largest})
    other = Swept(np.zeros((1, 4, 2, 3)), {name: zero + 1e9, "yield": unknown})
    body = SweptState((own, other), np.zeros((0, 3)), (), ())
    assert scale_ends([body], name, system) == ends


@pytest.mark.parametrize(
    ("key", "call"),
    [
        ("quantity", lambda walk, path: Scene(walk, "colour")),
        ("--film", lambda walk, path: viewing.film(walk, path / "film.avi")),
        ("--still", lambda walk, path: viewing.still(walk, path / "missing" / "a.png")),
        ("--web", lambda walk, path: viewing.web(walk, path / "a.png")),
    ],
)
def test_refuses(key, call, wagtail, tmp_path):
    with pytest.raises(InputError) as caught:
        call(wagtail, tmp_path)
    assert caught.value.key == key
    assert list(tmp_path.iterdir()) == []


def test_says_where_nothing_can_be_rendered(monkeypatch, tmp_path, wagtail):
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(rendering.sys, "platform", "linux")
    monkeypatch.setenv("VTK_DEFAULT_OPENGL_WINDOW", "vtkNoneRenderWindow")
    # the one asked for is missing, what there is was not asked for
    there = {"libnone.so.0": "vtkNoneRenderWindow", "libc.so.6": "vtkOtherRenderWindow"}
    monkeypatch.setattr(rendering, "OFF_SCREEN", there)
    with pytest.raises(BowfemError, match="nothing can be rendered here") as caught:
        viewing.still(wagtail, tmp_path / "a.png")
    assert "\n" not in str(caught.value)
    monkeypatch.delenv("VTK_DEFAULT_OPENGL_WINDOW")
    monkeypatch.setattr(rendering, "OFF_SCREEN", {"libEGL.so.1": "vtkEGLRenderWindow"})
    monkeypatch.setattr(rendering, "_egl_devices", lambda library: 0)  # a library without a driver
    with pytest.raises(BowfemError, match="nothing can be rendered here"):
        viewing.still(wagtail, tmp_path / "a.png")
    for module in (rendering, viewing):
        monkeypatch.setattr(module, "find_spec", lambda name: None)
    with pytest.raises(BowfemError, match="needs pyvista"):
        viewing.still(wagtail, tmp_path / "a.png")
    with pytest.raises(BowfemError, match="imageio-ffmpeg"):
        viewing.film(wagtail, tmp_path / "a.mp4")


def test_a_quantity_of_ones_own_is_shown_like_the_others(scene, tmp_path):
    import pyvista as pv

    def stored(limb):
        return 0.5 * limb.moment * limb.curvature_change

    own_quantity("stored", Quantity("energy stored, J over m", "force", False, stored))
    try:
        limb = scene.walk.limbs[0]
        body = SweptBow.from_walk(scene.walk).at(-1)
        most = float(np.max(stored(limb)[-1]))
        assert np.nanmax(body.field("stored")) == pytest.approx(most, rel=1e-2)
        other = Scene(scene.walk, "stored", system="metric")
        assert np.max(other._pieces[0][0]["shown"]) == pytest.approx(most, rel=1e-2)
        other.plotter.close()
        assert "energy stored" in web_page(scene.walk, "stored")
        export(scene.walk, tmp_path)
        last = sorted(tmp_path.glob("state-*.vtu"))[-1]
        assert np.max(pv.read(last)["stored_SI"]) == pytest.approx(most, rel=1e-2)
    finally:
        del QUANTITIES["stored"]


@pytest.mark.parametrize(
    ("name", "quantity", "said"),
    [
        ("yield", Quantity("x", "share", False, lambda limb: limb.moment), "^name = "),
        ("mine", Quantity("x", "share", False), r"^quantity\.of = "),
        ("mine", Quantity("x", "colour", False, lambda limb: limb.moment), r"^quantity\.kind = "),
    ],
)
def test_a_quantity_that_cannot_be_shown(name, quantity, said):
    with pytest.raises(InputError, match=said):
        own_quantity(name, quantity)
    assert "mine" not in QUANTITIES
