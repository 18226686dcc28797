"""The walk: a bow from unstrung through brace to full draw."""

from __future__ import annotations

import logging
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.balance import Balance
from bowfem.bow.bracing import BraceError
from bowfem.bow.bracing_both import brace
from bowfem.bow.ending import Ending, GivesWay, where_text
from bowfem.bow.limb_states import LimbStates
from bowfem.bow.mesh_error import MeshError, fitting_mesh
from bowfem.bow.past_full_draw import follow_to_fold
from bowfem.bow.spline import SmoothCurve
from bowfem.bow.states import States, join
from bowfem.cards import card
from bowfem.design import Design, Side
from bowfem.errors import InputError
from bowfem.rod import Settings
from bowfem.units import both_lengths

Array = NDArray[np.float64]
LOG = logging.getLogger(__name__)

#: Draw between states, m.
STATE = 0.0125
#: Share of the whole reach of limb and string beyond which a walk that fails is at full stretch.
NEARLY_STRETCHED = 0.95
#: Least distance between draws of two states, m: a curve goes through them.
APART = 1e-9
#: How often a draw that ends where another goes on is tried again.
AGAIN = 3
#: Share of folding up to which states are solved again on another mesh.
AWAY = 0.8
#: How much finer meshes are on which a refusal is looked at again; one for want of balance, which a
#: hinge at the tip decides, on the last too.
FINER = (2, 8)
#: How often a mesh is fitted to a walk that ends otherwise on the mesh before.
FITS = 2
#: To what share weight and tension are to be known as far as the mesh goes.
ACCURACY = 1e-5


@dataclass(frozen=True, eq=False, repr=False)
class Walk:
    """Hold a bow's states from brace to the last draw reached: n of them.

    `x` points toward the archer from the pipe's axis at the bow's centre, `y` up along the bow,
    both fixed in the handle.

    Attributes
    ----------
    design : Design
        The bow walked.
    ending : Ending
        How the walk ended.
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
    gives_way : GivesWay or None
        Where a limb gives way at this draw or beyond it; None when limb and string are stretched
        out before.
    time : ndarray, shape (n,), or None
        Of the instants of a shot, s since the fingers let go; None for a draw.
    solved : tuple of (Balance, States) or None
        The bow and its states as the solver left them, to look further into.
    mesh_error : MeshError or None
        What the mesh leaves unknown; None where it was not looked at.
    """

    design: Design
    ending: Ending
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
    gives_way: GivesWay | None
    time: Array | None = None
    solved: tuple[Balance, States] | None = field(default=None, repr=False)
    mesh_error: MeshError | None = None

    @classmethod
    def from_states(
        cls, bow: Balance, states: States, ended: Ending, gives_way: GivesWay | None
    ) -> Walk:
        """Make the record of a bow's states, however they were found."""
        design, paths = bow.design, states.limbs
        limbs = [
            LimbStates.from_path(model, path, design.material, side)
            for model, path, side in zip(bow.models, paths, Side, strict=False)
        ]
        force, reach, draw = bow.force(states), states.nock - bow.pivot, bow.draw(states)
        way = reach / draw[:, None]
        stored = np.asarray(paths[0].energy + paths[-1].energy)
        rest = np.array([path.pull[0] / path.tension[0] for path in paths])
        lean = rest[0] @ [-1.0, 0.0], rest[0] @ [0.0, -1.0]  # the string's direction, up and to x
        height = reach[0, 0] * lean[0] - reach[0, 1] * lean[1]
        ending, message = _ending(bow, states, ended, gives_way)
        return cls(
            design=design,
            ending=ending,
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
            gives_way=gives_way,
            solved=(bow, states),
        )

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        weight, draw = float(self.force[-1]), float(self.draw[-1])
        told = f"{weight:.4g} N at {draw:.4g} m"
        return f"Walk({self.design.name!r}, {self.draw.size} states, {told}: {self.ending.key})"

    def _repr_html_(self) -> str:
        """Return a table for notebooks."""
        rows = {
            "ended": self.message or self.ending.text,
            "weight, N": float(self.force[-1]),
            "at a draw of, m to the pivot": float(self.draw[-1]),
            "energy, J": float(self.energy[-1]),
            "tension, N": float(self.tension[-1]),
            "most of yield": float(self.yield_share[-1]),
            "states": self.draw.size,
        }
        return card(self.design.name, rows)

    def columns(self) -> dict[str, Array]:
        """Return what each state has one of, by name and unit, as `pandas.DataFrame` takes it."""
        return {
            "draw_m": self.draw,
            "force_N": self.force,
            "tension_N": self.tension,
            "energy_J": self.energy,
            "string_energy_J": self.string_energy,
            "nock_x_m": self.nock_x,
            "nock_y_m": self.nock_y,
            "yield_share": self.yield_share,
            "fold_share": np.max([np.max(limb.fold_share, axis=1) for limb in self.limbs], axis=0),
        }

    @property
    def is_symmetric(self) -> bool:
        """Whether the lower limb is the mirror image of the upper one in every state."""
        return self.limbs[0] is self.limbs[1]

    @property
    def distinct_limbs(self) -> tuple[tuple[Side | None, LimbStates], ...]:
        """The limbs that differ, with their side: None for the one that stands for both."""
        if self.is_symmetric:
            return ((None, self.limbs[0]),)
        return tuple(zip(Side, self.limbs, strict=True))

    def limb(self, side: Side | None) -> LimbStates:
        """Return the limb of a side; of None, the one that stands for both."""
        return self.limbs[0 if side is None else side.index]

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
    accuracy: float | None = ACCURACY,
) -> Walk:
    """Walk a bow from brace to full draw.

    Parameters
    ----------
    design : Design
        The bow.
    to : float, optional
        Draw to walk to, nock point to pivot, m; by default the design's.
    refine : int
        Refine the default mesh by this factor; it is then left as it is.
    step : float
        Largest draw between states, m.
    both_limbs : bool
        Solve both limbs and their balance even where one says it all.
    accuracy : float, optional
        To which weight and tension at the last draw are to be known, as a share: elements are
        halved where it takes that. None for the default mesh, and no `Walk.mesh_error`.

    Returns
    -------
    Walk
        All states reached. A walk that stops early says where and why.

    Raises
    ------
    BraceError
        The bow cannot be braced: a `ConvergenceError` whose `ending` and message say why.
    InputError
        `to` is not beyond the brace height.
    """
    bow = Balance.from_design(design, settings, refine, both_limbs)
    try:
        found, ends = _walked(bow, to, step)
    except BraceError as refused:
        refusal = refused.named(design.name)
        if refine > 1 or accuracy is None:
            raise refusal from None
        LOG.info("%s; looked at again on a finer mesh", refusal)
        for finer in FINER if refusal.ending is Ending.TURNS_OVER else FINER[:1]:
            try:  # a verdict stands where a finer mesh gives it, too
                fine = Balance.from_design(design, settings, finer, both_limbs)
                found, _ = _walked(fine, to, step)
            except BraceError:
                continue
            return replace(found, mesh_error=MeshError.unknown(refusal.ending))
        raise refusal from None
    if refine > 1 or accuracy is None:
        return found
    for _ in range(FITS):
        error, meshes = fitting_mesh(bow, *ends, accuracy)
        told = design.name, bow.models[0].rod.n_elements, error.weight, error.tension
        LOG.info("%s: %d elements, weight known to %.1e, tension to %.1e", *told)
        if meshes is None:
            return replace(found, mesh_error=error)
        try:
            bow = Balance.from_design(design, settings, 1, both_limbs, meshes=meshes)
            fit, ends = _walked(bow, to, step)
        except BraceError as refused:
            return replace(found, mesh_error=MeshError.unknown(refused.ending))
        other = found.ending if fit.ending is not found.ending else None
        found = replace(fit, mesh_error=replace(error, verdict=other))
        if other is None:
            break
    return found


def _walked(bow: Balance, to: float | None, step: float) -> tuple[Walk, tuple[States, States]]:
    """Walk a bow on its mesh; return its record, and its states at brace and away from folding.

    The latter is full draw where that is reached.
    """
    design, braced = bow.design, brace(bow)
    start = float(bow.draw(braced)[0])
    goal = design.pivot_draw if to is None else to
    if not goal > start:
        raise InputError("to", f"{goal:g} m", f"above the brace height {start:g} m")
    count = max(2, ceil((goal - start) / step - 1e-9))
    goals = start + (goal - start) * np.arange(1, count + 1) / count
    drawn, ended = bow.draw_to(braced, goals)
    parts = [braced] if drawn is None else [braced, drawn]
    end, gives_way = follow_to_fold(bow, parts[-1])
    for again in range(AGAIN):  # one that ends where another goes on: again from there, wider
        here = float(bow.draw(parts[-1])[-1])
        if ended is Ending.COMPLETE or not float(bow.draw(end)[0]) > min(goal, here + step):
            break
        beyond = min(here + again * step + APART, float(goals[-2]))
        drawn, ended = bow.draw_to(parts[-1], goals[goals > beyond])
        parts += [] if drawn is None else [drawn]
        end, gives_way = follow_to_fold(bow, parts[-1])
    further = float(bow.draw(end)[0] - bow.draw(parts[-1])[-1])
    if ended is not Ending.COMPLETE and further > APART:
        if float(bow.draw(end)[0]) < goal:
            parts.append(end)
        else:  # a bow that can be drawn beyond has not given way
            ended, gives_way = Ending.NO_CONVERGENCE, None
    states = join(parts)
    shares = np.max([path.table_share for path in states.limbs], axis=0)
    away = states.at(int(np.flatnonzero(shares <= AWAY)[-1])) if shares[0] <= AWAY else braced
    if ended is Ending.COMPLETE:
        away = states.last()
    return Walk.from_states(bow, states, ended, gives_way), (braced, away)


def _ending(
    bow: Balance, states: States, ended: Ending, gives_way: GivesWay | None
) -> tuple[Ending, str]:
    """Say how a draw ended, and where and why it ended early."""
    if ended is Ending.COMPLETE:
        return ended, ""
    place, draw = "", float(bow.draw(states)[-1])
    if gives_way is not None:
        ending = gives_way.ending
        place = where_text(gives_way.s, gives_way.side)
    elif ended is Ending.TURNS_OVER:
        ending = ended
    else:  # limb and its part of the string in one straight line from centre to nock point
        stretched = bow.stretched(states, states.nock[-1]) > NEARLY_STRETCHED
        ending = Ending.FULL_STRETCH if stretched else Ending.NO_CONVERGENCE
    at = f"at a draw of {both_lengths(draw, 2)} to the pivot"
    return ending, f"{bow.design.name}: {ending.text}, {at}{place}"
