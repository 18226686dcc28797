"""The sheet, measured in its own files: true size, marks, bars, pages that hold what they must."""

import re
import xml.etree.ElementTree as ET
import zlib

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.cli.main import main
from bowfem.design import Design, Side
from bowfem.errors import InputError
from bowfem.findings import Findings, Tillering
from bowfem.orders.weight_band import WeightBand
from bowfem.show.page.board import board_page
from bowfem.show.page.outlines import tiled
from bowfem.show.page.paper import BOX, PAPERS, text_pages, to_pdf, to_svg
from bowfem.show.page.sheet import pages
from bowfem.show.page.sheet_parts import outline, stations
from bowfem.show.page.steps import order_of_work, sheet_text, tiller_targets
from bowfem.show.page.tips import front
from bowfem.show.text.cautions import CAUTIONS

POINT = 0.0254 / 72.0  # a PDF's unit: 1/72 in (ISO 32000-1, 8.3.2.3; from memory)


def design_of(root, name):
    return Design.from_file(root / f"examples/designs/{name}.toml")


@pytest.fixture(scope="module")
def curlew(root):
    design = design_of(root, "curlew")
    return Findings.from_walk(walk(design)), WeightBand.from_design(design)


def pdf_paths(data):
    """Every polyline in a PDF, by page content, m: read from its own streams."""
    found = []
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.S):
        try:
            text = zlib.decompress(stream)
        except zlib.error:
            text = stream
        line = []
        for x, y, op in re.findall(rb"(-?[\d.]+) (-?[\d.]+) ([ml])\b", text):
            if op == b"m":
                line = []
                found.append(line)
            line.append((float(x) * POINT, float(y) * POINT))
    return [np.array(line) for line in found if len(line) > 1]


def circle(points):
    """Centre and radius of the circle through points, by linear least squares."""
    a = np.column_stack([2 * points, np.ones(len(points))])
    (x, y, c), *_ = np.linalg.lstsq(a, np.sum(points**2, axis=1), rcond=None)
    return np.array([x, y]), np.sqrt(c + x * x + y * y)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_curl_measured_in_the_pdf(curlew, paper):
    """Radii of both faces, the curl's angle and its length, to 0.1 mm, from the PDF's coordinates.

    The design says 3.65 in to the middle of a limb 0.3 in thick, turned by 75 degrees.
    """
    found = pdf_paths(to_pdf(pages(*curlew, paper), "Curlew"))
    # the last two of so many points: the bellies of the tillering board come before them
    belly, back = [line for line in found if len(line) > 300][-2:]
    radius, half, turn = 3.65 * 0.0254, 0.15 * 0.0254, np.deg2rad(75)
    axis = 0.5 * (belly + back)
    steps = np.diff(axis, axis=0)
    heading = np.unwrap(np.arctan2(steps[:, 1], steps[:, 0]))
    whole = heading[-1] - heading[0]
    assert abs(whole) == pytest.approx(turn, abs=1e-3)
    # straight, curl, straight: keep the curl's inner nine tenths
    part = np.flatnonzero(np.abs((heading - heading[0]) / whole - 0.5) < 0.45)
    for line, wanted in ((belly, radius + half), (back, radius - half)):
        middle, found_radius = circle(line[part])
        assert found_radius == pytest.approx(wanted, abs=1e-4)
        assert np.abs(np.linalg.norm(line[part] - middle, axis=1) - wanted).max() < 1e-4
    # from 20 mm before the curl to the pipe's end, which is 27 in from the centre
    length = np.sum(np.linalg.norm(steps, axis=1))
    assert length == pytest.approx((27.0 - 21.25) * 0.0254 + 0.02, abs=1e-4)
    # beyond the second mark the faces stand the limb's thickness apart
    assert np.linalg.norm(belly - back, axis=1)[part[0] :] == pytest.approx(2 * half, abs=1e-5)


def test_bars_and_paper_in_the_svg(curlew):
    """The scale bars are 100 mm and 4 in long, the page 8.5 in wide (units of an SVG: pt)."""
    tree = ET.fromstring(to_svg(pages(*curlew)[-1]))
    assert tree.get("width") == "612pt" and tree.get("height") == "792pt"
    assert tree.get("viewBox") == "0 0 612 792"
    for text, wanted in (("100 mm", 0.1), ("4 in", 0.1016)):
        (group,) = (g for g in tree.iter() if g.get("id") == f"bar {text}")
        numbers = re.findall(r"-?[\d.]+", next(p.get("d") for p in group.iter() if p.get("d")))
        x0, y0, x1, y1 = map(float, numbers)
        assert np.hypot(x1 - x0, y1 - y0) * POINT == pytest.approx(wanted, abs=1e-5)


@pytest.mark.parametrize("name", ["wagtail", "dunlin", "curlew", "lapwing"])
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_tiles_hold_the_whole_outline(root, name, paper):
    shape = outline(design_of(root, name))
    turned, tiles = tiled(shape, PAPERS[paper])
    inner = np.array(PAPERS[paper]) - 2 * 0.0127 - np.array([0.0, 0.038])
    held = np.zeros(len(turned.points), bool)
    for tile in tiles:
        held |= np.all(
            (turned.points >= tile.corner) & (turned.points <= tile.corner + inner), axis=1
        )
    assert np.all(held)
    # turning and moving keep all distances
    np.testing.assert_allclose(
        np.linalg.norm(np.diff(turned.belly, axis=0), axis=1),
        np.linalg.norm(np.diff(shape.belly, axis=0), axis=1),
        atol=1e-12,
    )


def test_stations_of_unequal_limbs(root):
    """Both ends of the pipe agree on every mark; the longer limb is the lower."""
    design = design_of(root, "lapwing")
    cut = design.pipe_choice.cut_length
    for side in Side:
        limb = stations(design, side)
        assert [each.s for each in limb] == sorted(each.s for each in limb)
        for each in limb:
            assert each.near_end + each.far_end == pytest.approx(cut)
        assert limb[-1].near_end == pytest.approx(0.0, abs=1e-12)
        assert limb[-1].what.endswith("end of pipe")
    ends = [stations(design, side)[0].near_end for side in Side]
    assert sum(ends) == pytest.approx(cut)


def test_edge_on_stands_as_deep_as_it_was_wide(root):
    rows = {each.what: each for each in stations(design_of(root, "dunlin"))}
    tip = rows["groove"]
    assert tip.pressed == pytest.approx(0.4 * 0.0254, rel=1e-6)
    assert tip.width == pytest.approx(tip.pressed, rel=1e-3)
    # the mid-wall's perimeter is kept (D): flats and rounded sides, good to a few per cent
    pipe = design_of(root, "dunlin").pipe
    height = tip.pressed - pipe.wall
    flat = 0.5 * np.pi * (pipe.mid_diameter - height) + height + pipe.wall
    assert tip.thickness == pytest.approx(flat, rel=0.04)


def test_texts_do_not_overlap_and_stay_on_the_page(root):
    for name, paper in (("dunlin", "a4"), ("curlew", "letter"), ("lapwing", "letter")):
        design = design_of(root, name)
        walked, band = walk(design), WeightBand.from_design(design)
        for figure in pages(Findings.from_walk(walked), band, paper):
            figure.canvas.draw()
            frame = figure.bbox
            boxes = []
            texts = [*figure.texts, *(t for ax in figure.axes for t in ax.texts)]
            for text in texts:
                if not text.get_text().strip() or not text.get_visible():
                    continue
                box = text.get_window_extent()
                axes = text.axes
                if axes is not None and text.get_clip_on() and not axes.bbox.overlaps(box):
                    continue
                assert frame.x0 <= box.x0 and box.x1 <= frame.x1, text.get_text()
                boxes.append((text.get_text(), box.shrunk(0.9, 0.7)))
            for i, (a, one) in enumerate(boxes):
                for b, other in boxes[i + 1 :]:
                    assert not one.overlaps(other), (name, a, b)


def test_band(root):
    design = design_of(root, "wagtail")
    band = WeightBand.from_design(design)
    assert band.low < band.weight < band.high
    assert band.weight == pytest.approx(walk(design).force[-1], rel=1e-6)
    # at a brace height the weight goes with the stiffness of the plastic: but for the string's give
    spread = np.log(3.7 / 2.5) / np.sqrt(12)  # even, over the moduli in print
    assert band.causes[0].deviation / band.weight == pytest.approx(spread, rel=0.03)
    # rough sensitivity of a linear model: wall 0.010 in, 4 % (D); evenly spread over twice that
    assert band.causes[2].deviation / band.weight == pytest.approx(0.04 / 3**0.5, abs=0.012)
    # independent causes add as the root of the sum of squares; 95 % within 1.96 of it
    whole = np.sqrt(sum(cause.deviation**2 for cause in band.causes))
    assert band.high - band.weight == pytest.approx(1.96 * whole)
    assert band.weight - band.low == pytest.approx(1.96 * whole)
    measured = design.with_values({"pipe.outer_diameter": "26.7 mm", "pipe.wall": "3.1 mm"})
    assert len(WeightBand.from_design(measured).causes) == 2


def test_command(root, tmp_path, capsys):
    design = str(root / "examples/designs/curlew.toml")
    once, again = tmp_path / "a", tmp_path / "b"
    for folder in (once, again):
        assert main(["sheet", design, "--out", str(folder), "--paper", "a4"]) == 0
    assert "sheet.pdf" in capsys.readouterr().out
    names = sorted(path.name for path in once.iterdir())
    assert names == [*(f"sheet-{n}.svg" for n in range(1, 7)), "sheet.pdf"]
    for name in names:
        assert (once / name).read_bytes() == (again / name).read_bytes()
    pdf = (once / "sheet.pdf").read_bytes()
    assert pdf.startswith(b"%PDF") and re.search(rb"/MediaBox \[ ?0 0 595\.\d+ 841\.\d+ ?\]", pdf)


@pytest.mark.parametrize(
    ("words", "told"),
    [(["--out", "/dev/null/x"], "--out"), ([], "--out"), (["--out", "x", "--paper", "a5"], "a5")],
)
def test_command_refuses(root, capsys, words, told):
    assert main(["sheet", str(root / "examples/designs/curlew.toml"), *words]) == 2
    assert told in capsys.readouterr().err


def test_a_bow_that_cannot_be_drawn_gets_no_sheet(root, tmp_path, capsys):
    short = design_of(root, "wagtail").with_values(
        {"pipe.cut_length": "38 in", "limb.marks.2.at": "18 in"}
    )
    path = tmp_path / "short.toml"
    short.to_file(path)
    assert main(["sheet", str(path), "--out", str(tmp_path / "out")]) == 3
    assert not (tmp_path / "out").exists()
    assert "cannot be drawn" in capsys.readouterr().err


def test_order_of_work_holds_every_step_and_caution(root):
    for name, wanted in (("dunlin", "BEND TURN"), ("lapwing", "SLEEVES STRIPS"), ("curlew", "")):
        design = design_of(root, name)
        found = Findings.from_walk(walk(design))
        steps = order_of_work(found, WeightBand.from_design(design), "us")
        titles = " ".join(step.title for step in steps)
        always = "MEASURE CUT MARK PRESS NOCKS STRING BRACE TILLER WEIGH LABEL"
        for word in [*always.split(), *wanted.split()]:
            assert word in titles, (name, word)
        told = [caution for step in steps for caution in step.cautions]
        assert set(told) == set(CAUTIONS)
        text = "\n".join(step.text(n) for n, step in enumerate(steps, 1))
        assert text.count(BOX) == len(steps)
        assert max(map(len, text.splitlines())) <= 92
    # what comes before: the plastic is hot before it is under load
    assert titles.index("PRESS") < titles.index("BRACE") < titles.index("TILLER")


def test_further_press_stops_at_shut(root):
    design = design_of(root, "curlew").with_values(
        {"limb.marks.2.thickness": "0.26 in", "limb.marks.3.thickness": "0.25 in"}
    )
    found = Findings.from_walk(walk(design))
    steps = order_of_work(found, WeightBand.from_design(design), "us")
    (mark,) = (step for step in steps if step.title == "MARK")
    rows = {
        cells[0]: cells[1].split()
        for cells in (
            re.split(r"  +", line.strip(), maxsplit=1) for line in mark.table.splitlines()
        )
        if len(cells) == 2
    }
    shut = 2 * design.pipe.wall / 0.0254
    assert rows["mark 1"][3:5] == ["0.800", "0.740"]
    assert float(rows["mark 2"][4]) == pytest.approx(shut, abs=6e-4)  # not 7.5 % further
    assert rows["mark 3"][4] == "-" and rows["centre"][4] == "-"


def test_pages_break_between_steps_and_none_is_empty(curlew):
    blocks = sheet_text(*curlew, "us")
    made = text_pages(blocks, PAPERS["letter"])
    first = [figure.texts[0].get_text() for figure in made]
    assert all(text.strip() for text in first)
    assert all(text.startswith(BOX) for text in first[1:])
    lines = [text.get_text() for figure in made for text in figure.texts]
    assert [line for line in lines if line] == [
        line for line in "\n".join(blocks).splitlines() if line
    ]
    long = text_pages(["\n".join(str(n) for n in range(200))], PAPERS["a4"])
    assert [text.get_text() for page in long for text in page.texts] == list(map(str, range(200)))


def test_tiller_at_brace_is_that_of_a_straight_string(root):
    """Belly of the limb as it stands, string straight between the limbs: plane geometry."""
    found = walk(design_of(root, "wagtail"))
    got = Tillering.from_walk(found)
    limb = found.limbs[0]
    assert got.draw[0] == found.draw[0] and got.draw[-1] == found.draw[-1]
    assert got.weight[-1] == pytest.approx(found.force[-1]) and got.weight[0] == 0.0
    amo = (got.draw[1:-1] + 1.75 * 0.0254) / 0.0254
    assert amo == pytest.approx(np.round(amo), abs=1e-9)
    surface = 0.5 * (limb.thickness + found.design.string.thickness)  # where a string would lie
    wanted = found.nock_x[0] - limb.x[0] - surface * np.cos(limb.angle[0])
    assert got.gaps[0][0] == pytest.approx(np.interp(got.places[0], limb.s, wanted), abs=1e-5)
    assert np.array_equal(got.gaps[0], got.gaps[1])
    # a state of the walk, read without any curve through the draws
    again = Tillering.from_walk(found, 1)
    last = np.interp(again.places[0], limb.s, limb.clearance[-1])
    assert again.gaps[0][-1] == pytest.approx(last, abs=1e-9)


def test_tillering_refuses(root):
    found = walk(design_of(root, "wagtail"))
    with pytest.raises(InputError, match="count"):
        Tillering.from_walk(found, 0)


def test_board_is_drawn_to_its_scale(curlew):
    """The string at brace stands its brace height from the pivot, on paper at the scale told."""
    findings, _ = curlew
    figure = board_page(findings, tiller_targets(findings, "us"), PAPERS["letter"], "us")
    (told,) = (t.get_text() for t in figure.texts if "1 :" in t.get_text())
    scale = float(re.search(r"1 : ([\d.]+)", told).group(1))
    (ax,) = figure.axes
    inches = figure.get_size_inches()[0] * ax.get_position().width
    assert np.ptp(ax.get_xlim()) / (inches * 0.0254) == pytest.approx(scale)
    assert np.ptp(ax.get_ylim()) / (
        figure.get_size_inches()[1] * ax.get_position().height * 0.0254
    ) == pytest.approx(scale)
    handles = [line for line in ax.lines if line.get_gid() == "belly 0"]
    belly = float(handles[0].get_xdata()[0])
    pivot = findings.walk.design.pivot_distance
    assert belly == pytest.approx(0.5 * findings.walk.design.pipe.outer_diameter, abs=1e-4)
    string = next(line for line in ax.lines if line.get_color() == "#b8860b")
    middle = string.get_xdata()[len(string.get_xdata()) // 2]
    assert middle - pivot == pytest.approx(findings.walk.brace_height, abs=1e-6)
    # from the drawn belly to the drawn string, nearest: the gap told, but for half the string
    last = next(line for line in ax.lines if line.get_gid() == "belly 3").get_xydata()
    string = [line for line in ax.lines if line.get_color() == "#b8860b"][3].get_xydata()
    tiller = tiller_targets(findings, "us")
    limb = findings.walk.limbs[0]
    fine = np.linspace(string[:-1], string[1:], 200).reshape(-1, 2)
    for place, gap in zip(tiller.places[0][:2], tiller.gaps[0][3][:2], strict=True):
        at = [np.interp(place, limb.s, last[:, i]) for i in range(2)]
        nearest = np.min(np.linalg.norm(fine - at, axis=1))
        assert nearest - 0.5 * findings.walk.design.string.thickness == pytest.approx(gap, abs=1e-3)


def test_nock_from_the_front(root):
    design = design_of(root, "curlew").with_values({"nock.width": "0.75 in"})
    to, half = front(design, None)
    at = int(np.argmin(np.abs(to - 0.75 * 0.0254)))
    assert half[0] == pytest.approx(0.375 * 0.0254)
    assert half[0] - half[at] == pytest.approx(0.3 * half[0], rel=1e-3)  # 3/16 in, were it wider
    wide = stations(design)[-1].width
    assert half[-1] == pytest.approx(0.5 * wide, rel=1e-3)
    to, half = front(design_of(root, "curlew"), None)
    assert half[0] - half[at] == pytest.approx(3 / 16 * 0.0254, rel=1e-3)
