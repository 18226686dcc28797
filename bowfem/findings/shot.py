"""What a shot comes to, in words and figures: one arrow, others beside it, none at all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from bowfem.bow import (
    LIGHTEST_ARROW,
    USUAL_ARROW_MASS,
    BraceError,
    Ending,
    dry_fire,
    frequencies_at_brace,
    shoot,
    walk as walk_bow,
)
from bowfem.errors import ConvergenceError
from bowfem.findings.line import Column, Figure, Line, Place, Table, Warned
from bowfem.rod import Stop
from bowfem.units import GRAIN, POUND_FORCE

if TYPE_CHECKING:
    from bowfem.bow import DryFire, Peak, Shot, Walk

#: Arrows of the table in grains a pound of weight, that in kg per N, and the lightest arrow that
#: the trade advises (S: 8 to 10 grains a pound).
GRAINS = (5, 6, 7, 8, 9, 10, 12, 14, 17, 20)
PER_WEIGHT = GRAIN / POUND_FORCE
LIGHT = 8.0 * PER_WEIGHT
#: How much finer than that of a draw the mesh of a shot is.
FINER = 2
#: Loss tangents between which that of rigid PVC lies (M).
LOSSES = (0.01, 0.04)
#: Share of the string's strength that a shot may take, and of folding, before a warning: half the
#: strength for knots and wear (C), no source.
STRAINED, BENT = 0.5, 0.9


@dataclass(frozen=True, eq=False)
class Shots:
    """Hold the shot of one arrow, and of others beside it.

    Parameters
    ----------
    walk : Walk
        The bow.
    shot : Shot
        With the arrow asked for.
    others : tuple of Shot
        From light to heavy.
    dry : DryFire
        With none.
    frequencies : ndarray, shape (n,)
        Of the strung bow at rest, Hz.
    losses : tuple of float
        Least and largest speed with the loss tangents the plastic may have, m/s.
    band : tuple of float or None
        Least and largest weight, N, as far as pipe and plastic are known; None where they are not.
    """

    walk: Walk
    shot: Shot
    others: tuple[Shot, ...]
    dry: DryFire
    frequencies: np.ndarray
    losses: tuple[float, float]
    band: tuple[float, float] | None

    @classmethod
    def from_walk(
        cls,
        walk: Walk,
        arrow: float | None = None,
        band: tuple[float, float] | None = None,
        progress: Callable[[str], None] = lambda what: None,
    ) -> Shots:
        """Shoot one arrow, of the design's or the usual mass if none is given, and the table's.

        Raises
        ------
        InputError
            The arrow's mass cannot be.
        ConvergenceError
            The bow is not drawn in full.

        Notes
        -----
        The bow is walked again on a mesh twice as fine, on which a speed is right to 5e-5.
        """
        with suppress(BraceError):  # else on the mesh there is
            fine = walk_bow(walk.design, refine=FINER)
            walk = fine if fine.ending is Ending.COMPLETE else walk
        weight = float(walk.force[-1])
        given = walk.design.arrow.mass if arrow is None else arrow
        shot = shoot(walk, USUAL_ARROW_MASS * weight if given is None else given)
        others = []
        for each in GRAINS:
            progress(f"arrow of {each} grains a pound")
            try:
                others.append(shoot(walk, max(each * PER_WEIGHT * weight, LIGHTEST_ARROW)))
            except ConvergenceError:  # so light an arrow lets a limb fold
                continue
        progress("dry fire")
        speeds = [shot.speed]
        if walk.design.shooting.loss_tangent is None and walk.design.material_choice.law is None:
            for loss in LOSSES:
                how = replace(walk.design.shooting, loss_tangent=loss)
                other = replace(walk, design=replace(walk.design, shooting=how))
                speeds.append(shoot(other, shot.arrow, after=0.0).speed)
        return cls(
            walk,
            shot,
            tuple(others),
            dry_fire(walk),
            frequencies_at_brace(walk),
            (min(speeds), max(speeds)),
            band,
        )

    @property
    def speed_band(self) -> tuple[float, float] | None:
        """Least and largest speed, m/s.

        Notes
        -----
        Stresses all so many times larger, with the same masses, make the same motion in a time
        shorter by the root (D; the string's stretch does not follow, and counts little).
        """
        if self.band is None:
            return None
        weight = float(self.walk.force[-1])
        low, high = (np.sqrt(each / weight) for each in self.band)
        return float(low * self.losses[0]), float(high * self.losses[1])

    @property
    def lines(self) -> tuple[Line, ...]:
        """What the shot comes to."""
        return (
            self._arrow,
            self._speed,
            self._energy,
            self._time,
            self._string,
            self._limbs,
            self._hand,
            self._dry,
        )

    @property
    def _arrow(self) -> Line:
        grains = self.shot.arrow / PER_WEIGHT / float(self.walk.force[-1])
        figures = (Figure("arrow", self.shot.arrow, "mass"), Figure("grains_per_pound", grains))
        words = "{arrow:3}, {grains_per_pound:.1f} grains a pound of weight"
        return Line("arrow", words, figures, 10, "shot")

    @property
    def _speed(self) -> Line:
        shot, band = self.shot, self.speed_band
        ranged = (np.nan, np.nan) if band is None else band
        words = "{speed:4}"
        if band is not None:
            words += ", between {speed_least:3} and {speed_most:3} as pipe and plastic are known"
        figures = (
            Figure("speed", shot.speed, "speed"),
            *(
                Figure(key, value, "speed")
                for key, value in zip(("speed_least", "speed_most"), ranged, strict=True)
            ),
            Figure("speed_error", shot.error, "speed"),
            Figure("held", shot.held, "force"),
            Figure("rise", shot.rise, "speed"),
        )
        words += " (computed to {speed_error:1}); {held:3} in the hand when let go"
        if shot.rise:
            words += "; {rise:2} of it up along the bow"
        return Line("speed", words, figures, 20, "shot")

    @property
    def _energy(self) -> Line:
        shot = self.shot
        words = (
            "{arrow_energy:3} of the {work:3} stored: {efficiency:2}; {in_limbs:2} move on in the "
            "limbs, {in_string:2} stay in string and bend, {in_plastic:2} are lost in the plastic, "
            "{in_air:2} in the air"
        )
        figures = (
            Figure("arrow_energy", shot.energy, "energy"),
            Figure("work", shot.work, "energy"),
            Figure("efficiency", shot.efficiency, "share"),
            Figure("in_limbs", shot.moving / shot.work, "share"),
            Figure("in_string", shot.rest / shot.work, "share"),
            Figure("in_plastic", shot.lost / shot.work, "share"),
            Figure("in_air", shot.air / shot.work, "share"),
            Figure("virtual_mass", shot.virtual_mass, "mass"),
        )
        return Line("energy", words, figures, 30, "shot")

    @property
    def _time(self) -> Line:
        shot = self.shot
        figures = (
            Figure("time", shot.time, "time"),
            Figure("nock", shot.nock, "length"),
            *(
                Figure(f"frequency_{number}", float(each), "frequency")
                for number, each in enumerate(self.frequencies, 1)
            ),
        )
        words = (
            "{time:3} from the fingers to where it leaves the string, {nock:3} from the pivot; the "
            "strung bow rings at {frequency_1:2} and {frequency_2:2}"
        )
        return Line("time", words, figures, 40, "shot")

    @property
    def _string(self) -> Line:
        shot, after = self.shot, self.shot.after
        largest = shot.before if after is None else after
        words = "{tension_least:2} at the least on the way"
        words += ", slack for {slack:2}" if shot.slack > 0.0 else ""
        words += (
            "; {tension_leaving:3} as the arrow leaves, {tension_after:3} at {tension_after_time:2}"
            ": {of_strength:2} of what the new string bears"
        )
        figures = (
            Figure("tension_least", shot.least_tension, "force"),
            Figure("slack", shot.slack, "time"),
            Figure("tension_leaving", shot.tension, "force"),
            Figure("tension_after", largest.tension, "force"),
            Figure("tension_after_time", largest.tension_time, "time"),
            Figure("of_strength", largest.tension / self.walk.design.string.strength, "share"),
        )
        return Line("string", words, figures, 50, "shot")

    @property
    def _limbs(self) -> Line:
        shot = self.shot
        figures = _bends("before", shot.before.fold)
        words = "bent on the way to {before_fold:2} of what folds them at most"
        after = shot.after
        if after is not None:
            figures += _bends("after", after.fold)
            figures += _bends("after_yield", after.yields) + _bends("backward", after.backward)
            words += (
                ", after it to {after_fold:2}, {after_fold_at} at {after_fold_time:2}; strain there"
                " up to {after_yield_fold:2} of yield; bent backward to {backward_fold:2}"
            )
            if after.stop is not Stop.COMPLETE:
                words += ", and not followed further"
        return Line("limbs", words, figures, 60, "shot")

    @property
    def _hand(self) -> Line:
        words = "the grip kicks the hand with {impulse:2}"
        if self.walk.design.shooting.hand_mass is not None:
            words = "free to move with the mass given"
        figures = (Figure("impulse", abs(self.shot.impulse), "impulse"),)
        return Line("hand", words, figures, 70, "shot")

    @property
    def _dry(self) -> Line:
        dry = self.dry
        figures = (
            Figure("dry_fold_least", dry.fold[0], "share"),
            Figure("dry_fold_most", dry.fold[1], "share"),
            Figure("dry_tension_least", dry.tension[0], "force"),
            Figure("dry_tension_most", dry.tension[1], "force"),
            Figure("dry_slap_most", dry.slap[1], "speed"),
            Figure("dry_folds", Stop.LIMIT in dry.stops),
        )
        words = (
            "what a dry fire does to this bow: bends it to {dry_fold_least:2} to {dry_fold_most:2} "
            "of folding, pulls the string with {dry_tension_least:2} to {dry_tension_most:2}"
        )
        if np.isfinite(dry.slap[1]):
            words += ", slaps it into the handle"
        if Stop.LIMIT in dry.stops:
            words += "; a limb folds"
        elif Stop.NO_CONVERGENCE in dry.stops:
            words += "; not followed to its end"
        return Line("no arrow", words, figures, 80, "shot")

    @property
    def table(self) -> Table:
        """Arrows from light to heavy."""

        def of(read: Callable[[Shot], float]) -> np.ndarray:
            return np.array([read(each) for each in self.others])

        grains = of(lambda each: each.arrow) / PER_WEIGHT / float(self.walk.force[-1])
        bent = of(
            lambda each: each.before.fold.value if each.after is None else each.after.fold.value
        )
        pulled = of(lambda each: np.nan if each.after is None else each.after.tension)
        return Table(
            "Arrows",
            (
                Column("gr a lb", Figure("grains_per_pound", [f"{each:.0f}" for each in grains])),
                Column("arrow", Figure("arrow", of(lambda each: each.arrow), "mass"), (0, 1)),
                Column("speed", Figure("speed", of(lambda each: each.speed), "speed"), (1, 1)),
                Column("energy", Figure("energy", of(lambda each: each.energy), "energy"), (1, 1)),
                Column("of work", Figure("efficiency", of(lambda each: each.efficiency), "share")),
                Column(
                    "virtual",
                    Figure("virtual_mass", of(lambda each: each.virtual_mass), "mass"),
                    (0, 1),
                ),
                Column(
                    "string least",
                    Figure("tension_least", of(lambda each: each.least_tension), "force"),
                    (1, 1),
                ),
                Column("after", Figure("tension_after", pulled, "force"), (0, 0)),
                Column("bent after", Figure("bent_after", bent, "share")),
            ),
        )

    @property
    def advised(self) -> tuple[float, str] | None:
        """Lightest arrow of the table to shoot, kg, and why none lighter; None where all fail.

        Notes
        -----
        At least 8 grains a pound, as the trade has it (S); string and limbs below the shares at
        which they are warned of.
        """
        reason = "the trade shoots no less than 8 grains a pound"
        for each in self.others:
            found = self._against(each)
            if each.arrow < (1.0 - 1e-9) * LIGHT * float(self.walk.force[-1]):
                continue
            if not found:
                return each.arrow, reason
            reason = f"with a lighter one {found}"
        return None

    def _against(self, shot: Shot) -> str:
        """Say what speaks against an arrow; empty where nothing does."""
        after = shot.after
        if shot.slack > 0.0:
            return "the string goes slack on the way"
        if after is not None and (after.stop is Stop.LIMIT or after.fold.value > BENT):
            return f"a limb is bent to more than {BENT:.0%} of folding once it has gone"
        if after is not None and after.tension > STRAINED * self.walk.design.string.strength:
            return "the string takes more than half of what it bears new"
        return ""

    @property
    def warnings(self) -> Sequence[Warned]:
        """What a maker must not overlook."""
        light = LIGHT * float(self.walk.force[-1])
        found = []
        if self.shot.arrow < light:
            found.append(
                Warned(
                    "The arrow is light: what it does not take stays in limbs and string, as at a "
                    "dry fire. At least {light:2} is usual (8 grains a pound, as the trade "
                    "has it).",
                    (Figure("light", light, "mass"),),
                )
            )
        if self.shot.slack > 0.0:
            found.append(
                Warned(
                    "The string goes slack on the way: an arrow that is not clipped to it may come "
                    "off before it should."
                )
            )
        after = self.shot.after
        if after is not None and after.stop is Stop.LIMIT:
            found.append(
                Warned(
                    "A limb folds {after:2} after the fingers let go, once the arrow has left.",
                    (Figure("after", float(self.shot.motion.time[-1]), "time"),),
                )
            )
        elif after is not None and after.fold.value > BENT:
            found.append(
                Warned("Once the arrow has left, a limb is bent to more than 90 % of folding.")
            )
        if after is not None and after.tension > STRAINED * self.walk.design.string.strength:
            found.append(
                Warned(
                    "Once the arrow has left, the string is pulled with {tension:2}, more than "
                    "half of what it bears new, without knots and wear.",
                    (Figure("tension", after.tension, "force"),),
                )
            )
        return found


def _bends(name: str, peak: Peak) -> tuple[Figure, ...]:
    return (
        Figure(f"{name}_fold", peak.value, "share"),
        Place(f"{name}_fold_at", peak.s, side=peak.side),
        Figure(f"{name}_fold_time", peak.time, "time"),
    )
