"""What a shot comes to, in words and figures: one arrow, and arrows from light to heavy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bowfem.bow import LIGHTEST_ARROW, shoot
from bowfem.errors import ConvergenceError
from bowfem.findings.line import Column, Figure, Line, Table, Warned
from bowfem.units import GRAIN, POUND_FORCE

if TYPE_CHECKING:
    from bowfem.bow import Shot, Walk

#: Arrows of the table in grains a pound of weight, that in kg per N, the usual arrow and the
#: lightest that is advised (S: 8 to 10 grains a pound).
GRAINS = (5, 6, 7, 8, 9, 10, 12, 14, 17, 20)
PER_WEIGHT = GRAIN / POUND_FORCE
USUAL, LIGHT = 9.0 * PER_WEIGHT, 8.0 * PER_WEIGHT
#: Share by which the plastic's quickness and loss may move a speed (D, from a loss tangent of
#: 0.01 to 0.04, from memory).
QUICK = 0.02


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
    band : tuple of float or None
        Least and largest weight, N, as far as pipe and plastic are known; None where they are not.
    """

    walk: Walk
    shot: Shot
    others: tuple[Shot, ...]
    band: tuple[float, float] | None

    @classmethod
    def from_walk(
        cls, walk: Walk, arrow: float | None = None, band: tuple[float, float] | None = None
    ) -> Shots:
        """Shoot one arrow, of the usual mass if none is given, and those of the table.

        Raises
        ------
        InputError
            The arrow's mass cannot be, or the limbs are not alike.
        ConvergenceError
            The bow is not drawn in full.
        """
        weight = float(walk.force[-1])
        shot = shoot(walk, USUAL * weight if arrow is None else arrow)
        others = []
        for each in GRAINS:
            try:
                others.append(shoot(walk, max(each * PER_WEIGHT * weight, LIGHTEST_ARROW)))
            except ConvergenceError:  # so light an arrow lets a limb fold
                continue
        return cls(walk, shot, tuple(others), band)

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
        low, high = (self.shot.speed * np.sqrt(each / weight) for each in self.band)
        return float(low) * (1.0 - QUICK), float(high) * (1.0 + QUICK)

    @property
    def lines(self) -> tuple[Line, ...]:
        """What the shot comes to."""
        shot = self.shot
        band = self.speed_band
        ranged = (np.nan, np.nan) if band is None else band
        grains = shot.arrow / PER_WEIGHT / float(self.walk.force[-1])
        stays = 1.0 - shot.efficiency - shot.moving / shot.work
        slack = shot.slack > 0.0
        return (
            Line(
                "arrow",
                "{arrow:3}, {grains_per_pound:.1f} grains a pound of weight",
                (Figure("arrow", shot.arrow, "mass"), Figure("grains_per_pound", grains)),
                10,
                "shot",
            ),
            Line(
                "speed",
                "{speed:4}"
                + ("" if band is None else ", between {speed_least:3} and {speed_most:3}")
                + " (computed to {speed_error:1})",
                (
                    Figure("speed", shot.speed, "speed"),
                    *(
                        Figure(key, value, "speed")
                        for key, value in zip(("speed_least", "speed_most"), ranged, strict=True)
                    ),
                    Figure("speed_error", shot.error, "speed"),
                ),
                20,
                "shot",
            ),
            Line(
                "energy",
                "{arrow_energy:3} of the {work:3} stored: {efficiency:2}; {in_limbs:2} move on in "
                "the limbs, {in_string:2} stay in string and bend",
                (
                    Figure("arrow_energy", shot.energy, "energy"),
                    Figure("work", shot.work, "energy"),
                    Figure("efficiency", shot.efficiency, "share"),
                    Figure("in_limbs", shot.moving / shot.work, "share"),
                    Figure("in_string", stays, "share"),
                    Figure("virtual_mass", shot.virtual_mass, "mass"),
                ),
                30,
                "shot",
            ),
            Line(
                "time",
                "{time:3} from the fingers to where it leaves the string, {nock:3} from the pivot",
                (Figure("time", shot.time, "time"), Figure("nock", shot.nock, "length")),
                40,
                "shot",
            ),
            Line(
                "string",
                "{tension_least:2} at the least on the way"
                + (", slack for {slack:2}" if slack else "")
                + "; {tension_leaving:3} as the arrow leaves",
                (
                    Figure("tension_least", shot.least_tension, "force"),
                    Figure("slack", shot.slack, "time"),
                    Figure("tension_leaving", shot.tension, "force"),
                ),
                50,
                "shot",
            ),
            Line(
                "limbs",
                "bent on the way to {fold_share:2} of what folds them at most",
                (Figure("fold_share", shot.fold_share, "share"),),
                60,
                "shot",
            ),
        )

    @property
    def table(self) -> Table:
        """Arrows from light to heavy."""

        def of(name: str) -> np.ndarray:
            return np.array([getattr(each, name) for each in self.others])

        grains = of("arrow") / PER_WEIGHT / float(self.walk.force[-1])
        return Table(
            "Arrows",
            (
                Column("gr a lb", Figure("grains_per_pound", [f"{each:.0f}" for each in grains])),
                Column("arrow", Figure("arrow", of("arrow"), "mass"), (0, 1)),
                Column("speed", Figure("speed", of("speed"), "speed"), (1, 1)),
                Column("energy", Figure("energy", of("energy"), "energy"), (1, 1)),
                Column("of the work", Figure("efficiency", of("efficiency"), "share")),
                Column("virtual", Figure("virtual_mass", of("virtual_mass"), "mass"), (0, 1)),
                Column("string", Figure("tension_least", of("least_tension"), "force"), (1, 1)),
            ),
        )

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
        return found
