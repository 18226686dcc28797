"""Draw a bow on until a limb gives way: how far full draw is from there."""

from __future__ import annotations

import numpy as np

from bowfem.bow.balance import Balance, Ended, States
from bowfem.bow.folding import COARSE, FINE, NEARLY, STRETCHED, Fold, creep, worst_station


def follow_to_fold(bow: Balance, start: States) -> tuple[States, Fold | None]:
    """Draw on from the last of some states until a limb gives way or is stretched out.

    Returns
    -------
    last : States
        The last state found, alone.
    fold : Fold or None
        None when limb and string come to stand in one line, or the solver fails, first.
    """
    last, step = start.last(), COARSE
    while step > FINE:
        reach = last.nock[0] - bow.pivot
        draw = float(np.hypot(*reach))
        if bow.stretched(last, bow.pivot + reach * ((draw + step) / draw)) > STRETCHED:
            return last, None
        if bow.symmetric:
            (path,), (model,) = last.limbs, bow.models
            goal = float(path.nock[-1, 1]) + step
            drawn = creep(model, path, goal, bow.pivot[0], bow.settings)
            if drawn.paths:
                last = States.of_one(drawn.paths[-1]).last()
            if not drawn.complete:
                return last, drawn.fold
            continue
        found, ended = bow.draw_to(last, [draw + step])
        if found is not None and ended is Ended.COMPLETE:
            last = found.last()
        else:
            step *= 0.25
    worst = [worst_station(m, p) for m, p in zip(bow.models, last.limbs, strict=True)]
    side = int(np.argmax([share for share, _, _ in worst]))
    share, s, folds = worst[side]
    if share < NEARLY:
        return last, None
    return last, Fold(float(bow.draw(last)[0]), s, folds, ("upper", "lower")[side])
