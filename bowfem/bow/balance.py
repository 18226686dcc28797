"""The bow between two hands: the grip pushes at the pivot, the fingers pull at the nock point.

In the handle's frame each limb is clamped at the bow's centre and joined to the nock point by its
own length of string. Two forces in balance share a line, so the pull runs through the pivot: one
scalar equation for the direction of the draw. A symmetric bow needs none, and solves one limb.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.ending import Ending
from bowfem.bow.folding import draw_limb, lost, slipped
from bowfem.bow.limb_model import Families, LimbModel
from bowfem.bow.states import States, join
from bowfem.design import Design, Side
from bowfem.rod import Held, Path, Settings, Stop
from bowfem.section import family_of

Array = NDArray[np.float64]

#: Force across the draw below which the bow is balanced, as a fraction of the string's tension.
BALANCED = 1e-11
#: Solver's tolerance for the two limbs.
TIGHT = 1e-12
#: Largest change of the draw's direction in one iteration, rad, and iterations allowed.
TURN, ITERATIONS = 0.05, 40
#: Change of direction, rad, below which a slope is no longer read from it.
ROUND_OFF = 1e-7
#: Turn of the draw by which the balance is tried, rad.
TRY = 1e-5
#: Smallest part of a step of the draw that is tried.
FINEST_DRAW_STEP = 1.0 / 64


class Balance:
    """Hold and draw a bow, both its limbs in balance; `brace` puts it on its string.

    Parameters
    ----------
    design : Design
        The bow.
    models : sequence of LimbModel
        Upper and lower limb, or one where the bow is symmetric.
    settings : Settings
        How hard to try.
    refine : int
        How much finer than the default mesh theirs is.
    """

    def __init__(
        self, design: Design, models: Sequence[LimbModel], settings: Settings, refine: int = 1
    ) -> None:
        self.design, self.models, self.refine = design, tuple(models), refine
        self.symmetric = len(self.models) == 1
        # the balance is sought between states, and cannot be better than they are
        tight = (
            settings
            if self.symmetric
            else replace(settings, tolerance=min(settings.tolerance, TIGHT))
        )
        self.settings = tight
        self.pivot = np.array([design.pivot_distance, design.handle.pivot_height])

    @classmethod
    def from_design(
        cls,
        design: Design,
        settings: Settings,
        refine: int = 1,
        both: bool = False,
        families: Families = family_of,
        meshes: Sequence[Array | None] = (None, None),
    ) -> Balance:
        """Build the limbs a bow needs; with `both`, two of them even where it is symmetric.

        `meshes`: the ends of the elements of upper and lower limb, m, instead of the usual ones.
        """
        upper = LimbModel.from_design(design, refine, nodes=meshes[0], families=families)
        if design.is_symmetric and not both:
            return cls(design, (upper,), settings, refine)
        if design.limbs[0] is design.limbs[1]:
            return cls(design, (upper, upper), settings, refine)
        lower = LimbModel.from_design(
            design, refine, side=Side.LOWER, nodes=meshes[-1], families=families
        )
        return cls(design, (upper, lower), settings, refine)

    def force(self, states: States) -> Array:
        """Return the force of the fingers, toward the archer and up, N, shape (n, 2)."""
        return _fingers(states.limbs)

    def draw(self, states: States) -> Array:
        """Return the distance from nock point to pivot, m, shape (n,)."""
        return np.hypot(*(states.nock - self.pivot).T)

    def stretched(self, states: States, nock: Array) -> float:
        """Return the nock point's distance as a fraction of the reach of limbs and string."""
        size = float(np.hypot(*nock))
        return max(
            size / (model.rod.length + float(path.string_length[-1]))
            for model, path in zip(self.models, states.limbs, strict=True)
        )

    def hold(
        self, nock: Array, start: States, lengths: Sequence[float] | None = None
    ) -> States | Ending:
        """Hold the nock point somewhere, with new lengths of string if given."""
        found = self._held(nock, start.limbs, lengths)
        return found if isinstance(found, Ending) else _in_full(nock, found)

    def _held(
        self, nock: Array, start: Sequence[Path | Held], lengths: Sequence[float] | None = None
    ) -> tuple[Held, ...] | Ending:
        """Hold the nock point somewhere; leave the limbs as the kernels left them."""
        if lengths is None:
            lengths = [float(path.string_length[-1]) for path in start]
        if not min(lengths) > 0.0:
            return Ending.NO_CONVERGENCE
        limbs = []
        for side, model, path, length in zip(
            (1.0, -1.0), self.models, start, lengths, strict=False
        ):
            place = [[side * nock[1], nock[0]]]
            held = model.pulling(self.settings).held(place, length, start=path)
            if held.stop is not Stop.COMPLETE:
                return Ending.GIVES_WAY if held.stop is Stop.LIMIT else Ending.NO_CONVERGENCE
            limbs.append(held)
        return tuple(limbs)

    def draw_to(self, start: States, draws: Iterable[float]) -> tuple[States | None, Ending]:
        """Draw on from the last of some states.

        Parameters
        ----------
        start : States
            Where to begin.
        draws : iterable of float
            Distances from nock point to pivot, m, increasing.

        Returns
        -------
        states : States or None
            Those reached; None when there are none.
        ended : Ending
            Why no more.
        """
        if self.symmetric:
            return self._draw_one(start, np.asarray(list(draws), dtype=float))
        found: list[States] = []
        last, ended = start.last(), Ending.COMPLETE
        line = DrawDirection.through(last.nock[0] - self.pivot)
        for goal in draws:
            whole = float(goal) - line.draw
            step = whole
            while line.draw < goal and ended is Ending.COMPLETE:
                draw = float(goal) if line.draw + step > goal - 1e-12 else line.draw + step
                result = self.balanced(last, draw, line)
                if not isinstance(result, Ending) and not self.is_sound(last, result[0]):
                    result = Ending.GIVES_WAY
                if isinstance(result, Ending):
                    step *= 0.5
                    if step < FINEST_DRAW_STEP * whole:
                        ended = result
                    continue
                last, line = result
                step *= 2.0
            if ended is not Ending.COMPLETE:
                break
            found.append(last)
        return (join(found) if found else None), ended

    def is_sound(self, last: States, ahead: States) -> bool:
        """Return whether a bow came from one state to another without a snap or a slip."""
        both = last, ahead
        reach = np.array([states.nock[-1] - self.pivot for states in both])
        force = np.array([self.force(states)[-1] for states in both])
        draw = np.hypot(reach[:, 0], reach[:, 1])
        energy = np.array([sum(np.sum(p.energy[-1]) for p in states.limbs) for states in both])
        snaps = lost(draw, np.sum(force * reach, axis=1) / draw, energy)[0]
        return not snaps and not any(slipped(path)[-1] for path in ahead.limbs)

    def _draw_one(self, start: States, draws: Array) -> tuple[States | None, Ending]:
        """Draw a symmetric bow: the nock point stays in the middle."""
        (path,), (model,) = start.limbs, self.models
        nock = np.stack([np.zeros(len(draws)), self.pivot[0] + draws], axis=-1)
        drawn = draw_limb(model, path, nock, self.pivot[0], self.settings)
        ended = Ending.COMPLETE
        if not drawn.complete:
            ended = Ending.NO_CONVERGENCE if drawn.gives_way is None else Ending.GIVES_WAY
        states = [States.of_one(part) for part in drawn.paths]
        return (join(states) if states else None), ended

    def steadiness(self, states: States) -> float:
        """Return the force across the line of the draw per turn of it, at the last state, N/rad.

        Nan where the bow cannot be turned a little to either side. It is nought where the balance
        is about to be lost.
        """
        reach = states.nock[-1] - self.pivot
        forces = []
        for turn in (TRY, -TRY):
            way = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) @ reach
            found = self.hold(self.pivot + way, states.last())
            if isinstance(found, Ending):
                return np.nan
            fx, fy = self.force(found)[0]
            forces.append((fy * way[0] - fx * way[1]) / float(np.hypot(*reach)))
        return (forces[0] - forces[1]) / (2.0 * TRY)

    def balanced(
        self, start: States, draw: float, line: DrawDirection, enough: float = BALANCED
    ) -> tuple[States, DrawDirection] | Ending:
        """Find the direction of the draw in which hand and fingers are in balance.

        Parameters
        ----------
        start : States
            Where to go on from: its last state.
        draw : float
            Nock point to pivot, m.
        line : DrawDirection
            Where the draw pointed there.
        enough : float
            Force across the draw, as a fraction of the tension, below which it is balanced.

        Notes
        -----
        The force across the line is the slope of the energy over the direction, so the secant's
        slope also tells whether the balance is stable.
        """
        limbs: Sequence[Path | Held] = start.limbs
        angle, slope = line.ahead(draw)
        before: tuple[float, float] | None = None
        for _ in range(ITERATIONS):
            way = np.array([np.cos(angle), np.sin(angle)])
            nock = self.pivot + draw * way
            found = self._held(nock, limbs)
            if isinstance(found, Ending):
                return found
            limbs = found
            fx, fy = _fingers(found)[0]
            across = (fy * way[0] - fx * way[1]) / sum(float(p.tension[-1]) for p in found)
            if before is not None and abs(angle - before[0]) > ROUND_OFF:
                slope = (across - before[1]) / (angle - before[0])
            spent = before is not None and abs(across) >= abs(before[1])
            if slope != 0.0 and (abs(across) <= enough or (spent and abs(across) < 1e-11)):
                if slope <= 0.0:
                    return Ending.TURNS_OVER
                return _in_full(nock, found), line.on(draw, angle, slope)
            if slope == 0.0:  # not known yet
                step = -1e-4 if across > 0.0 else 1e-4
            else:  # to a maximum of the energy too: that is how turning over is told
                step = float(np.clip(-across / slope, -TURN, TURN))
            before = angle, across
            angle += step
        return Ending.NO_CONVERGENCE


def _in_full(nock: Array, limbs: Sequence[Held]) -> States:
    return States(nock[None], tuple(limb.path() for limb in limbs))


def _fingers(limbs: Sequence[Path | Held]) -> Array:
    """Return the force of the fingers, toward the archer and up, N, shape (n, 2)."""
    upper, lower = limbs[0].pull, limbs[-1].pull
    return np.stack([upper[:, 1] + lower[:, 1], upper[:, 0] - lower[:, 0]], axis=-1)


@dataclass(frozen=True)
class DrawDirection:
    """Where the draw points, and what it came from, so that the next direction can be foreseen.

    Parameters
    ----------
    known : tuple of (float, float, float)
        The last draws, nock point to pivot, m, at most three, the latest last; direction, rad; and
        stiffness against a turn, as a share of the tension; 0 where it is not known.
    """

    known: tuple[tuple[float, float, float], ...]

    @classmethod
    def through(cls, reach: Array) -> DrawDirection:
        """Start from the nock point's place against the pivot."""
        return cls(((float(np.hypot(*reach)), float(np.arctan2(reach[1], reach[0])), 0.0),))

    @property
    def draw(self) -> float:
        """The latest draw, m."""
        return self.known[-1][0]

    @property
    def angle(self) -> float:
        """The latest direction, rad."""
        return self.known[-1][1]

    def ahead(self, draw: float) -> tuple[float, float]:
        """Guess direction and stiffness at another draw by the polynomials through those known."""
        draws, angles, slopes = np.array(self.known).T
        angle = _through(draws, angles, draw)
        known = slopes != 0.0
        return angle, _through(draws[known], slopes[known], draw) if np.any(known) else 0.0

    def on(self, draw: float, angle: float, slope: float) -> DrawDirection:
        """Go on to another draw."""
        return DrawDirection((*self.known[-2:], (draw, angle, slope)))


def _through(x: Array, y: Array, at: float) -> float:
    """Return the polynomial through a few points somewhere else, by Lagrange's formula."""
    apart = x[:, None] - x + np.eye(x.size)
    away = (at - x)[None] * (1.0 - np.eye(x.size)) + np.eye(x.size)
    return float(y @ np.prod(away / apart, axis=1))
