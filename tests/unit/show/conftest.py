"""Walks the tables and pictures are made of: complete ones, and one that gives way."""

from pathlib import Path

import pytest

from bowfem.bow import Design, Walk, walk

DESIGNS = Path(__file__).parents[3] / "examples" / "designs"


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
def giving_way() -> Walk:
    short = {"pipe.cut_length": "36 in", "limb.marks.2.at": "17 in"}
    return walk(design("wagtail").with_values(short))
