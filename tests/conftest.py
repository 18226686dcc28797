"""What all tests share: no window opens, the house is checked first, random tests repeat."""

import os
from pathlib import Path

import hypothesis
import pytest

# before anything imports them
os.environ["MPLBACKEND"] = "Agg"
os.environ["PYVISTA_OFF_SCREEN"] = "true"

# The first call of a kernel compiles it, so no deadline; a clone gets the same verdict every time.
# To look further: pytest --hypothesis-profile=explore
hypothesis.settings.register_profile("house", deadline=None, derandomize=True)
hypothesis.settings.register_profile("explore", deadline=None, max_examples=1000)
hypothesis.settings.load_profile("house")


@pytest.fixture(scope="session")
def root() -> Path:
    """Top folder of the repository."""
    return Path(__file__).parents[1]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Move the house rules to the front, so that a broken rule shows before long runs."""
    items.sort(key=lambda item: item.path.name != "test_house.py")
