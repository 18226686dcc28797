"""Section tables on disk: the same as fresh ones, whatever is in the folder."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from bowfem.section import (
    RIGID_PVC,
    CurledFamily,
    Pipe,
    SectionFamily,
    SectionResponse,
    curled,
    family as families,
    store,
)

PIPE = Pipe.from_size("1/2 in Sch 40")
AT = np.linspace(2.0 * PIPE.wall, PIPE.outer_diameter, 7)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Give an empty folder to keep tables in, nothing kept in memory."""
    monkeypatch.setattr(store, "FOLDER", tmp_path / "cache" / "kernels")
    _forget()
    yield tmp_path / "cache" / "tables"
    _forget()


def _forget():
    families.forget()
    curled._panel.cache_clear()


def _tables(turned=False):
    straight = SectionFamily.from_pipe(PIPE, n_thickness=4, turned=turned).at(AT)
    bent = CurledFamily(PIPE, RIGID_PVC, 2.0, turned).at(AT[-2:])
    return [getattr(one, each.name) for one in (straight, bent) for each in fields(SectionResponse)]


def _alike(one, two):
    for a, b in zip(one, two, strict=True):
        np.testing.assert_array_equal(a, b)


@pytest.mark.parametrize("turned", [False, True])
def test_tables_read_back_are_the_fresh_ones_to_the_last_bit(folder, monkeypatch, turned):
    fresh = _tables(turned)
    assert len(list(folder.glob("*.tables"))) >= 2
    _forget()
    for module in (families, curled):  # nothing is solved any more
        monkeypatch.setattr(module, "_solved", None)
    _alike(_tables(turned), fresh)


@pytest.mark.parametrize(
    "spoil", [lambda _: b"", lambda x: x[:-1], lambda x: x[:-9] + b"8" + x[-8:]]
)
def test_a_spoilt_file_is_solved_anew_and_mended(folder, spoil):
    fresh = _tables()
    for file in folder.glob("*.tables"):
        before = file.read_bytes()
        file.write_bytes(spoil(before))
        assert file.read_bytes() != before
    _forget()
    _alike(_tables(), fresh)
    assert all(file.stat().st_size > 1000 for file in folder.glob("*.tables"))


def test_a_folder_that_cannot_be_is_done_without(folder):
    fresh = _tables()
    for file in folder.glob("*"):
        file.unlink()
    folder.rmdir()
    folder.write_text("a file where the folder should be")
    _forget()
    _alike(_tables(), fresh)


def test_every_argument_and_every_source_has_tables_of_its_own(folder, monkeypatch):
    asked = [
        ("family", (PIPE, RIGID_PVC, 0.08)),
        ("curled", (PIPE, RIGID_PVC, 0.08)),
        ("family", (PIPE, RIGID_PVC, np.nextafter(0.08, 1.0))),
        ("family", (PIPE, RIGID_PVC.scaled(1.0 + 1e-15), 0.08)),
        ("family", (replace(PIPE, wall=np.nextafter(PIPE.wall, 1.0)), RIGID_PVC, 0.08)),
    ]
    for number, (what, arguments) in enumerate(asked):
        found = store.kept(what, arguments, lambda n=number: {"n": np.array(n)})
        assert int(found["n"]) == number
    monkeypatch.setattr(store, "_sources", lambda: b"other sources")
    assert int(store.kept(*asked[0], lambda: {"n": np.array(99)})["n"]) == 99


def test_what_has_no_name_is_not_kept(folder):
    for number in (1, 2):
        found = store.kept("family", (lambda: 0,), lambda n=number: {"n": np.array(n)})
        assert int(found["n"]) == number


def test_the_folder_stays_bounded_and_keeps_what_was_used_last(folder, monkeypatch):
    monkeypatch.setattr(store, "MOST", 8)
    for number in range(20):
        store.kept("family", (number,), lambda n=number: {"n": np.array(n)})
    assert len(list(folder.glob("*.tables"))) <= 8
    assert int(store.kept("family", (19,), lambda: {"n": np.array(-1)})["n"]) == 19
    assert not list(folder.glob("*.draft"))


def test_two_processes_may_solve_the_same_at_once(tmp_path):
    code = (
        "from bowfem.section import Pipe, SectionFamily\n"
        "family = SectionFamily.from_pipe(Pipe.from_size('1/2 in Sch 40'), n_thickness=4)\n"
        "print(repr(float(family.nodes.moment.sum())))"
    )
    env = {"NUMBA_DISABLE_JIT": "1", "NUMBA_CACHE_DIR": str(tmp_path), "PATH": ""}
    root = Path(__file__).parents[3]
    running = [
        subprocess.Popen([sys.executable, "-c", code], env=env, cwd=root, stdout=subprocess.PIPE)
        for _ in range(2)
    ]
    told = {each.communicate()[0] for each in running}
    assert len(told) == 1 and float(told.pop()) > 0.0
    assert len(list((tmp_path / "tables").glob("*.tables"))) == 1
