"""Published and recomputed cases, read from the repository's own list."""

import json
from pathlib import Path

import pytest

LIST = Path(__file__).parents[3] / "benchmarks" / "references.json"


@pytest.fixture(scope="session")
def cases():
    """Values of every case, by number; each carries its source and status in the file."""
    return {case["id"]: case["values"] for case in json.loads(LIST.read_text())}
