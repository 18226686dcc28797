"""Walks the tables and pictures are made of: complete ones, and one that gives way."""

import dataclasses
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from bowfem.bow import Walk, walk
from bowfem.design import Design, Overlay, Sleeve
from bowfem.findings import Findings

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
DESIGNS = Path(__file__).parents[2] / "examples" / "designs"


#: A limb pressed too far over an inch, where it folds.
NOTCH = """\
  { at = "11 in", thickness = "0.6 in" },
  { at = "11-3/4 in", thickness = "0.4 in" },
  { at = "12-1/2 in", thickness = "0.6 in" },
"""


def design(name: str) -> Design:
    return Design.from_file(DESIGNS / f"{name}.toml")


@pytest.fixture(scope="session")
def wagtail() -> Walk:
    return walk(design("wagtail"))


@pytest.fixture(scope="session")
def curlew() -> Walk:
    return walk(design("curlew"))


@pytest.fixture(scope="session")
def dunlin() -> Walk:
    return walk(design("dunlin"))


@pytest.fixture(scope="session")
def lapwing() -> Walk:
    return walk(design("lapwing"))


@pytest.fixture(scope="session")
def giving_way() -> Walk:
    text = (DESIGNS / "wagtail.toml").read_text(encoding="utf-8")
    last = '  { at = "23 in"'
    return walk(Design.from_toml(text.replace(last, NOTCH + last).replace('"28 in"', '"32 in"')))


@pytest.fixture(scope="session")
def laden(wagtail) -> Walk:
    """A pipe over the handle, a rod in it, a strip on the back, a wrap over a pressed sleeve."""
    inch = 0.0254
    parts = (
        Sleeve(start=0.0, end=2 * inch, outer_diameter=33e-3, wall=3e-3, fit="bonded"),
        Sleeve(
            start=2.2 * inch,
            end=2.5 * inch,
            outer_diameter=18e-3,
            fit="sliding",
            modulus=40e9,
            density=1900.0,
        ),
        Sleeve(start=8 * inch, end=11 * inch, outer_diameter=19e-3, wall=1e-3, fit="sliding"),
    )
    overlays = (
        Overlay(start=6 * inch, end=12 * inch, thickness=0.6e-3, modulus=20e9),
        Overlay(start=1 * inch, end=1.5 * inch, mass_per_length=0.01),
    )
    limb = dataclasses.replace(wagtail.design.limb, sleeves=parts, overlays=overlays)
    return walk(dataclasses.replace(wagtail.design, limb=limb))


@pytest.fixture
def browser(tmp_path) -> Callable[..., str]:
    """Open a page in headless Chromium, with options; give back what it prints."""
    program = next(filter(None, map(shutil.which, BROWSERS)), None)
    if program is None:
        pytest.skip("no Chromium is installed")

    def opened(page: Path, *options: str) -> str:
        always = [
            "--headless",
            "--no-sandbox",
            f"--user-data-dir={tmp_path / 'profile'}",
            "--use-angle=swiftshader",
            "--enable-unsafe-swiftshader",
        ]
        done = subprocess.run(
            [program, *always, *options, page.as_uri()],
            check=True,
            capture_output=True,
            text=True,
            timeout=120,
        )
        return done.stdout

    return opened


@pytest.fixture(scope="session")
def findings() -> Callable[[Walk], Findings]:
    """Findings of a walk; those of a shared walk are made once."""
    known: dict[int, Findings] = {}

    def of(found: Walk) -> Findings:
        if id(found) not in known:
            known[id(found)] = Findings.from_walk(found)
        return known[id(found)]

    return of
