"""What the viewer and the page to turn have in common: colours, ends of the scale, words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from bowfem.findings import DrawLength
from bowfem.show.body.quantities import (
    QUANTITIES,
)
from bowfem.show.body.swept import (
    UNSTRUNG,
    State,
    SweptState,
)
from bowfem.show.text.tables import printable
from bowfem.units import System, convert, show

if TYPE_CHECKING:
    from bowfem.bow import Walk

PAPER, MUTED, MARK, WOUND = "#f4f1ea", "#6b6b6b", "#d55e00", "#b9a06b"
#: Steps of the scale.
BANDS = 18
#: Ends of a scale whose quarters are short numbers.
NICE = (1.0, 1.2, 1.6, 2.0, 2.4, 2.8, 3.2, 4.0, 4.8, 6.0, 8.0, 10.0)


def scale_ends(states: Sequence[SweptState], name: str, system: System) -> tuple[float, float]:
    """Return one range of a quantity for all states, so that colours compare.

    Parameters
    ----------
    states : sequence of SweptState
        States between which it is largest, as brace and the last draw.
    name : str
        A name of `QUANTITIES`.
    system : {"us", "metric"}
        Units of the result.

    Notes
    -----
    Quarters of the range are short numbers. It holds the whole where the quantity is a share of
    what the limb stands. It is that of the bow's own plastic: a rod of carbon among it would leave
    the plastic without colours.
    """
    own = [
        part.fields[name]
        for body in states
        for part in body.parts
        if not np.all(np.isnan(part.fields["yield"]))
    ]
    largest = max(
        float(np.max(np.abs(values), initial=0.0, where=~np.isnan(values))) for values in own
    )
    high = float(convert(largest, QUANTITIES[name].kind, system))
    if name in ("yield", "fold"):
        high = max(high, 100.0)
    power = 10.0 ** np.floor(np.log10(high)) if high > 0.0 else 1.0
    high = next((step * power for step in NICE if step * power >= high * (1.0 - 1e-9)), power)
    return (-high if QUANTITIES[name].signed else 0.0), float(high)


def state_lines(walk: Walk, body: SweptState, state: State, system: System) -> list[str]:
    """Say what a state shows: the bow, its draw and weight, and what is marked."""
    lines = [printable(walk.design.name)[:40]]
    if state == UNSTRUNG:
        return [*lines, "unstrung"]
    if walk.time is not None:  # instants of a shot
        lines.append(f"{show(walk.time[state], 'time', system, 3)} after the fingers let go")
        lines.append(f"tension {show(walk.tension[state], 'force', system, 3)}")
        return lines
    where = "at brace, " if state == 0 else ""
    lines.append(f"{where}{DrawLength.of(walk, walk.draw[state]).text(system)}")
    if state:
        lines.append(f"weight {show(walk.force[state], 'force', system, 3)}")
    gap = min(
        float(np.interp(0.5 * limb.s[-1], limb.s, limb.clearance[state])) for limb in walk.limbs
    )
    lines.append(f"string to belly mid-limb {show(gap, 'length', system, 3)}")
    if body.contact:
        lines.append("orange: string on the limb")
    return lines
