"""The walk: a bow from unstrung through brace to full draw."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.balance import Balance
from bowfem.bow.bracing import BraceError
from bowfem.bow.bracing_both import brace
from bowfem.bow.folding import Fold, place_text
from bowfem.bow.limb_states import LimbStates
from bowfem.bow.past_full_draw import follow_to_fold
from bowfem.bow.spline import SmoothCurve
from bowfem.bow.states import Ended, States, join
from bowfem.design import Design
from bowfem.errors import InputError
from bowfem.rod import Settings

Array = NDArray[np.float64]

#: Draw between states, m.
STATE = 0.0125
#: Share of the whole reach of limb and string beyond which a walk that fails is at full stretch.
STRETCHED = 0.95


class WalkStop(Enum):
    """Tell why a walk ended."""

    COMPLETE = "reached full draw"
    FOLD = "the limb folds: a section has reached the most it can carry"
    SNAP = "the limb snaps through: it jumps to another shape"
    SLIP = "the string slips off: it pulls past the end of the limb, on to its back"
    OVERBENT = "a section is bent beyond the range of its material's law"
    FULL_STRETCH = "limb and string are stretched out straight: no more draw is left"
    TURNS_OVER = "the bow turns over in the hand: one limb gives way to the other"
    NO_CONVERGENCE = "no equilibrium was found beyond this draw"


@dataclass(frozen=True, eq=False)
class Walk:
    """Hold a bow's states from brace to the last draw reached: n of them.

    `x` points toward the archer from the pipe's axis at the bow's centre, `y` up along the bow,
    both fixed in the handle.

    Attributes
    ----------
    design : Design
        The bow walked.
    stop : WalkStop
        Why the walk ended.
    message : str
        Where and why, when it ended early; else empty.
    draw : ndarray, shape (n,)
        Nock point to pivot, m. The AMO draw length is 1.75 in more.
    force, tension : ndarray, shape (n,)
        Weight on the fingers, and tension of the string, the larger of its two parts, N.
    across : ndarray, shape (n,)
        What is left of the fingers' force across the line from nock point to pivot, N: the
        error of the balance.
    energy, string_energy : ndarray, shape (n,)
        Energy gained since brace by limbs and string, and the string's part of it, J.
    brace_height, string_length, brace_tension : float
        Pivot to string at rest, m; natural length of the string between grooves, m; N.
    nock_x, nock_y : ndarray, shape (n,)
        Nock point, m.
    limbs : tuple of LimbStates
        Upper and lower limb; the same object twice where the bow is symmetric.
    fold : Fold or None
        Draw and station at which a limb would fold, or did; None when limb and string are
        stretched out before.
    """

    design: Design
    stop: WalkStop
    message: str
    draw: Array
    force: Array
    tension: Array
    across: Array
    energy: Array
    string_energy: Array
    brace_height: float
    string_length: float
    brace_tension: float
    nock_x: Array
    nock_y: Array
    limbs: tuple[LimbStates, LimbStates]
    fold: Fold | None

    @classmethod
    def from_states(cls, bow: Balance, states: States, ended: Ended, fold: Fold | None) -> Walk:
        """Make the record of a bow's states, however they were found."""
        design, paths = bow.design, states.limbs
        limbs = [
            LimbStates.from_path(model, path, design.material, up)
            for model, path, up in zip(bow.models, paths, (True, False), strict=False)
        ]
        force, reach, draw = bow.force(states), states.nock - bow.pivot, bow.draw(states)
        way = reach / draw[:, None]
        stored = np.asarray(paths[0].energy + paths[-1].energy)
        rest = np.array([path.pull[0] / path.tension[0] for path in paths])
        lean = rest[0] @ [-1.0, 0.0], rest[0] @ [0.0, -1.0]  # the string's direction, up and to x
        height = reach[0, 0] * lean[0] - reach[0, 1] * lean[1]
        stop, message = _reason(bow, states, ended, fold)
        return cls(
            design=design,
            stop=stop,
            message=message,
            draw=draw,
            force=np.sum(force * way, axis=1),
            tension=np.max([path.tension for path in paths], axis=0),
            across=force[:, 1] * way[:, 0] - force[:, 0] * way[:, 1],
            energy=np.sum(stored - stored[0], axis=1),
            string_energy=stored[:, 2] - stored[0, 2],
            brace_height=float(height),
            string_length=float(paths[0].string_length[0] + paths[-1].string_length[0]),
            brace_tension=max(float(path.tension[0]) for path in paths),
            nock_x=states.nock[:, 0],
            nock_y=states.nock[:, 1],
            limbs=(limbs[0], limbs[-1]),
            fold=fold,
        )

    @property
    def is_symmetric(self) -> bool:
        """Whether the lower limb is the mirror image of the upper one in every state."""
        return self.limbs[0] is self.limbs[1]

    @property
    def named_limbs(self) -> tuple[tuple[str, LimbStates], ...]:
        """The limbs that differ, with their names: one without a name where both are alike."""
        if self.is_symmetric:
            return (("", self.limbs[0]),)
        return tuple(zip(("upper", "lower"), self.limbs, strict=True))

    @cached_property
    def yield_share(self) -> Array:
        """Largest strain over the yield strain of its sign, on either limb, shape (n,)."""
        return np.max([np.max(limb.yield_share, axis=1) for limb in self.limbs], axis=0)

    @cached_property
    def _curve(self) -> SmoothCurve:
        if self.draw.size < 2:
            raise InputError("draw", "one state", "a walk of at least two states")
        return SmoothCurve.through(self.draw, self.force)

    def _inside(self, draw: float) -> float:
        low, high = float(self.draw[0]), float(self.draw[-1])
        if not low - 1e-9 <= draw <= high + 1e-9:
            raise InputError("draw", f"{draw:g} m", f"between {low:g} and {high:g} m, as walked")
        return float(np.clip(draw, low, high))

    def weight_at(self, draw: float) -> float:
        """Return the weight at a draw (nock point to pivot, m), N, by a smooth curve.

        Raises
        ------
        InputError
            The walk has no such draw.
        """
        return float(self._curve.at(self._inside(draw)))

    def energy_at(self, draw: float) -> float:
        """Return the energy gained from brace to a draw (nock point to pivot, m), J."""
        return float(self._curve.area(self._inside(draw)))

    def stack(self) -> float:
        """Return the stiffest rise of weight in the last quarter of the draw, N/m."""
        low = self.draw[0] + 0.75 * (self.draw[-1] - self.draw[0])
        return float(np.max(self._curve.slope_at(np.linspace(low, self.draw[-1], 101))))


def walk(
    design: Design,
    to: float | None = None,
    *,
    refine: int = 1,
    settings: Settings = Settings(),  # noqa: B008 - frozen
    step: float = STATE,
    both_limbs: bool = False,
) -> Walk:
    """Walk a bow from brace to full draw.

    Parameters
    ----------
    design : Design
        The bow.
    to : float, optional
        Draw to walk to, nock point to pivot, m; by default the design's.
    refine : int
        Cut every element of the default mesh into this many.
    step : float
        Largest draw between states, m.
    both_limbs : bool
        Solve both limbs and their balance even where one says it all.

    Returns
    -------
    Walk
        All states reached. A walk that stops early says where and why.

    Raises
    ------
    BraceError
        The bow cannot be braced: a `ConvergenceError` whose `reason` and message say why.
    InputError
        `to` is not beyond the brace height.
    """
    bow = Balance.from_design(design, settings, refine, both_limbs)
    try:
        braced = brace(bow)
    except BraceError as error:
        raise error.named(design.name) from None
    start = float(bow.draw(braced)[0])
    goal = design.pivot_draw if to is None else to
    if not goal > start:
        raise InputError("to", f"{goal:g} m", f"above the brace height {start:g} m")
    count = max(2, ceil((goal - start) / step - 1e-9))
    drawn, ended = bow.draw_to(braced, start + (goal - start) * np.arange(1, count + 1) / count)
    parts = [braced] if drawn is None else [braced, drawn]
    end, fold = follow_to_fold(bow, parts[-1])
    if ended is not Ended.COMPLETE and float(bow.draw(end)[0]) > float(bow.draw(parts[-1])[-1]):
        parts.append(end)
    return Walk.from_states(bow, join(parts), ended, fold)


def _reason(bow: Balance, states: States, ended: Ended, fold: Fold | None) -> tuple[WalkStop, str]:
    if ended is Ended.COMPLETE:
        return WalkStop.COMPLETE, ""
    place, draw = "", float(bow.draw(states)[-1])
    if fold is not None:
        stop = WalkStop[fold.how.name]
        place = place_text(fold.s, fold.limb)
    elif ended is Ended.TURNS:
        stop = WalkStop.TURNS_OVER
    else:  # limb and its part of the string in one straight line from centre to nock point
        stretched = bow.stretched(states, states.nock[-1]) > STRETCHED
        stop = WalkStop.FULL_STRETCH if stretched else WalkStop.NO_CONVERGENCE
    at = f"at a draw of {draw / 0.0254:.2f} in ({draw * 1000:.0f} mm) to the pivot"
    return stop, f"{bow.design.name}: {stop.value}, {at}{place}"
