"""Draw a bow on until a limb gives way: how far full draw is from there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from bowfem.bow.balance import Balance, DrawDirection
from bowfem.bow.ending import Ending, GivesWay
from bowfem.bow.folding import (
    COARSE,
    FINE,
    NEARLY_FOLDED,
    STRETCHED,
    UNSTEADY,
    beyond,
    draw_limb,
    worst_station,
)
from bowfem.bow.states import States
from bowfem.design import Side

#: Smallest part of a step that the solver tries there by itself.
FINEST = 1.0 / 64
#: Force across the draw, as a fraction of the tension, that is let pass on the way.
ENOUGH = 1e-9


def follow_to_fold(bow: Balance, start: States) -> tuple[States, GivesWay | None]:
    """Draw on from the last of some states until a limb gives way or is stretched out.

    Returns
    -------
    last : States
        The last state found, alone.
    gives_way : GivesWay or None
        None when limb and string come to stand in one line, or the solver fails, first.
    """
    # steps are cut down here as well: to try ever smaller parts of each would be in vain
    settings = replace(bow.settings, finest=max(bow.settings.finest, FINEST))
    bow = Balance(bow.design, bow.models, settings, bow.refine)
    last, step = start.last(), COARSE
    if bow.symmetric:
        (path,), (model,) = last.limbs, bow.models
        first = float(path.nock[-1, 1])
        room = STRETCHED * (model.rod.length + float(path.string_length[-1])) - first
        if room <= COARSE:
            return last, None
        nock = np.zeros((int(room / COARSE), 2))
        nock[:, 1] = first + COARSE * np.arange(1, len(nock) + 1)
        drawn = draw_limb(model, path, nock, bow.pivot[0], bow.settings)
        if drawn.paths:
            last = States.of_one(drawn.paths[-1]).last()
        return last, drawn.gives_way
    line = DrawDirection.through(last.nock[0] - bow.pivot)
    while step > FINE:
        reach, draw = last.nock[0] - bow.pivot, line.draw
        if bow.stretched(last, bow.pivot + reach * ((draw + step) / draw)) > STRETCHED:
            return last, None
        found = bow.balanced(last, draw + step, line, ENOUGH)
        if isinstance(found, Ending) or not bow.is_sound(last, found[0]):
            step *= 0.25
        else:
            last, line = found
    exact = bow.balanced(last, line.draw, line)
    if not isinstance(exact, Ending):
        last = exact[0]
    return last, _gives_way(bow, start, last, 4.0 * step)


def _gives_way(bow: Balance, start: States, last: States, step: float) -> GivesWay | None:
    """Return how one of two limbs gives way beyond a state, within a step that was not found sound.

    Notes
    -----
    Where a balance ends in a turn of its path, its steadiness falls with the root of the distance
    from there: to a tenth of what it was a step of the draw before.
    """
    draw = float(bow.draw(last)[0])
    sides = list(zip(Side, bow.models, last.limbs, strict=True))
    found = [(*worst_station(model, path), name) for name, model, path in sides]
    share, s, how, name = max(found, key=lambda each: each[0])
    if share >= NEARLY_FOLDED:
        return GivesWay(draw, s, how, name)
    line = DrawDirection.through(last.nock[0] - bow.pivot)
    ahead = bow.balanced(last, draw + step, line)
    if isinstance(ahead, Ending) and bow.steadiness(last) < UNSTEADY * bow.steadiness(start):
        return GivesWay(draw, s, Ending.TURNS_OVER, name)
    reach = (draw + step) * np.array([np.cos(line.angle), np.sin(line.angle)])
    y, x = bow.pivot + reach if isinstance(ahead, Ending) else ahead[0].nock[0]
    for side, (name, model, path) in zip((1.0, -1.0), sides, strict=True):
        gone = beyond(model, path, (side * float(x), float(y)), bow.settings)
        if isinstance(gone, tuple):
            return GivesWay(draw, *gone, name)
    return None
