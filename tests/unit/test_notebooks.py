"""What the library hands to notebooks, dataframes and logs."""

import logging
from html.parser import HTMLParser

import numpy as np
import pytest

from bowfem import Design, walk
from bowfem.cards import card
from bowfem.findings import Findings
from bowfem.orders import Plan, Spread, study
from bowfem.rod import Force, Rod, clamp, follow


class Table(HTMLParser):
    """Rows of a table, checked to be closed."""

    def __init__(self, text):
        super().__init__()
        self.open, self.rows, self.text = [], {}, ""
        self.feed(text)
        assert not self.open

    def handle_starttag(self, tag, attrs):
        self.open.append(tag)
        self.text = ""

    def handle_data(self, data):
        self.text += data

    def handle_endtag(self, tag):
        assert self.open.pop() == tag
        if tag == "th":
            self.name = self.text
        if tag == "td":
            self.rows[self.name] = self.text


def test_cards_tell_what_an_object_is(wagtail):
    rod = wagtail.solved[0].models[0].rod
    path = follow(Rod.straight(1.0, 2, EI=1.0), [clamp(0)], [Force(y=1.0)], [1.0, 2.0])
    plan = Plan(wagtail.design, (Spread("handle.set", -0.01, 0.01),), 2)
    made = study(plan, workers=1)
    shown = [rod, path, wagtail.design, wagtail, Findings.from_walk(wagtail), made]
    shown.append(wagtail.solved[0].models[0].sections)
    cards = [Table(each._repr_html_()).rows for each in shown]
    assert all(len(rows) >= 3 for rows in cards)
    assert cards[3]["weight, N"] == f"{wagtail.force[-1]:.4g}"
    assert cards[1]["load factor"] == "1 to 2" and cards[5]["bows"] == "2"
    assert all(len(repr(each)) < 200 for each in shown if not isinstance(each, Design))


def test_cards_are_safe():
    (row,) = Table(card("<b>", {"a&b": "<script>"})).rows.items()
    assert row == ("a&b", "<script>") and "<script>" not in card("", {"a": "<script>"})


def test_pandas_reads_walks_and_studies(wagtail):
    pandas = pytest.importorskip("pandas")
    frame = pandas.DataFrame(wagtail.columns()).set_index("draw_m")
    assert len(frame) == wagtail.draw.size and frame.notna().all().all()
    assert frame["force_N"].iloc[-1] == wagtail.force[-1]
    plan = Plan(wagtail.design, (Spread("handle.set", -0.01, 0.01),), 3)
    bows = pandas.DataFrame(study(plan, workers=1).columns())
    assert list(bows["number"]) == [0, 1, 2] and (bows["weight"] > 0.0).all()


def test_xarray_reads_paths(wagtail):
    xarray = pytest.importorskip("xarray")
    path = wagtail.solved[1].limbs[0]
    data = xarray.Dataset(path.variables())
    assert data.sizes["state"] == len(path) and data.sizes["station"] == 4
    np.testing.assert_array_equal(data["moment"].isel(state=-1), path.moment[-1])
    counted = {name for name, value in vars(path).items() if np.shape(value)[:1] == (len(path),)}
    assert counted - {"raw", "history"} == set(path.variables())


def test_convergence_is_logged(caplog, wagtail):
    with caplog.at_level(logging.DEBUG, logger="bowfem"):
        walk(wagtail.design)
    told = [record.getMessage() for record in caplog.records]
    assert any("weight known to" in text for text in told)
    assert any("states, complete;" in text and "iterations" in text for text in told)
    caplog.clear()
    walk(wagtail.design)
    assert not caplog.records  # quiet unless asked
