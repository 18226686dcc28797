"""How near the bow is to giving way, and where it would."""

from __future__ import annotations

import numpy as np

from bowfem.bow import Walk
from bowfem.findings.line import DrawLength, Figure, Line, Place, Warned, side_figure

#: Draw left before a limb gives way below which a bow is warned of, m (no source: a hand's width).
RESERVE = 0.1


def fold_share(walk: Walk) -> float:
    """Return the largest change of curvature over that at which its section folds, last draw."""
    return max(float(np.max(limb.fold_share[-1])) for limb in walk.limbs)


def reserve_line(walk: Walk) -> Line:
    """Say how far the sections are bent, and where and at which draw a limb gives way."""
    carried = max(float(np.max(limb.moment_share[-1])) for limb in walk.limbs)
    share = Figure("fold_share", fold_share(walk), "share")
    load = Figure("moment_share", carried, "share")
    words = (
        "sections are bent to {fold_share:.0} of the curvature at which they fold, and carry "
        "{moment_share:.0} of what they can; "
    )
    found = walk.gives_way
    if found is None:
        names = ("draw", "s", "limb", "how")
        unknown = [Figure(f"gives_way_{name}", None) for name in names[2:]]
        figures = (
            share,
            load,
            DrawLength.of(walk, None, "gives_way"),
            Figure("gives_way_s", np.nan, "length"),
            *unknown,
        )
        words += "the limb does not give way before it and the string are stretched out"
        return Line("reserve", words, figures, 90)
    figures = (
        share,
        load,
        DrawLength.of(walk, found.draw, "gives_way"),
        Place("gives_way_s", found.s, side=found.side),
        side_figure(found.side, "gives_way_limb"),
        Figure("gives_way_how", found.ending.key),
    )
    words += f"the limb {found.ending.verb} at {{gives_way}}, {{gives_way_s}}"
    return Line("reserve", words, figures, 90)


def reserve_warnings(walk: Walk) -> list[Warned]:
    """Warn of a walk that stopped early, or of a limb that gives way a little beyond this draw."""
    found = walk.gives_way
    if walk.message:
        advice = f" What helps: {walk.ending.advice}." if walk.ending.advice else ""
        text = f"The walk stopped early. {walk.message}.{advice}"
        return [Warned(text.replace("{", "{{").replace("}", "}}"))]
    left = np.inf if found is None else found.draw - float(walk.draw[-1])
    if found is None or left >= RESERVE:
        return []
    words = f"The limb {found.ending.verb} {{left:2}} beyond this draw, {{s}}: a slip of the hand."
    return [Warned(words, (Figure("left", left, "length"), Place("s", found.s, side=found.side)))]
