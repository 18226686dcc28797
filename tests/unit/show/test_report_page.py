"""The report is one whole page: its structure, its figures, and a real browser's view of it."""

import base64
import dataclasses
import re
from html.parser import HTMLParser

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.design import Design
from bowfem.errors import BowfemError
from bowfem.findings import Findings, SectionState, hot_spots
from bowfem.show.body import viewer
from bowfem.show.page.report import report_page
from bowfem.show.text.cautions import CAUTIONS
from bowfem.units import convert

VOID = {"meta", "img", "br", "link", "input", "hr"}
HEADINGS = [
    "Warnings",
    "What was asked",
    "What comes out",
    "What limits this bow",
    "Marks",
    "Pictures",
    "What time does",
    "Cautions",
    "How this was computed",
]


class Page(HTMLParser):
    """Read a page; every element is closed in order."""

    def __init__(self, text):
        super().__init__()
        self.open, self.headings, self.images, self.rows, self.words = [], [], [], [], []
        self.outside = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        if tag == "img":
            assert given["alt"]
            self.images.append(given["src"])
        self.outside += [given[key] for key in ("src", "href") if key in given]
        if tag not in VOID:
            self.open.append(tag)
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
        if tag in ("h1", "h2"):
            self.headings.append("")

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open and self.open[-1] in ("td", "th"):
            self.rows[-1][-1] += data
        if self.open and self.open[-1] in ("h1", "h2"):
            self.headings[-1] += data
        if self.open and self.open[-1] not in ("style", "title"):
            self.words.append(data)

    @property
    def text(self):
        return re.sub(r"\s+", " ", " ".join(self.words))


@pytest.fixture(scope="module")
def pages(wagtail, dunlin, curlew, giving_way, findings):
    walks = {"wagtail": wagtail, "dunlin": dunlin, "curlew": curlew, "giving_way": giving_way}
    systems = {"dunlin": "metric"}
    return {
        name: (
            walk,
            report_page(
                findings(walk), SectionState.worst(walk, hot_spots(walk)), systems.get(name, "us")
            ),
        )
        for name, walk in walks.items()
    }


@pytest.mark.parametrize("name", ["wagtail", "dunlin", "curlew", "giving_way"])
def test_page_is_whole_and_stands_alone(name, pages):
    walk, text = pages[name]
    page = Page(text)
    assert page.headings == [walk.design.name, *HEADINGS]
    pictures = {"wagtail": 8, "dunlin": 9, "curlew": 10, "giving_way": 8}
    assert len(page.images) == pictures[name]
    for source in page.images:
        kind, code = source.split(",")
        assert kind == "data:image/png;base64"
        assert base64.b64decode(code).startswith(b"\x89PNG\r\n\x1a\n")
    assert all(source.startswith("data:") for source in page.outside)
    assert "http" not in re.sub(r"base64,[^\"]+", "", text)
    for caution in CAUTIONS:
        assert caution in page.text
    assert "nan" not in page.text.split()
    assert len(text) < 3 * 2**20


@pytest.mark.parametrize(("name", "system"), [("wagtail", "us"), ("dunlin", "metric")])
def test_table_of_marks_is_the_designs_and_the_walks(name, system, pages):
    walk, text = pages[name]
    rows = Page(text).rows
    start = next(i for i, row in enumerate(rows) if row[0] == "mark")
    limb, shape = walk.limbs[0], walk.design.limbs[0]
    for number, mark in enumerate(shape.limb.marks, 1):
        row = rows[start + number]
        assert row[0] == str(number)
        assert float(row[1]) == pytest.approx(convert(mark.at, "length", system), abs=0.5)
        thickness = convert(shape.thickness_at(mark.at), "length", system)
        assert float(row[2]) == pytest.approx(float(thickness), rel=5e-3)  # printed digits
        stress = convert(np.interp(mark.at, limb.s, limb.stress_back[-1]), "stress", system)
        assert float(row[5]) == pytest.approx(float(stress), abs=0.51)  # printed digits
        # of yield, which is not of folding: far more of it is used up
        share = 100.0 * np.interp(mark.at, limb.s, limb.yield_share[-1])
        assert float(row[7]) == pytest.approx(float(share), abs=0.51)
        fold = 100.0 * np.interp(mark.at, limb.s, limb.fold_share[-1])
        if share > 5.0:
            assert abs(float(row[7]) - fold) > 1.0


def test_says_what_comes_out_and_what_limits(pages):
    walk, text = pages["wagtail"]
    page = Page(text)
    weight = f"{walk.force[-1] / 4.4482216152605:.1f} lbf at 28 in AMO"
    assert page.text.count(weight) >= 1
    spot = hot_spots(walk)[0]
    where = f"{spot.s / 0.0254:.1f} in from the centre, nearest to mark 1"
    assert f"worked hardest {where}" in page.text
    assert ("Nothing beyond the cautions" in page.text) != ("A crease is likely" in page.text)
    walk, text = pages["giving_way"]
    page = Page(text)
    assert "The walk stopped early" in page.text
    assert "Strained past yield" in page.text
    assert "Nothing beyond" not in page.text


def test_the_design_reads_back(pages):
    walk, text = pages["curlew"]
    (code,) = re.findall(r"<pre>(.*?)</pre>", text, re.S)
    import html

    assert Design.from_toml(html.unescape(code)) == walk.design


def test_text_from_outside_is_no_markup(wagtail, monkeypatch):
    monkeypatch.setattr("bowfem.show.page.report._pictures", lambda *args: [])
    design = dataclasses.replace(
        wagtail.design, name="<b>&\x1b[31m", notes="<script>alert(1)</script>\n\nsecond\nline"
    )
    text = report_page(Findings.from_walk(dataclasses.replace(wagtail, design=design)))
    assert "<script" not in text and "\x1b" not in text
    assert Page(text).headings[0] == "<b>&?[31m"
    assert "<p>second line</p>" in text.replace("\n", " ")


def test_does_without_a_renderer(wagtail, monkeypatch, findings):
    def refuse(*, window=False):
        raise BowfemError("nothing can be rendered here")

    monkeypatch.setattr(viewer, "check_rendering", refuse)
    page = Page(report_page(findings(wagtail)))
    assert "Without a picture of the body: nothing can be rendered here." in page.text
    assert len(page.images) == 5


def test_a_browser_lays_it_out_for_print(pages, tmp_path, browser):
    page, text = Page(pages["curlew"][1]), pages["curlew"][1]
    path, printed = tmp_path / "page.html", tmp_path / "page.pdf"
    path.write_text(text, encoding="utf-8")
    browser(path, f"--print-to-pdf={printed}")
    data = printed.read_bytes()
    assert data.startswith(b"%PDF-")
    assert data.count(b"/Subtype /Image") >= len(page.images)
    # pictures share sheets, or what is told between them would come on top
    sheets = len(re.findall(rb"/Type /Page\b", data))
    assert len(page.images) / 2 <= sheets <= len(page.images) + 1


def test_warnings_are_seen_without_scrolling(root, tmp_path, browser, findings):
    """On a screen of 1366 x 768 the page opens with verdict and warning."""
    design = Design.from_file(root / "examples/designs/wagtail.toml")
    past = walk(design.with_values({"draw.length": "32 in", "handle.fade": "20 mm"}))
    told = findings(past)
    assert told.warnings
    script = """<script>addEventListener("load", () => {
      const at = text => [...document.querySelectorAll("body *")].filter(each =>
        !each.children.length && each.textContent.includes(text)).map(each =>
        each.getBoundingClientRect().bottom)[0];
      document.body.dataset.told = [at("lbf"), at("Warning"), innerHeight].join(" ");
    });</script>"""
    path = tmp_path / "page.html"
    path.write_text(report_page(told).replace("</body>", script + "</body>"), encoding="utf-8")
    seen = browser(path, "--window-size=1366,768", "--virtual-time-budget=4000", "--dump-dom")
    weight, warning, high = map(float, re.search(r'data-told="([^"]+)"', seen)[1].split())
    assert weight < warning < high
