"""The swept body holds the pipe's wall, and the walk's own figures on its surface."""

import numpy as np
import pytest
import pyvista as pv

from bowfem.bow import walk
from bowfem.errors import InputError
from bowfem.section import pressed
from bowfem.show.body.outline import tube
from bowfem.show.body.quantities import (
    QUANTITIES,
)
from bowfem.show.body.swept import (
    UNSTRUNG,
    SweptBow,
)

NAMES = ["wagtail", "dunlin", "curlew", "uneven"]


def grid(bow, state):
    points = bow.at(state).points
    return pv.UnstructuredGrid({pv.CellType.HEXAHEDRON: bow.hexahedra}, points)


@pytest.fixture(scope="module")
def uneven(wagtail):
    """A lower limb two inches longer, of a linear material."""
    found = walk(
        wagtail.design.with_values(
            {
                "handle.offset": "1 in",
                "material.law": "linear",
                "material.modulus": "2.9 GPa",
            }
        )
    )
    assert not found.is_symmetric
    return found


@pytest.fixture(scope="module")
def bows(wagtail, dunlin, curlew, uneven):
    walks = zip(NAMES, (wagtail, dunlin, curlew, uneven), strict=True)
    return {name: SweptBow.from_walk(walked) for name, walked in walks}


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("state", [UNSTRUNG, 0, -1])
def test_volume_is_section_area_times_length(name, state, bows):
    """Pressing keeps the wall's area, so the body is as much plastic as was cut; VTK measures."""
    bow = bows[name]
    design = bow.walk.design
    pipe = design.pipe
    area = np.pi / 4 * (pipe.outer_diameter**2 - (pipe.outer_diameter - 2 * pipe.wall) ** 2)
    sizes = grid(bow, state).compute_cell_sizes()["Volume"]
    # corners cut off by 48 points round the wall
    assert np.sum(sizes) == pytest.approx(area * design.pipe_choice.cut_length, rel=1e-2)
    assert np.min(sizes) > 0.0


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("cut", [False, True])
def test_skin_is_closed_and_holds_the_body(name, cut, bows):
    bow = bows[name]
    points = bow.at(bow.n_states - 1).points
    skin = pv.PolyData.from_regular_faces(points, bow.skin(cut=cut)).clean()
    assert skin.n_open_edges == 0
    whole = np.sum(grid(bow, bow.n_states - 1).compute_cell_sizes()["Volume"])
    # quads of the skin are not flat; normals outward make the volume positive
    assert skin.volume == pytest.approx((0.5 if cut else 1.0) * whole, rel=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_fields_are_the_walks(name, bows):
    bow = bows[name]
    for state in (0, bow.n_states // 2, bow.n_states - 1):
        fields = bow.at(state).parts[0].fields
        assert set(fields) == set(QUANTITIES)
        for limb, sign in ((bow.walk.limbs[0], 1.0), (bow.walk.limbs[1], -1.0)):
            inner = limb.inside  # the rest is read off by polynomials, each figure by its own
            at = [int(np.flatnonzero(bow.s == sign * s)[0]) for s in limb.s[inner]]
            stress = fields["stress"][at]
            found = np.sort([limb.stress_belly[state, inner], limb.stress_back[state, inner]], 0)
            scale = np.max(np.abs(found))
            assert np.min(stress, axis=(1, 2)) == pytest.approx(found[0], abs=1e-9 * scale)
            assert np.max(stress, axis=(1, 2)) == pytest.approx(found[1], abs=1e-9 * scale)
            share = np.max(fields["yield"][at], axis=(1, 2))
            assert share == pytest.approx(limb.yield_share[state, inner], rel=1e-12)
            for name_, values in (
                ("fold", limb.fold_share),
                ("bending", limb.curvature_change),
                ("pressure", limb.pressure),
            ):
                seen = fields[name_][at, 0, 0]
                assert seen == pytest.approx(values[state, inner], rel=1e-12)


def test_sleeves_rods_and_strips_are_as_much_stuff_as_they_are(laden):
    """Ring, circle and plate over their lengths (textbook areas), each once a limb; VTK measures.

    The strip is as wide as the pressed pipe. What a wrap weighs fills no volume.
    """
    bow = SweptBow.from_walk(laden)
    inch, around = 0.0254, bow.parts[0].around
    assert [part.name for part in bow.parts] == ["pipe", *2 * ["sleeve", "rod", "sleeve", "strip"]]
    chords = np.sin(2 * np.pi / around) * around / (2 * np.pi)  # of a round one, for its arcs
    s = np.linspace(6 * inch, 12 * inch, 301)
    pressed_to = laden.design.limbs[0].thickness_at(s)
    widths = [pressed(laden.design.pipe, float(t)).width for t in pressed_to]
    expected = [
        np.pi * 30e-3 * 3e-3 * 2 * inch * chords,
        np.pi * 9e-3**2 * 0.3 * inch * chords,
        np.pi * 18e-3 * 1e-3 * 3 * inch,
        0.6e-3 * np.trapezoid(widths, s),
    ]
    for state in (UNSTRUNG, bow.n_states - 1):
        body, added = bow.at(state), 0.0
        for number, (part, swept) in enumerate(zip(bow.parts[1:], body.parts[1:], strict=True)):
            kinds = {pv.CellType.HEXAHEDRON: part.hexahedra}
            one = pv.UnstructuredGrid(kinds, swept.points.reshape(-1, 3))
            sizes = one.compute_cell_sizes()["Volume"]
            assert np.min(sizes) > 0.0
            added += np.sum(sizes)
            # bent, the strip on the back is longer than the axis it is measured along, by 2 %;
            # round a pressed wall chords lack as much as round a circle at most
            rel = 3e-2 if part.name == "strip" and state != UNSTRUNG else 1.1 * (1.0 - chords)
            assert np.sum(sizes) == pytest.approx(expected[number % 4], rel=rel)
            skin = pv.PolyData.from_regular_faces(swept.points.reshape(-1, 3), part.skin()).clean()
            # the hair-thin bore of a rod is shut by cleaning
            assert part.name == "rod" or skin.n_open_edges == 0
            assert skin.volume == pytest.approx(np.sum(sizes), rel=1e-3)
        assert len(body.wraps) == 2
        skin = pv.PolyData.from_regular_faces(body.points, bow.skin()).triangulate()
        kept = grid(bow, state).compute_cell_sizes()["Volume"]
        pipe = np.sum(kept[: len(bow.parts[0].hexahedra)])
        assert np.sum(kept) == pytest.approx(pipe + added, rel=1e-9)
        assert skin.volume == pytest.approx(pipe + added, rel=1e-3)


def test_parts_lie_where_they_are_put(laden):
    """Over, inside, on the back; stress is the law's at the strain there, yield its own."""
    bow = SweptBow.from_walk(laden)
    body = bow.at(bow.n_states - 1)
    limb = laden.limbs[0]
    _, *added = zip(bow.parts, body.parts, strict=True)
    over, rod, inside, strip = added[4:]  # of the upper limb
    for part, swept in (over, rod, inside, strip):
        out, to = 1e3 * bow.s[[part.first, part.last]] / 25.4
        name = {
            "sleeve": (0.0, 2.0) if part is over[0] else (8.0, 11.0),
            "rod": (2.2, 2.5),
            "strip": (6.0, 12.0),
        }[part.name]
        assert (out, to) == pytest.approx(name, abs=1e-4)
        pipe = body.parts[0].points[part.first : part.last + 1]
        quarter = bow.parts[0].around // 4
        belly, back = pipe[:, quarter], pipe[:, 3 * quarter]
        out = (belly[:, 1] - back[:, 1]) / np.linalg.norm(belly[:, 1] - back[:, 1], axis=1)[:, None]
        highest, lowest = (
            f(np.einsum("kjlx,kx->kjl", swept.points - back[:, None, None, 1], out), axis=(1, 2))
            for f in (np.max, np.min)
        )
        thick = np.linalg.norm(belly[:, 1] - back[:, 1], axis=1)
        wall = laden.design.pipe.wall
        if part is over[0]:
            assert np.all(lowest < -1e-3) and np.all(highest > thick + 1e-3)
            # the walk's fibres are those of the sleeve
            at = np.searchsorted(bow.s[part.first : part.last + 1], limb.s[limb.inside][:3])
            seen = np.nanmax(swept.fields["yield"][at], axis=(1, 2))
            assert seen == pytest.approx(limb.yield_share[-1, limb.inside][:3], rel=1e-9)
        elif part.name == "strip":
            assert highest == pytest.approx(np.zeros(highest.size), abs=1e-5)
            assert lowest == pytest.approx(np.full(lowest.size, -0.6e-3), abs=1e-5)
            strain = swept.fields["stress"] / 20e9
            assert np.all(strain > limb.strain_back[-1].min())
            at = np.searchsorted(bow.s[part.first : part.last + 1], limb.s)
            near = limb.inside & (limb.s > 0.16) & (limb.s < 0.3)
            seen = np.max(strain[at[near]], axis=(1, 2))
            assert np.all(seen > limb.strain_back[-1, near])  # farther out than the back
        else:
            assert np.all(lowest > 0.95 * wall) and np.all(highest < thick - 0.95 * wall)
        known = part.name == "sleeve"
        assert np.all(np.isnan(swept.fields["yield"]) != known)
    # the string runs clear of the sleeve: the wrap is wound round that
    (wrap,) = [each for each in bow.at(UNSTRUNG).wraps if each[0, 0, 1] > 0]
    assert np.ptp(wrap[0, :, 2]) == pytest.approx(33e-3 + 0.8e-3, rel=1e-6)


def test_the_belly_faces_the_archer_and_carries_the_bellys_stress(bows):
    """Bent toward the archer, the belly is short and the back long."""
    for bow in (bows["wagtail"], bows["curlew"], bows["uneven"]):
        belly, back = bow.parts[0].around // 4, 3 * bow.parts[0].around // 4
        rest = bow.at(UNSTRUNG).parts[0].points
        working = np.abs(bow.s) < 0.5  # inside of it the limb stands upright
        assert np.all(rest[working, belly, 1, 0] > rest[working, back, 1, 0])
        state = bow.n_states - 1
        fields = bow.at(state).parts[0].fields
        for limb, sign in ((bow.walk.limbs[0], 1.0), (bow.walk.limbs[1], -1.0)):
            at = np.searchsorted(bow.s, sign * limb.s[limb.inside])
            for name, where, values in (
                ("stress", belly, limb.stress_belly),
                ("stress", back, limb.stress_back),
            ):
                found = fields[name][at, where, 1]
                scale = np.max(np.abs(values))  # the wall is read by cubics
                assert found == pytest.approx(values[state, limb.inside], abs=1e-6 * scale)


def test_sections_are_the_pressed_pipe(wagtail):
    """Unstrung, a section is as wide and thick as the pipe pressed there."""
    bow = SweptBow.from_walk(wagtail)
    state = bow.at(UNSTRUNG)
    pipe = state.parts[0]
    design = wagtail.design
    for i in np.flatnonzero(np.abs(bow.s) > 0.1)[::7]:
        outline = pressed(design.pipe, float(design.limbs[0].thickness_at(abs(bow.s[i]))))
        ring = pipe.points[i]
        # straight from side to side between 97 thicknesses
        assert np.ptp(ring[..., 2]) == pytest.approx(outline.width, rel=1e-4)
        assert np.ptp(ring[..., 0]) == pytest.approx(outline.thickness, rel=1e-4)
        assert np.ptp(ring[..., 1]) < 1e-12
    assert np.all(pipe.fields["stress"] == 0.0)
    assert state.string.size == 0


def test_edge_on_tips_stand_on_their_edge(dunlin):
    bow = SweptBow.from_walk(dunlin)
    points = bow.at(UNSTRUNG).parts[0].points
    tip = bow.s > dunlin.design.limb.tip.edge_on_from + dunlin.design.limb.tip.transition
    assert np.any(tip)
    across = np.ptp(points[tip][..., 2], axis=(1, 2))
    pressed_to = dunlin.design.limbs[0].thickness_at(bow.s[tip])
    assert across == pytest.approx(pressed_to, rel=1e-6)  # of a wall read by cubics


def test_load_thins_the_limb_and_keeps_its_perimeter(wagtail):
    bow = SweptBow.from_walk(wagtail)
    at = int(np.argmax(bow.at(bow.n_states - 1).parts[0].fields["crosswise"][:, 0, 0]))
    rest, loaded = (bow.at(k).parts[0].points[at] for k in (UNSTRUNG, bow.n_states - 1))
    quarter = bow.parts[0].around // 4

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
