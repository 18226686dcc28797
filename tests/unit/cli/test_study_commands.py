"""The command study: what it prints, writes, tells on a terminal, and refuses."""

import csv
import io
import sys

import numpy as np
import pytest

from bowfem.cli.main import main
from bowfem.cli.progress import Progress


@pytest.fixture
def wagtail(root):
    return str(root / "examples/designs/wagtail.toml")


def test_study_prints_and_writes(wagtail, tmp_path, capsys):
    words = [
        "study",
        wagtail,
        "--bows",
        "12",
        "--seed",
        "4",
        "--workers",
        "1",
        "--units",
        "metric",
        "--vary",
        "handle.set=+-2 deg",
        "--vary",
        "limb.marks.2.at=0.57 m..0.62 m",
        "--weight",
        "170 N",
        "--within",
        "8 %",
        "--out",
        str(tmp_path),
    ]
    tables = {}
    for name in ("bows.csv", "bows.npz"):
        assert main([*words, "--data", str(tmp_path / name)]) == 0
        tables[name] = capsys.readouterr().out
    printed = tables["bows.csv"]
    assert printed.replace("bows.csv", "bows.npz") == tables["bows.npz"]
    assert "12 bows (seed 4)" in printed and "156.4 N to 183.6 N" in printed
    assert max(map(len, printed.splitlines())) <= 92
    assert (tmp_path / "study.png").read_bytes().startswith(b"\x89PNG")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "bows.csv").read_text())))
    archive = np.load(tmp_path / "bows.npz")
    assert list(rows[0]) == list(archive) and len(rows) == 12
    weight = archive["weight (N)"]
    failed = np.isnan(weight)
    assert 0 < failed.sum() < 12
    for row, number, lost in zip(rows, weight, failed, strict=True):
        assert (row["weight (N)"] == "") == lost and ("limb.marks.2.at" in row["failure"]) == lost
        assert lost or float(row["weight (N)"]) == number
    within = np.sum((weight > 156.4) & (weight < 183.6)) / 12
    assert f"{100 * within:.1f} % of all bows" in printed
    assert f"{np.nanmean(weight):.4g}" in printed
    degrees = archive["handle.set (deg)"]
    assert np.all(np.abs(degrees) <= 2.0) and np.ptp(degrees) > 2.0


def test_no_bow_at_all(wagtail, capsys):
    assert main(["study", wagtail, "--bows", "3", "--vary", "limb.marks.2.at=0.7 m..0.8 m"]) == 3
    told = capsys.readouterr()
    assert "0 of them drawn" in told.out and "not one bow" in told.err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--bows", "0"], "--bows"),
        (["--bows", "many"], "--bows"),
        (["--seed", "-1"], "--seed"),
        (["--workers", "0"], "--workers"),
        (["--within", "5"], "--within"),
        (["--within", "0 %"], "--within"),
        (["--weight", "-3 lbf"], "--weight"),
        (["--vary", "limb"], "--vary"),
        (["--data", "no/such/place.csv"], "--data"),
    ],
)
def test_refused(wagtail, capsys, words, told):
    assert main(["study", wagtail, *words]) == 2
    err = capsys.readouterr().err
    assert told in err and err.count("\n") == 1


def test_progress_tells_the_time_left(monkeypatch):
    terminal = io.StringIO()
    monkeypatch.setattr(terminal, "isatty", lambda: True, raising=False)
    monkeypatch.setattr(sys, "stderr", terminal)
    clock = iter([0.0, 10.0, 20.0, 20.1, 30.0])
    monkeypatch.setattr("bowfem.cli.progress.time.monotonic", lambda: next(clock))
    told = Progress("bows")
    for done in (10, 20, 21, 40):
        told(done, 40)
    lines = [line.strip() for line in terminal.getvalue().split("\r")]
    # ten bows in ten seconds, the first batch left out; too soon after the second nothing is told
    assert lines[1].endswith("10 of 40 bows")
    assert lines[2].endswith("20 of 40 bows, 20 s left")
    assert lines[3] == "#" * 30 + " 40 of 40 bows, 0 s left"
