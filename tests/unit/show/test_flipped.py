"""The shape in which a bow would flip: sections stay as they are, both limbs go to one side."""

import json
import re

import numpy as np
import pytest

from bowfem.bow import walk
from bowfem.design import Design
from bowfem.findings import SideStability
from bowfem.show import Scene
from bowfem.show.body.browser import web_page
from bowfem.show.body.flipped import ROLL, SHIFT, flipped_points
from bowfem.show.body.swept import SweptBow


@pytest.fixture(scope="module")
def flipping(root):
    design = Design.from_file(root / "examples/designs/dunlin.toml")
    start = design.limb.tip.edge_on_from - 0.1
    found = walk(design.with_value("limb.tip.edge_on_from", start))
    return found, SideStability.from_walk(found)


def test_sections_are_carried_as_they_are(flipping):
    found, stable = flipping
    bow = SweptBow.from_walk(found, 12, 0.05)
    braced = bow.at(0)
    moved = flipped_points(bow, braced, stable)
    assert moved.shape == braced.points.shape
    before = braced.parts[0].points
    after = moved[: before[..., 0].size].reshape(before.shape)
    middle, there = (np.mean(each, axis=(1, 2), keepdims=True) for each in (before, after))
    spokes = [np.linalg.norm(each, axis=-1) for each in (before - middle, after - there)]
    np.testing.assert_allclose(*spokes, rtol=1e-9, atol=1e-12)
    away = (there - middle)[:, 0, 0]
    np.testing.assert_allclose(away[:, :2], 0.0, atol=1e-12)
    # alike limbs: as far on one as on the other, to the same side, the grip where it was
    np.testing.assert_allclose(away[:, 2], away[::-1, 2], atol=1e-9)
    assert abs(away[len(away) // 2, 2]) < 1e-12
    length = stable.shape.s[-1]
    assert 0.2 * SHIFT * length < np.max(np.abs(away)) < 1.2 * SHIFT * length
    assert ROLL < 1.0


def test_page_and_scene_lay_it_over(flipping):
    found, stable = flipping
    about = json.loads(re.search(r"^const about = (.*);$", web_page(found), re.M).group(1))
    assert about["flipped"] is None
    page = web_page(found, sideways=stable)
    about = json.loads(re.search(r"^const about = (.*);$", page, re.M).group(1))
    assert about["flips"] and about["flipped"][2] == about["states"][0]["points"][2]
    scene = Scene(found, sideways=stable)
    with_it = scene.picture().astype(int)
    assert scene.flipped and "as it would flip" in scene.label()
    scene.update(flipped=False)
    without = scene.picture().astype(int)
    scene.plotter.close()
    assert "flip" not in scene.label()
    assert np.mean(np.abs(with_it - without).max(axis=-1) > 20) > 0.002
