"""The body of a bow as it would flip at brace: its weakest shape, larger than life."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bowfem.show.body.swept import SweptBow, SweptState

if TYPE_CHECKING:
    from bowfem.findings import SideStability

Array = NDArray[np.float64]

#: Its colour.
FLIPPED = "#d55e00"
#: Largest shift, as a share of the limb's length, and largest roll, rad, that are shown.
SHIFT, ROLL = 0.15, 0.7


def flipped_points(bow: SweptBow, braced: SweptState, stable: SideStability) -> Array:
    """Return the points of all parts, as `SweptState.points`, (n_points, 3), m.

    Both limbs go to one side, as they do with a nock point that nothing holds; not to scale.
    """
    shape = stable.shape
    amount = SHIFT * shape.s[-1] / max(float(np.max(np.abs(shape.shift))), 1e-9)
    amount = min(amount, ROLL / max(float(np.max(np.abs(shape.roll))), 1e-9))
    moved = []
    for part, swept in zip(bow.parts, braced.parts, strict=True):
        s = bow.s[part.first : part.last + 1]
        down = np.where(s < 0.0, -1.0, 1.0)[:, None, None, None] * (0.0, 1.0, 0.0) + (1.0, 0.0, 1.0)
        upright = swept.points * down  # the lower limb's turned up, then down again
        middle = np.mean(upright, axis=(1, 2), keepdims=True)
        along = _along(middle[:, 0, 0], s)
        along /= np.linalg.norm(along, axis=-1, keepdims=True)
        roll, shift = (
            _beyond(np.abs(s), shape.s, amount * each) for each in (shape.roll, shape.shift)
        )
        roll, along = roll[:, None, None, None], along[:, None, None]
        arm = upright - middle
        turned = (
            np.cos(roll) * arm
            + np.sin(roll) * np.cross(along, arm)
            + (1.0 - np.cos(roll)) * along * np.sum(along * arm, axis=-1, keepdims=True)
        )
        # out of the plane is along x belly: away from z on a limb that stands upright
        moved.append((middle + turned) * down - shift[:, None, None, None] * (0.0, 0.0, 1.0))
    return np.concatenate([each.reshape(-1, 3) for each in moved])


def _beyond(at: Array, s: Array, values: Array) -> Array:
    """Interpolate, and go straight on beyond the last place."""
    slope = (values[-1] - values[-2]) / (s[-1] - s[-2])
    return np.interp(at, s, values) + slope * np.maximum(at - s[-1], 0.0)


def _along(middle: Array, s: Array) -> Array:
    """Return the outward direction of an upright limb's axis at each section."""
    steps = np.diff(middle, axis=0) * np.sign(s[:-1] + s[1:])[:, None]
    before, after = np.concatenate([steps[:1], steps]), np.concatenate([steps, steps[-1:]])
    # in the bow's centre the two limbs part
    return np.where(s[:, None] > 0.0, before, np.where(s[:, None] < 0.0, after, (0.0, 1.0, 0.0)))
