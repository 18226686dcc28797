"""Random bows for the solver's sake: every pipe, bend, string and draw that a design may have."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from bowfem.design import Bend, BowString, Design, Draw, Handle, Limb, Mark, Nock, PipeChoice, Tip
from bowfem.design.shape import flat_width
from bowfem.section import Pipe
from bowfem.section.pipe import PIPES

INCH = 0.0254
#: Turns of the strong kind: curls about the usual 90 degrees and beyond.
STRONG = math.radians(150.0)
Random = np.random.Generator


def bow(seed: int, number: int) -> Design:
    """Make the design of a number; the same seed and number always make the same one.

    Parameters
    ----------
    seed : int
        Seed of the survey.
    number : int
        Which bow of the survey.
    """
    rng = np.random.default_rng([seed, number])
    size = PIPES[rng.integers(len(PIPES))]
    pipe = Pipe.from_size(size.name)
    half, inset = 0.5 * INCH * rng.uniform(36.0, 72.0), INCH * rng.uniform(0.5, 1.25)
    root = 0.5 * INCH * rng.uniform(2.0, 8.0)
    set_ = 0.0
    if rng.random() < 0.3:
        most = min(math.radians(30.0), 1.8 * root / pipe.outer_diameter)
        set_ = float(rng.uniform(-0.5, 1.0) * most)
    marks = _marks(rng, pipe, root, half)
    taper = ("straight", "smooth")[rng.integers(2)]
    tip = None
    if rng.random() < 0.25:
        begin = half - INCH * rng.uniform(4.0, 9.0)
        if begin > marks[0].at:
            tip = Tip(begin, INCH * rng.uniform(1.0, 2.5))
    bends = _bends(rng, pipe, root, half, tip)
    material = ("polyester", "hmpe")[rng.integers(2)]
    strands = int(rng.integers(10, 21))
    string = BowString(material, strands, brace_height=INCH * rng.uniform(4.0, 9.0))
    if rng.random() < 0.2:  # as bought: some way shorter than the limbs between the grooves
        length = 2.0 * (half - inset) * rng.uniform(0.85, 0.99)
        string = BowString(material, strands, length=length)
    measure = ("amo", "pivot")[rng.integers(2)]
    draw = Draw(INCH * rng.uniform(20.0, 32.0), measure)
    handle, limb, lower = Handle(2.0 * root, set_), Limb(marks, taper, bends, tip), None
    if rng.random() < 0.2:  # gripped off the middle, the lower limb pressed a little otherwise
        string = replace(string, nock_height=INCH * rng.uniform(0.0, 0.5))
        low, high = INCH * rng.uniform((-0.5, 0.0), (0.5, 1.5))
        handle = replace(handle, pivot_height=float(low), arrow_height=float(high))
        share = rng.uniform(0.9, 1.1)
        lower = replace(
            limb,
            marks=tuple(
                replace(mark, thickness=float(np.clip(share * mark.thickness, *_range(pipe))))
                for mark in marks
            ),
        )
    return Design(
        name=f"Bow {number} of seed {seed}",
        pipe_choice=PipeChoice(size=size.name, cut_length=2.0 * half),
        handle=handle,
        limb=limb,
        lower=lower,
        nock=Nock(inset),
        string=string,
        draw=draw,
    )


def _range(pipe: Pipe) -> tuple[float, float]:
    """Return the least and the most thickness of a pressed pipe, m."""
    return 2.0 * pipe.wall, pipe.outer_diameter


def _marks(rng: Random, pipe: Pipe, root: float, half: float) -> tuple[Mark, ...]:
    """Press from the fade to the tip, thinner outward; one limb in ten has a thin spot."""
    closed, full = _range(pipe)
    room = full - closed
    fade = root + INCH * rng.uniform(0.75, 2.5)
    count = int(rng.integers(2, 5))
    places = np.sort(rng.uniform(fade + 0.1 * half, 0.95 * half, count - 1))
    spans = np.diff(places, prepend=fade)
    thick = full - min(room, 0.9 * (fade - root)) * rng.uniform(0.0, 0.7)
    marks = [Mark(float(fade), float(thick))]
    end = closed + 0.5 * room * rng.random() ** 2
    for i, (at, span) in enumerate(zip(places, spans, strict=True)):
        share = 1.0 if i == count - 2 else rng.uniform(0.2, 0.8)
        to = thick + (min(end, thick) - thick) * share
        if rng.random() < 0.05:
            to = closed + (thick - closed) * rng.uniform(0.3, 0.7)
        thick = max(to, thick - 0.9 * span) if to < thick else min(to, thick + 0.9 * span)
        marks.append(Mark(float(at), float(thick)))
    return tuple(marks)


def _bends(rng: Random, pipe: Pipe, root: float, half: float, tip: Tip | None) -> tuple[Bend, ...]:
    """Bend the limb up to three times, gently or strongly, either way; most often at the tip."""
    count = int(rng.choice(4, p=(0.3, 0.4, 0.2, 0.1)))
    tightest = 0.55 * flat_width(pipe, 2.0 * pipe.wall) if tip else 0.6 * pipe.outer_diameter
    bends: list[Bend] = []
    end = half - INCH * rng.uniform(0.0, 1.5)
    for _ in range(count):
        turn = rng.uniform(0.1, 0.8) if rng.random() < 0.5 else rng.uniform(0.8, STRONG)
        radius = INCH * rng.uniform(2.0, 6.0) if rng.random() < 0.7 else INCH * rng.uniform(6, 30)
        radius = max(radius, 1.1 * tightest)
        turn = min(turn, (end - root) / radius * 0.7)
        start = end - turn * radius
        if start < root + 0.5 * INCH or turn < 0.05:
            break
        way = "forward" if rng.random() < 0.75 else "back"
        bends.append(Bend(start=start, radius=radius, angle=turn, direction=way))
        end = start - INCH * rng.uniform(0.0, 6.0) * (rng.random() < 0.7)
        if end < root + INCH:
            break
    return tuple(reversed(bends))
