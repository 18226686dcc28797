"""The swept body holds the pipe's wall, and the walk's own figures on its surface."""

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.errors import InputError
from bowfem.section import pressed
from bowfem.show.swept import QUANTITIES, UNSTRUNG, SweptBow
from bowfem.show.swept_outline import tube

NAMES = ["wagtail", "dunlin", "curlew", "uneven"]


def grid(bow, state):
    import pyvista as pv

    points = bow.at(state).points.reshape(-1, 3)
    return pv.UnstructuredGrid({pv.CellType.HEXAHEDRON: bow.hexahedra}, points)


@pytest.fixture(scope="module")
def uneven(wagtail):
    """A lower limb two inches longer, of a linear material."""
    found = walk(wagtail.design.with_values({
        "handle.offset": "1 in", "material.law": "linear", "material.modulus": "2.9 GPa",
    }))  # fmt: skip
    assert not found.is_symmetric
    return found


@pytest.fixture(scope="module")
def bows(wagtail, dunlin, curlew, uneven):
    walks = zip(NAMES, (wagtail, dunlin, curlew, uneven), strict=True)
    return {name: SweptBow.from_walk(walked) for name, walked in walks}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("state", [UNSTRUNG, 0, -2])
def test_volume_is_section_area_times_length(name, state, bows):
    """Pressing keeps the wall's area, so the body is as much plastic as was cut; VTK measures."""
    bow = bows[name]
    design = bow.walk.design
    pipe = design.pipe
    area = np.pi / 4 * (pipe.outer_diameter**2 - (pipe.outer_diameter - 2 * pipe.wall) ** 2)
    state = bow.n_states - 1 if state == -2 else state
    sizes = grid(bow, state).compute_cell_sizes()["Volume"]
    # corners cut off by 48 points round the wall
    assert np.sum(sizes) == pytest.approx(area * design.pipe_choice.cut_length, rel=1e-2)
    assert np.min(sizes) > 0.0


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("cut", [False, True])
def test_skin_is_closed_and_holds_the_body(name, cut, bows):
    import pyvista as pv

    bow = bows[name]
    points = bow.at(bow.n_states - 1).points.reshape(-1, 3)
    skin = pv.PolyData.from_regular_faces(points, bow.skin(cut=cut)).clean()
    assert skin.n_open_edges == 0
    whole = np.sum(grid(bow, bow.n_states - 1).compute_cell_sizes()["Volume"])
    # quads of the skin are not flat; normals outward make the volume positive
    assert skin.volume == pytest.approx((0.5 if cut else 1.0) * whole, rel=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_fields_are_the_walks(name, bows):
    bow = bows[name]
    for state in (0, bow.n_states // 2, bow.n_states - 1):
        fields = bow.at(state).fields
        assert set(fields) == set(QUANTITIES)
        for limb, sign in ((bow.walk.limbs[0], 1.0), (bow.walk.limbs[1], -1.0)):
            at = [int(np.flatnonzero(bow.s == sign * s)[0]) for s in limb.s]
            inner = slice(1, -1)  # the ends are read off by polynomials, each figure by its own
            stress = fields["stress"][at][inner]
            found = np.sort([limb.stress_belly[state, inner], limb.stress_back[state, inner]], 0)
            scale = np.max(np.abs(found))
            assert np.min(stress, axis=(1, 2)) == pytest.approx(found[0], abs=1e-9 * scale)
            assert np.max(stress, axis=(1, 2)) == pytest.approx(found[1], abs=1e-9 * scale)
            share = np.max(fields["yield"][at][inner], axis=(1, 2))
            assert share == pytest.approx(limb.yield_share[state, inner], rel=1e-12)
            for name_, values in (
                ("fold", limb.fold_share), ("bending", limb.curvature_change),
                ("pressure", limb.pressure),
            ):  # fmt: skip
                seen = fields[name_][at, 0, 0]
                assert seen[inner] == pytest.approx(values[state, inner], rel=1e-12)


def test_the_belly_faces_the_archer_and_carries_the_bellys_stress(bows):
    """Bent toward the archer, the belly is short and the back long."""
    for bow in (bows["wagtail"], bows["curlew"], bows["uneven"]):
        belly, back = bow.around // 4, 3 * bow.around // 4
        rest = bow.at(UNSTRUNG).points
        working = np.abs(bow.s) < 0.5  # inside of it the limb stands upright
        assert np.all(rest[working, belly, 1, 0] > rest[working, back, 1, 0])
        state = bow.n_states - 1
        fields = bow.at(state).fields
        for limb, sign in ((bow.walk.limbs[0], 1.0), (bow.walk.limbs[1], -1.0)):
            at = np.searchsorted(bow.s, sign * limb.s[1:-1])
            for name, where, values in (
                ("stress", belly, limb.stress_belly), ("stress", back, limb.stress_back),
            ):  # fmt: skip
                found = fields[name][at, where, 1]
                scale = np.max(np.abs(values))  # the wall is read by cubics
                assert found == pytest.approx(values[state, 1:-1], abs=1e-6 * scale)


def test_sections_are_the_pressed_pipe(wagtail):
    """Unstrung, a section is as wide and thick as the pipe pressed there."""
    bow = SweptBow.from_walk(wagtail)
    state = bow.at(UNSTRUNG)
    design = wagtail.design
    for i in np.flatnonzero(np.abs(bow.s) > 0.1)[::7]:
        outline = pressed(design.pipe, float(design.limbs[0].thickness_at(abs(bow.s[i]))))
        ring = state.points[i]
        # straight from side to side between 97 thicknesses
        assert np.ptp(ring[..., 2]) == pytest.approx(outline.width, rel=1e-4)
        assert np.ptp(ring[..., 0]) == pytest.approx(outline.thickness, rel=1e-4)
        assert np.ptp(ring[..., 1]) < 1e-12
    assert np.all(state.fields["stress"] == 0.0)
    assert state.string.size == 0


def test_edge_on_tips_stand_on_their_edge(dunlin):
    bow = SweptBow.from_walk(dunlin)
    points = bow.at(UNSTRUNG).points
    tip = bow.s > dunlin.design.limb.tip.edge_on_from + dunlin.design.limb.tip.transition
    assert np.any(tip)
    across = np.ptp(points[tip][..., 2], axis=(1, 2))
    pressed_to = dunlin.design.limbs[0].thickness_at(bow.s[tip])
    assert across == pytest.approx(pressed_to, rel=1e-6)  # of a wall read by cubics


def test_load_thins_the_limb_and_keeps_its_perimeter(wagtail):
    bow = SweptBow.from_walk(wagtail)
    at = int(np.argmax(bow.at(bow.n_states - 1).fields["crosswise"][:, 0, 0]))
    rest, loaded = (bow.at(k).points[at] for k in (UNSTRUNG, bow.n_states - 1))
    quarter = bow.around // 4

    def thick(ring):
        return np.linalg.norm(ring[quarter, 1] - ring[3 * quarter, 1])

    def round_(ring):
        middle = ring.mean(axis=1)
        return np.sum(np.linalg.norm(middle - np.roll(middle, 1, axis=0), axis=1))

    assert 0.7 < thick(loaded) / thick(rest) < 0.999
    assert round_(loaded) == pytest.approx(round_(rest), rel=2e-3)  # chords for arcs


@pytest.mark.parametrize("name", NAMES)
def test_string_runs_from_groove_to_groove_outside_the_belly(name, bows):
    bow = bows[name]
    upper = bow.walk.limbs[0]
    for state in (0, bow.n_states - 1):
        line = bow.at(state).string
        ends = [upper.string_x[state, 0], upper.string_y[state, 0]]
        assert line[-1, :2] == pytest.approx(ends, abs=1e-7)  # nearer points are one
        lower, down = bow.walk.limbs[1], -1.0 if bow.walk.is_symmetric else 1.0
        ends = [lower.string_x[state, 0], down * lower.string_y[state, 0]]
        assert line[0, :2] == pytest.approx(ends, abs=1e-7)
        nock = [bow.walk.nock_x[state], bow.walk.nock_y[state]]
        assert np.min(np.linalg.norm(line[:, :2] - nock, axis=1)) < 1e-12
    assert len(bow.at(0).contact) == (2 if name == "curlew" else 0)
    for part in bow.at(0).contact:
        gap = np.linalg.norm(part[:, None] - bow.at(0).string[None], axis=-1).min(axis=1)
        half = 0.5 * bow.walk.design.string.thickness
        assert np.max(gap) < half + 0.012  # a wrap's points lie up to a centimetre apart


def test_tube_is_a_cylinder():
    points, cells = tube(np.array([[0.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 3.0, 0.0]]), 0.5, 96)
    a, b, c = (points[cells[:, i]] for i in range(3))
    area = np.linalg.norm(np.cross(b - a, c - b), axis=1).sum()
    assert area == pytest.approx(2 * np.pi * 0.5 * 3.0, rel=1e-3)  # chords for arcs
    assert np.sum(np.cross(b - a, c - b) * (a - [0, 1, 0]) * [1, 0, 1]) > 0  # outward


@pytest.mark.parametrize(
    ("key", "make"),
    [
        ("around", lambda walk: SweptBow.from_walk(walk, around=30)),
        ("spacing", lambda walk: SweptBow.from_walk(walk, spacing=0.0)),
        ("state", lambda walk: SweptBow.from_walk(walk).at(1000)),
    ],
)
def test_refuses(key, make, wagtail):
    with pytest.raises(InputError) as caught:
        make(wagtail)
    assert caught.value.key == key
