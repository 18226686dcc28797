"""The page to turn holds the walk's states in step, stands alone, and a real browser draws it."""

import base64
import dataclasses
import gzip
import json
import re

import numpy as np
import pytest

from bowfem.show.body.browser import AROUND, SPACING, web_page
from bowfem.show.body.quantities import (
    QUANTITIES,
)
from bowfem.show.body.swept import (
    UNSTRUNG,
    SweptBow,
)
from bowfem.units import convert


@pytest.fixture(scope="module")
def page(curlew) -> str:
    return web_page(curlew, "stress", system="metric")


def unpacked(page):
    """Read the page as its script does: what it is about, and the arrays it names."""
    about = json.loads(re.search(r"^const about = (.*);$", page, re.M).group(1))
    data = gzip.decompress(
        base64.b64decode(re.search(r'^const packed = "(.*)";$', page, re.M).group(1))
    )

    def read(at):
        kind, first, count = at
        return np.frombuffer(data, np.dtype(kind).newbyteorder("<"), count, first)

    return about, read


def test_holds_every_state_of_the_walk(page, curlew):
    about, read = unpacked(page)
    bow = SweptBow.from_walk(curlew, AROUND, SPACING)
    assert len(about["states"]) == curlew.draw.size + 1
    tall = max(np.ptp(bow.at(state).points[:, 1]) for state in (UNSTRUNG, 0, bow.n_states - 1))
    names = list(QUANTITIES)
    assert about["quantity"] == names.index("stress")
    for number in (0, 1, len(about["states"]) // 2, len(about["states"]) - 1):
        body, told = bow.at(bow.states[number]), about["states"][number]
        seen = read(told["points"]).reshape(-1, 3).astype(float)
        # one scale for all, whatever it is, and no place off by more than half an integer
        scale = 64000.0 / tall
        moved = seen - body.points * scale
        assert np.max(np.abs(moved - np.mean(moved, axis=0))) < 1.0
        for name, at, shown in zip(names, told["fields"], about["quantities"], strict=True):
            ends = [float(shown["ticks"][i].split()[0]) for i in (0, -1)]
            value = ends[0] + read(at) / 254.0 * (ends[1] - ends[0])
            expected = convert(body.field(name), QUANTITIES[name].kind, "metric")
            assert value == pytest.approx(expected, abs=0.51 * (ends[1] - ends[0]) / 254.0)
        cells = read(about["whole"])
        assert cells.max() < len(seen)
    lengths = [re.search(r"([\d.]+) mm AMO", each["said"]) for each in about["states"][1:]]
    draws = 1e3 * (curlew.draw + 0.04445)  # AMO draw is 1.75 in more (standard, S)
    assert [float(found.group(1)) for found in lengths] == pytest.approx(draws, abs=0.06)
    marks = [
        any(each["colour"] != [26 / 255] * 3 + [1.0] for each in state["added"])
        for state in about["states"]
    ]
    found = [bool(bow.at(state).contact) for state in bow.states]
    assert marks == found and any(found) and not all(found)


def test_stands_alone_and_escapes(curlew, page):
    design = dataclasses.replace(curlew.design, name="</script><b>")
    named = web_page(dataclasses.replace(curlew, design=design))
    assert named.count("</script>") == 1 and "<b>" not in named
    assert "&lt;/script&gt;" in named
    for text in (page, named):
        assert not re.search(r"@[a-z]+@|https?:|src=|import ", text)


def test_a_browser_draws_it(page, tmp_path, browser):
    from matplotlib.image import imread

    path = tmp_path / "page.html"
    path.write_text(page, encoding="utf-8")
    picture = tmp_path / "seen.png"
    options = ("--window-size=800,600", "--virtual-time-budget=8000")
    browser(path, *options, f"--screenshot={picture}")
    image = imread(picture)[..., :3]
    paper = np.array([0xF4, 0xF1, 0xEA]) / 255.0
    high, wide = image.shape[:2]
    view = image[: high // 2]  # above the controls, below and beside the words
    ink = np.max(np.abs(view[high // 6 :, wide // 3 :] - paper), axis=-1) > 0.1
    assert 0.005 < np.mean(ink) < 0.2
    # the string comes to the nock point far on the archer's side of the limb
    columns = np.flatnonzero(np.any(ink, axis=0))
    assert np.ptp(columns) > 0.12 * wide


#: Run in the page: fingers and keys as a person's, then what the camera and the layout came to.
TRIED = """<script>
Element.prototype.setPointerCapture = () => {};
const waiting = setInterval(() => {
  if (document.body.dataset.drawn !== "yes") return;
  clearInterval(waiting);
  const canvas = document.getElementById("canvas"), told = [];
  const note = name => told.push(name + " " + document.body.dataset.camera);
  const touch = (kind, id, x, y) => canvas.dispatchEvent(new PointerEvent(kind,
    {pointerId: id, pointerType: "touch", clientX: x, clientY: y, buttons: 1, bubbles: true}));
  const press = name => { document.body.dispatchEvent(
    new KeyboardEvent("keydown", {key: name, bubbles: true})); };
  note("first");
  touch("pointerdown", 1, 100, 300); touch("pointermove", 1, 150, 320);
  touch("pointerup", 1, 150, 320);
  note("dragged");
  touch("pointerdown", 1, 100, 300); touch("pointerdown", 2, 200, 300);
  touch("pointermove", 2, 300, 300); note("pinched");
  touch("pointermove", 1, 200, 300); touch("pointermove", 2, 400, 300); note("moved");
  touch("pointerup", 1, 0, 0); touch("pointerup", 2, 0, 0);
  touch("pointermove", 1, 9, 9); note("lifted");
  document.getElementById("reset").click(); note("reset");
  press("+"); note("key");
  press("0"); const at = document.getElementById("at"), last = at.textContent;
  press("PageDown"); told.push("slid " + (at.textContent !== last) + " " + at.textContent);
  const box = id => document.getElementById(id).getBoundingClientRect();
  const [said, view, controls] = ["said", "view", "controls"].map(box);
  told.push(`layout ${said.bottom <= view.top} ${view.bottom <= controls.top}
    ${controls.right <= innerWidth} ${view.height}`.replace(/\\s+/g, " "));
  document.body.dataset.told = told.join(";");
}, 50);
</script>"""


def test_a_phone_turns_it_with_fingers(page, tmp_path, browser):
    """Drag, pinch, two fingers, reset and keys in a browser of a phone's size."""
    path = tmp_path / "page.html"
    path.write_text(page.replace("</body>", TRIED + "</body>"), encoding="utf-8")
    seen = browser(path, "--window-size=390,844", "--virtual-time-budget=9000", "--dump-dom")
    told = dict(
        each.split(" ", 1) for each in re.search(r'data-told="([^"]+)"', seen)[1].split(";")
    )
    layout, slid = told.pop("layout").split(), told.pop("slid").split(" ", 1)
    camera = {name: np.array(values.split(), float) for name, values in told.items()}
    first = camera["first"]
    assert camera["dragged"] - first == pytest.approx([0.4, 0.16, 0, 0, 0])
    # fingers 100 apart, then 200: twice as near, and shifted by half of what one finger moved
    assert camera["pinched"][2] / camera["dragged"][2] == pytest.approx(2.0)
    assert camera["pinched"][:2] == pytest.approx(camera["dragged"][:2])
    # both fingers moved by the same: as near as before, further along
    assert camera["moved"][2] == pytest.approx(camera["pinched"][2])
    assert camera["moved"][3] > camera["pinched"][3]
    assert camera["lifted"] == pytest.approx(camera["moved"])
    assert camera["reset"] == pytest.approx(first)
    assert camera["key"][2] / first[2] == pytest.approx(1.1)
    assert slid[0] == "true" and " AMO" in slid[1]
    # words above the bow, controls below it, nothing wider than the phone
    assert layout[:3] == ["true", "true", "true"] and float(layout[3]) > 300
