"""A diary in words: what time does to a bow, and what nobody may promise."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING

import bowfem
from bowfem.findings import NOT_PROMISED, PROMISED, recorded
from bowfem.show.text.cautions import ESTIMATE, cautions_text
from bowfem.show.text.tables import finding_lines, labelled, printable, ruled, ruled_table, wrapped
from bowfem.units import System, show

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.findings import Diary, Life


def diary_report(found: Diary, system: System, others: Sequence[tuple[Walk, Life]] = ()) -> str:
    """Return the printed report of a diary.

    Parameters
    ----------
    found : Diary
        The diary.
    system : {"us", "metric"}
        Units.
    others : sequence of (Walk, Life)
        Bows ranked by how hard they are worked, this one among them.
    """
    parts = [
        f"{printable(found.walk.design.name)}: what time does to it",
        ruled_table(found.table, system, left=2),
        labelled(finding_lines(found.lines, system)),
    ]
    if len(others) > 1:
        rows = [
            [
                printable(walk.design.name),
                show(life.peak, "stress", system, 2),
                show(walk.force[-1], "force", system, 3),
            ]
            for walk, life in others
        ]
        heads = [["worked least first", "worst fibre", "weight"]]
        parts.append(ruled(heads, rows, left=1))
    parts += [
        wrapped(f"May be said: {PROMISED}"),
        wrapped(f"May not: {NOT_PROMISED}"),
        wrapped(
            "Relaxation beyond an hour is from memory, not measured: least and most are with "
            "three tenths more and less of it. `bowfem learn` narrows it with one pair of weights."
        ),
        cautions_text(),
    ]
    return "\n\n".join(parts)


def diary_json(found: Diary, system: System) -> bytes:
    """Return a diary as the content of a JSON file: keys of quantities carry their unit."""
    data = {
        "bowfem": bowfem.__version__,
        "estimate": ESTIMATE,
        "name": found.walk.design.name,
        "design": found.walk.design.to_toml(),
        "promised": PROMISED,
        "not_promised": NOT_PROMISED,
        **recorded(found.lines, system),
        "states": found.table.items(system),
    }
    return (json.dumps(data, allow_nan=False, indent=1) + "\n").encode()
