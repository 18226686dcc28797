"""What was stored of the solid model's runs."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

STORE = Path(__file__).with_name("results.json")


@lru_cache(maxsize=1)
def stored() -> dict[str, Any]:
    """Return the stored results: what they were made with, slices, torsion, fades."""
    return json.loads(STORE.read_text(encoding="utf-8"))


def store(part: str, rows: dict[str, Any], about: dict[str, str]) -> None:
    """Put rows into a part of the store, in place of those of the same name."""
    known = stored() if STORE.exists() else {"about": {}, "slices": {}, "fades": {}}
    known["about"] |= about
    known[part] = known.get(part, {}) | rows
    STORE.write_text(json.dumps(known, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    stored.cache_clear()
