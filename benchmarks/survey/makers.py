"""Random bows as makers make them: ranges of common practice, each named beside its number."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from bowfem.design import Bend, BowString, Design, Draw, Handle, Limb, Mark, Nock, PipeChoice, Tip
from bowfem.design.shape import flat_width
from bowfem.section import Pipe

INCH = 0.0254
Random = np.random.Generator

#: Pipe, and its cut lengths, in; the smallest for children. Common practice, no source, as all
#: that follows.
PIPES = {
    "1/2 in Sch 40": (36, 48),
    "3/4 in Sch 40": (44, 60),
    "1 in Sch 40": (52, 70),
    "1-1/4 in Sch 40": (60, 76),
    "1 in SDR 21": (48, 66),
    "1-1/4 in SDR 21": (56, 72),
    "25 mm PN16": (44, 60),
    "32 mm PN16": (52, 68),
    "40 mm PN16": (60, 76),
}
#: Cut length over draw length, AMO.
OVER_DRAW = (1.75, 2.3)
#: Round handle and fade, in; thickness where it ends, of the outer diameter; of the room there is
#: above pressed shut, at the last mark.
HANDLE, FADE, ROOT, TIP = (4, 6), (1.5, 3.0), (0.72, 0.92), (0.02, 0.3)
#: From the last mark to the pipe's end, in; a middle mark, off the straight taper.
LAST, MIDDLE = (0.75, 2.0), (-0.08, 0.08)
#: Straight, curled tips, stiff tips set forward, edge-on tips.
KINDS, SHARES = ("straight", "curl", "stiff", "edge"), (0.45, 0.25, 0.2, 0.1)
#: Curls: radius of the former, in, and angle, degrees; stiff tips: set, degrees, and length, in.
CURL, CURLED, SET, STIFF = (2.0, 2.5, 3.0), (45, 120), (20, 45), (6, 9)
#: Brace height, in, of straight limbs and of curls; strands; place of nocks from the end, in.
BRACE, CURLED_BRACE, STRANDS, NOCK = (5.5, 7.0), (6.5, 8.0), (12, 16), (0.75, 1.0)
#: Reflex or deflex in the handle, degrees, in three bows of ten.
HANDLE_SET = (-4, 8)


def bow(seed: int, number: int) -> Design:
    """Make the design of a number; the same seed and number always make the same one."""
    rng = np.random.default_rng([seed, number, 1])
    size = str(rng.choice(list(PIPES)))
    pipe = Pipe.from_size(size)
    length = _step(rng.uniform(*PIPES[size]), 0.5)
    half = 0.5 * INCH * length
    draw = _step(length / rng.uniform(*OVER_DRAW), 0.5)
    kind = str(rng.choice(KINDS, p=SHARES))
    inset = INCH * _step(rng.uniform(*NOCK), 0.125)
    handle = Handle(INCH * _step(rng.uniform(*HANDLE), 0.25), _handle_set(rng))
    root = 0.5 * handle.length
    marks = _marks(rng, pipe, root, half)
    bends, tip = _tips(rng, kind, pipe, half)
    taper = "straight" if rng.random() < 0.7 else "smooth"
    material = "polyester" if rng.random() < 0.7 else "hmpe"
    height = INCH * _step(rng.uniform(*(CURLED_BRACE if kind == "curl" else BRACE)), 0.25)
    string = BowString(material, int(rng.integers(STRANDS[0], STRANDS[1] + 1)), brace_height=height)
    limb, lower = Limb(marks, taper, bends, tip), None
    if rng.random() < 0.15:  # gripped under the middle, the lower limb pressed a little thicker
        handle = replace(handle, arrow_height=INCH * _step(rng.uniform(0.5, 1.5), 0.25))
        thicker = [min(1.03 * mark.thickness, pipe.outer_diameter) for mark in marks]
        each = zip(marks, thicker, strict=True)
        lower = replace(limb, marks=tuple(replace(mark, thickness=t) for mark, t in each))
    return Design(
        name=f"Maker's bow {number} of seed {seed}",
        pipe_choice=PipeChoice(size=size, cut_length=2.0 * half),
        handle=handle,
        limb=limb,
        lower=lower,
        nock=Nock(inset),
        string=string,
        draw=Draw(INCH * draw, "amo"),
    )


def _step(value: float, step: float) -> float:
    """Round to what a tape shows."""
    return round(value / step) * step


def _handle_set(rng: Random) -> float:
    return math.radians(_step(rng.uniform(*HANDLE_SET), 1.0)) if rng.random() < 0.3 else 0.0


def _marks(rng: Random, pipe: Pipe, root: float, half: float) -> tuple[Mark, ...]:
    """Press from the fade to near the end, thinner outward."""
    closed, full = 2.0 * pipe.wall, pipe.outer_diameter
    start, end = root + INCH * rng.uniform(*FADE), half - INCH * rng.uniform(*LAST)
    # a fade steeper than about one in one does not press
    thick = max(full * rng.uniform(*ROOT), full - 0.8 * (start - root))
    thin = closed + (full - closed) * rng.uniform(*TIP)
    marks = [Mark(start, thick), Mark(end, min(thin, thick))]
    if rng.random() < 0.3:
        share = rng.uniform(0.35, 0.75)
        middle = thick + (marks[1].thickness - thick) * share * (1.0 + rng.uniform(*MIDDLE))
        marks.insert(1, Mark(start + share * (end - start), max(middle, marks[1].thickness)))
    return tuple(marks)


def _tips(rng: Random, kind: str, pipe: Pipe, half: float) -> tuple[tuple[Bend, ...], Tip | None]:
    """Curl the tips, set them forward, or set them forward on edge."""
    if kind == "straight":
        return (), None
    if kind == "curl":
        radius = max(INCH * float(rng.choice(CURL)), 0.7 * pipe.outer_diameter)
        angle = math.radians(rng.uniform(*CURLED))
        start = half - INCH * 0.5 - angle * radius
        return (Bend(start=start, radius=radius, angle=angle, direction="forward"),), None
    radius = max(4.0 * INCH, 0.7 * flat_width(pipe, 2.0 * pipe.wall))
    angle = math.radians(rng.uniform(*SET))
    begin = half - INCH * rng.uniform(*STIFF)
    tip = Tip(begin, 1.5 * INCH) if kind == "edge" else None
    end = begin - (0.25 * INCH if tip else 0.0)
    start = end - angle * radius
    return (Bend(start=start, radius=radius, angle=angle, direction="forward"),), tip
