"""What a diary comes to: weight, tension and set over time, their band, what is promised."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from bowfem.bow import USUAL_DAY, DiaryState, Walk, keep_diary
from bowfem.design import DiaryEntry
from bowfem.findings.life import Life, life_line
from bowfem.findings.line import Column, Figure, Line, Table
from bowfem.findings.string_follow import StringFollow
from bowfem.section import plastic_memory

#: Factors on what fades after the first minute between which the truth is taken to lie (no
#: source: relaxation beyond an hour is from memory), as long as nothing was learnt of the bow.
FADING = (0.7, 1.3)
#: Habits by their key.
HABITS = {"strung": "being strung", "drawn": "being held drawn", "warm": "warmth"}
#: What may be said of a plastic in time, and what not.
PROMISED = (
    "Which way, and roughly how much, weight falls with warmth, holding and being kept strung; "
    "that set from a day's use mostly comes back overnight and a month's does not; that "
    "unstringing pays; that a fast draw reads a few per cent heavier than a scale read after a "
    "minute; which of two designs is worked harder."
)
NOT_PROMISED = (
    "A number of shots; a date or a temperature at which it fails; that it may be left strung, or "
    "in a car; any life after a nick, sun, solvent or overheating; weight to better than 5 % a "
    "month on; anything below 10 C, or for dyed, foamed or impact-modified pipe. Hot, time runs "
    "tens to thousands of times faster: an hour strung in a hot car is a week to a lifetime."
)


@dataclass(frozen=True, eq=False)
class Diary:
    """Hold a diary gone through, with the plastic as it is remembered and with its band.

    Parameters
    ----------
    walk : Walk
        The bow.
    entries : tuple of DiaryEntry
        What was done with it.
    states : tuple of DiaryState
        What came of it.
    low, high : tuple of DiaryState
        The same where the plastic fades more, and less.
    costs : tuple of (str, float)
        What each habit takes off the weight at the end, N, the largest first.
    follow : StringFollow or None
        What the law's own curve keeps of the first full draw, at most.
    life : Life
        What published formulas say of its worst fibre.
    """

    walk: Walk
    entries: tuple[DiaryEntry, ...]
    states: tuple[DiaryState, ...]
    low: tuple[DiaryState, ...]
    high: tuple[DiaryState, ...]
    costs: tuple[tuple[str, float], ...]
    follow: StringFollow | None
    life: Life

    @classmethod
    def from_walk(cls, walk: Walk, entries: Sequence[DiaryEntry] = ()) -> Diary:
        """Go through a diary three times.

        Raises
        ------
        InputError, ConvergenceError
            As of `keep_diary`.
        """
        given = tuple(entries) or walk.design.diary or USUAL_DAY
        states = keep_diary(walk, given)
        known = walk.design.material_choice.fading
        low, high = (
            states if known is not None else keep_diary(walk, given, plastic_memory(fading=factor))
            for factor in (FADING[1], FADING[0])
        )
        follow = StringFollow.after(walk)
        costs = _costs(walk, given)
        return cls(walk, given, states, low, high, costs, follow, Life.from_walk(walk))

    @property
    def table(self) -> Table:
        """Each state, with its band."""
        names = ("weight", "tension")

        def of(name: str, states: Sequence[DiaryState]) -> np.ndarray:
            return np.array([getattr(each, name) for each in states])

        def tips(states: Sequence[DiaryState]) -> np.ndarray:
            return np.array([max(each.tips, key=abs) for each in states])

        columns = [
            Column("", Figure("what", [each.what for each in self.states])),
            Column("", Figure("when", [each.label for each in self.states])),
            Column("since new", Figure("time", of("time", self.states), "duration"), (2, 2)),
        ]
        for name in names:
            columns += [
                Column(name, Figure(name, of(name, self.states), "force"), (1, 1)),
                Column("least", Figure(f"{name}_least", of(name, self.low), "force"), (1, 1)),
                Column("most", Figure(f"{name}_most", of(name, self.high), "force"), (1, 1)),
            ]
        columns += [
            Column("set", Figure("set", tips(self.states), "length"), (2, 0)),
            Column("least", Figure("set_least", tips(self.high), "length"), (2, 0)),
            Column("most", Figure("set_most", tips(self.low), "length"), (2, 0)),
        ]
        return Table("Diary", tuple(columns))

    @property
    def lines(self) -> tuple[Line, ...]:
        """What it comes to, in words."""
        return (*self._weight, *self._set, *self._costly, life_line(self.life))

    @property
    def _weight(self) -> list[Line]:
        drawn = [each for each in self.states if each.what == "drawn"]
        if not drawn:
            return []
        figures = (
            Figure("weight_first", drawn[0].weight, "force"),
            Figure("weight_last", drawn[-1].weight, "force"),
            Figure("weight_law", float(self.walk.force[-1]), "force"),
        )
        words = (
            "{weight_first:3} at the first full draw, {weight_last:3} at the last; {weight_law:3} "
            "is what a minute's test of the plastic gives"
        )
        return [Line("weight", words, figures, 10, "diary")]

    @property
    def _set(self) -> list[Line]:
        rest = [
            (max(each.tips, key=abs), max(low.tips, key=abs), max(high.tips, key=abs))
            for each, low, high in zip(self.states, self.low, self.high, strict=True)
            if each.what == "rest"
        ]
        if not rest:
            return []
        (first, _, _), (last, most, least) = rest[0], rest[-1]
        kept = np.nan if self.follow is None else max(self.follow.tips, key=abs)
        figures = (
            Figure("set_first", first, "length"),
            Figure("set_last", last, "length"),
            Figure("set_last_least", min(least, most), "length"),
            Figure("set_last_most", max(least, most), "length"),
            Figure("set_kept_at_most", kept, "length"),
        )
        words = (
            "tips stand {set_first:2} toward the archer when first unstrung, {set_last:2} at the "
            "end ({set_last_least:1} to {set_last_most:1}); that is memory, and comes back"
        )
        if np.isfinite(kept):
            words += (
                ". Apart from it, and not to be added in full: of the first full draw at most "
                "{set_kept_at_most:2} stays for good"
            )
        return [Line("set", words, figures, 20, "diary")]

    @property
    def _costly(self) -> list[Line]:
        """Which habit costs most."""
        if not self.costs:
            return []
        figures = tuple(Figure(f"cost_{key}", value, "force") for key, value in self.costs)
        said = ", ".join(f"{HABITS[key]} {{cost_{key}:2}}" for key, _ in self.costs)
        words = f"what each takes off the weight by the end: {said}"
        return [Line("habits", words, figures, 30, "diary")]


def _costs(walk: Walk, entries: tuple[DiaryEntry, ...]) -> tuple[tuple[str, float], ...]:
    """Go through the diary without one habit at a time; compare one more draw at the end."""
    last = DiaryEntry(what="drawn", lasts=3.0)

    def weight(done: Sequence[DiaryEntry]) -> float:
        return keep_diary(walk, (*done, last))[-1].weight

    now, found = weight(entries), []
    for key in ("strung", "drawn"):
        if any(each.what == key for each in entries):
            spared = [_rested(each) if each.what == key else each for each in entries]
            found.append((key, weight(spared) - now))
    if any(each.temperature is not None for each in entries):
        found.append(("warm", weight([replace(each, temperature=None) for each in entries]) - now))
    return tuple(sorted(found, key=lambda pair: -pair[1]))


def _rested(entry: DiaryEntry) -> DiaryEntry:
    return replace(entry, what="rest", lasts=max(entry.times * entry.lasts, 1.0), times=1)


def loading_time_line(walk: Walk) -> Line:
    """Say which loading time the numbers of a walk hold for, and what others would read."""
    if walk.design.material_choice.law is not None:
        words = "that of the test the law was taken from: what others would read is not known"
        unknown = (Figure("scale_at_once", np.nan, "force"), Figure("scale_late", np.nan, "force"))
        return Line("loading time", words, unknown, 65)
    kept = plastic_memory(fading=walk.design.material_choice.fading or 1.0)
    weight = float(walk.force[-1])
    figures = (
        Figure("scale_at_once", weight * float(kept.at(3.0)), "force"),
        Figure("scale_late", weight * float(kept.at(300.0)), "force"),
    )
    words = (
        "a minute at this draw; held 3 s a scale shows {scale_at_once:3}, held 5 min {scale_late:3}"
    )
    return Line("loading time", words, figures, 65)
