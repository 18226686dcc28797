"""What time does to a bow: strung, drawn and at rest, its plastic remembering.

Stress remembers how it came about: ``M(t) = int G(t - t') dM_e``, with `M_e` the law's own moment
and `G` the plastic's `Memory`. Over a step this is ``a M_e + b``, the table scaled and shifted, so
that each step is an equilibrium like any other. Nothing is lost for good here: what the law's curve
keeps is another matter, see `StringFollow`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.balance import Balance
from bowfem.bow.ending import Ending
from bowfem.bow.limb_model import LimbModel
from bowfem.bow.nearby import carried_over, drawn_near, rest_near, string_slope
from bowfem.bow.states import States
from bowfem.bow.walking import Walk
from bowfem.design import DiaryEntry
from bowfem.errors import ConvergenceError, InputError
from bowfem.rod import MomentTable, Settings, one_state
from bowfem.section import Memory, plastic_memory

Array = NDArray[np.float64]

#: Steps that a hold is cut into, evenly in the logarithm of time; of a rest, which costs little.
STEPS, REST_STEPS = 6, 24
#: Shortest first step of a hold, s, and time that a draw and its return take, s.
FIRST, DRAWN_IN, BACK_IN = 1.0, 1.0, 0.2
#: When a bow at rest is looked at, s.
LOOKS = (1.0, 60.0, 3600.0, 8 * 3600.0)
#: Most drawings and other steps of a diary.
MOST = 20_000
#: A day with a bow, where the design has no diary.
USUAL_DAY = (
    DiaryEntry(what="strung", lasts=3600.0),
    DiaryEntry(what="drawn", lasts=3.0, times=30),
    DiaryEntry(what="strung", lasts=1800.0),
    DiaryEntry(what="rest", lasts=12 * 3600.0),
)


@dataclass(frozen=True)
class DiaryState:
    """Hold a bow at a moment of its diary.

    Parameters
    ----------
    time : float
        s since it was strung first.
    entry : int
        Which entry of the diary.
    what : str
        "strung", "drawn" or "rest".
    label : str
        "first", "last", "at once", "1 min", ...
    weight : float
        At full draw, N; not a number unless drawn.
    tension, brace_height : float
        N and m; not numbers unless strung.
    tips : tuple of float
        How far the unstrung grooves stand toward the archer from where they were formed, upper and
        lower, m; not numbers unless at rest.
    """

    time: float
    entry: int
    what: str
    label: str
    weight: float = np.nan
    tension: float = np.nan
    brace_height: float = np.nan
    tips: tuple[float, float] = (np.nan, np.nan)


class _Limb:
    """One limb and what its plastic remembers."""

    def __init__(self, model: LimbModel, memory: Memory) -> None:
        self.model, self.memory = model, memory
        table = model.rod.table
        assert table is not None
        self.table = table
        self.moments = np.zeros((memory.share.size, *model.rod.EI.shape))
        self.own = np.zeros(model.rod.EI.shape)  # the law's moment now

    def law(self, step: float, warmth: float) -> tuple[float, Array]:
        """Return `a` and `b` of a step, warmth included."""
        x = step / self.memory.time
        gain = float(np.sum(self.memory.share * (-np.expm1(-x) / x)))
        kept = np.tensordot(np.exp(-x), self.moments, axes=1)
        return warmth * (self.memory.rest + gain), warmth * (kept - gain * self.own)

    def model_for(self, step: float, warmth: float) -> LimbModel:
        """Return the limb with the law of a step."""
        a, b = self.law(step, warmth)
        table, rod = self.table, self.model.rod
        law = MomentTable(
            table.curvature, a * table.moment + b[..., None], a * table.tangent, table.limit
        )
        scaled = replace(rod, stretch=rod.stretch / a, shear=rod.shear / a)
        return replace(self.model, rod=scaled.with_table(law))

    def keep(self, moment: Array, step: float, warmth: float) -> None:
        """Go on to the end of a step whose moment was found."""
        a, b = self.law(step, warmth)
        self._to((moment - b) / a, step)

    def _to(self, own: Array, step: float) -> None:
        x = step / self.memory.time
        fade, gain = np.exp(-x), self.memory.share * (-np.expm1(-x) / x)
        change = (own - self.own)[None]
        self.moments = fade[:, None, None] * self.moments + gain[:, None, None] * change
        self.own = own

    def let_go(self, step: float, warmth: float) -> Array:
        """Leave the limb to itself for a step; return the bending it has then."""
        a, b = self.law(step, warmth)
        own = -b / a
        self._to(own, step)
        return self.table.bending_at(own)


class _Aging:
    """A bow as it goes through its diary."""

    def __init__(self, walk: Walk, memory: Memory) -> None:
        if walk.ending is not Ending.COMPLETE or walk.solved is None:
            raise ConvergenceError(f"no diary: the bow is not drawn in full ({walk.ending.text})")
        bow, states = walk.solved
        self.walk = walk
        # the string stays as long as it was made
        self.design = walk.design.with_values({"string.length": walk.string_length})
        self.settings = Settings()
        self.limbs = [_Limb(model, memory) for model in bow.models]
        now = Balance(self.design, bow.models, self.settings)
        first = States(states.nock[:1], tuple(one_state(path, 0) for path in states.limbs))
        last = States(states.nock[-1:], tuple(one_state(path, -1) for path in states.limbs))
        self.braced, self.drawn = first, last
        self.slope = string_slope(now, first) if now.symmetric else np.nan
        self.draw = float(walk.draw[-1])
        self.time = 0.0

    def _bow(self, step: float, warmth: float) -> Balance:
        models = [limb.model_for(step, warmth) for limb in self.limbs]
        return Balance(self.design, models, self.settings)

    def _keep(self, states: States, step: float, warmth: float) -> None:
        for limb, path in zip(self.limbs, states.limbs, strict=True):
            limb.keep(path.moment[-1], step, warmth)
        self.time += step

    def strung(self, step: float, warmth: float) -> tuple[float, float]:
        """Be strung at the end of a step; return tension and brace height."""
        bow = self._bow(step, warmth)
        self.braced = rest_near(bow, carried_over(self.braced, bow), 1.0, self.slope)
        self._keep(self.braced, step, warmth)
        height = float(np.hypot(*(self.braced.nock[-1] - bow.pivot)))
        return max(float(path.tension[-1]) for path in self.braced.limbs), height

    def held(self, step: float, warmth: float) -> float:
        """Be at full draw at the end of a step; return the weight."""
        bow = self._bow(step, warmth)
        lengths = [float(path.string_length[-1]) for path in self.braced.limbs]
        start = carried_over(self.drawn, bow)
        self.drawn = drawn_near(bow, start, bow.pivot, self.draw, lengths)
        self._keep(self.drawn, step, warmth)
        return float(np.hypot(*bow.force(self.drawn)[-1]))

    def rest(self, step: float, warmth: float) -> tuple[float, float]:
        """Be unstrung for a step; return how far the grooves have come."""
        tips = []
        for limb in self.limbs:
            rod = limb.model.rod
            bent = rod.reshaped(rod.curvature0 + limb.let_go(step, warmth))
            tips.append(float(bent.position0[-1, 1] - rod.position0[-1, 1]))
        self.time += step
        return tips[0], tips[-1]


def keep_diary(
    walk: Walk,
    entries: Sequence[DiaryEntry] = (),
    memory: Memory | None = None,
    *,
    steps: int = STEPS,
) -> tuple[DiaryState, ...]:
    """Go through a diary with a bow.

    Parameters
    ----------
    walk : Walk
        The bow, drawn in full; it is new, and strung first at time 0.
    entries : sequence of DiaryEntry
        What is done with it; by default what its design says, or a `USUAL_DAY`.
    memory : Memory, optional
        Of its plastic; by default that of rigid PVC with what its design says of it.
    steps : int
        Steps a hold is cut into.

    Returns
    -------
    tuple of DiaryState
        Strung: at once and at the end. Drawn: at the end of the first hold and of the last. At
        rest: at once, after a minute, an hour, a night, and at the end.

    Raises
    ------
    InputError
        There is no memory for a plastic of a law of its own, or the diary is too long.
    ConvergenceError
        The bow is not drawn in full, or no equilibrium was found on the way.

    Notes
    -----
    Strips and sleeves are taken to remember as the pipe does. Warmth scales stress as the plastic's
    `temperature_factor` does; that it also hastens time is not in here.
    """
    design = walk.design
    given = tuple(entries) or design.diary or USUAL_DAY
    if memory is None:
        if design.material_choice.law is not None:
            allowed = "left out: how a plastic of a law of its own fades is not known"
            raise InputError("material.law", design.material_choice.law, allowed)
        memory = plastic_memory(fading=design.material_choice.fading or 1.0)
    if sum(4 * each.times + steps for each in given) > MOST:
        raise InputError("diary", f"{len(given)} entries", f"at most {MOST} steps")
    aging, found = _Aging(walk, memory), []
    for number, entry in enumerate(given):
        warmth = _warmth(walk, entry.temperature)
        do = {"strung": _strung, "drawn": _drawn, "rest": _rest}[entry.what]
        found += do(aging, number, entry, warmth, steps)
    return tuple(found)


def _warmth(walk: Walk, temperature: float | None) -> float:
    """Return the stiffness at a temperature over that the walk was made with."""
    choice = walk.design.material_choice
    plastic = choice.preset
    here = plastic.room if choice.temperature is None else choice.temperature
    there = here if temperature is None else temperature
    return plastic.temperature_factor(there) / plastic.temperature_factor(here)


def _parts(lasts: float, steps: int) -> Array:
    """Cut a time into steps, evenly in its logarithm after a first short one."""
    first = min(FIRST, 0.5 * lasts)
    ends = np.geomspace(first, lasts, max(steps, 2))
    return np.diff(ends, prepend=0.0)


def _strung(
    aging: _Aging, number: int, entry: DiaryEntry, warmth: float, steps: int
) -> list[DiaryState]:
    found = []
    for i, step in enumerate(parts := _parts(entry.lasts, steps)):
        tension, height = aging.strung(float(step), warmth)
        if i in (0, parts.size - 1):
            label = "at once" if i == 0 else "at the end"
            found.append(
                DiaryState(
                    aging.time,
                    number,
                    "strung",
                    label,
                    tension=tension,
                    brace_height=height,
                )
            )
    return found


def _drawn(
    aging: _Aging, number: int, entry: DiaryEntry, warmth: float, steps: int
) -> list[DiaryState]:
    found = []
    long = entry.lasts > 10.0
    for shot in range(entry.times):
        aging.held(DRAWN_IN, warmth)
        parts = _parts(entry.lasts, steps) if long else np.array([entry.lasts])
        weight = np.nan
        for step in parts:
            weight = aging.held(float(step), warmth)
        if shot in (0, entry.times - 1):
            label = "first" if shot == 0 else f"last of {entry.times}"
            found.append(DiaryState(aging.time, number, "drawn", label, weight=weight))
        aging.strung(BACK_IN, warmth)
        if shot < entry.times - 1:
            aging.strung(max(entry.every - DRAWN_IN - entry.lasts - BACK_IN, FIRST), warmth)
    return found


def _rest(
    aging: _Aging, number: int, entry: DiaryEntry, warmth: float, steps: int
) -> list[DiaryState]:
    looks = [each for each in LOOKS if each < 0.999 * entry.lasts]
    ends = np.unique([*np.geomspace(0.1, entry.lasts, REST_STEPS), *looks])
    found, names = [], dict(zip(LOOKS, ("at once", "a minute", "an hour", "a night"), strict=True))
    gone = 0.0
    for end in ends:
        tips = aging.rest(float(end - gone), warmth)
        gone = float(end)
        label = names.get(gone, "at the end" if end == ends[-1] else "")
        if label:
            found.append(DiaryState(aging.time, number, "rest", label, tips=tips))
    return found
