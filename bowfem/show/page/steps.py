"""The order of work: what to do to a pipe, step by step, each with its figures and cautions."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bowfem.design import AMO_ALLOWANCE, Side
from bowfem.findings import DrawLength, Findings, Tillering
from bowfem.orders import SURE
from bowfem.section import PVC_DANGERS
from bowfem.show.page.paper import BOX, limb_name
from bowfem.show.page.sheet_parts import Station, stations
from bowfem.show.text.cautions import (
    BURNS,
    ESTIMATE,
    EYES,
    FINISHED,
    LAW,
    NO_DRY_FIRE,
    NO_PRESSURE,
)
from bowfem.show.text.tables import (
    band_text,
    finding_lines,
    fixed,
    labelled,
    printable,
    ruled,
    warning_lines,
    wrapped,
)
from bowfem.units import INCH, System, as_marked, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.design import Design
    from bowfem.orders import WeightBand

#: Rigid PVC is formed between these, best at the middle one, turns viscous and carbonises, K (S:
#: trade literature on heat forming).
FORM, BEST, VISCOUS, CHARS = (380.15, 408.15), 394.15, 450.15, 491.15
#: How much further than asked pipe is pressed, for it springs back (C), and what counts as further.
FURTHER, LESS = 0.925, 0.97
#: Depth of a side nock, m (C).
GROOVE = 3.0 / 16.0 * INCH
#: Draws at which the bow is weighed.
WEIGHED = 4
#: Before the text of a step.
INDENT = "    "
#: Room for a number to be written down.
BLANK = "________"


@dataclass(frozen=True)
class Step:
    """One step of the work.

    Parameters
    ----------
    title : str
        What is done.
    texts : tuple of str
        How, a paragraph each.
    table : str
        Figures in columns, or empty.
    cautions : tuple of str
        What can hurt here.
    """

    title: str
    texts: tuple[str, ...] = ()
    table: str = ""
    cautions: tuple[str, ...] = ()

    def text(self, number: int) -> str:
        """Lay the step out, with a box to tick."""
        parts = [f"{BOX} {number}  {self.title}"]
        parts += [wrapped(text, INDENT, INDENT) for text in self.texts]
        if self.table:
            parts.append(textwrap.indent(self.table, INDENT))
        parts += [wrapped(f"! {text}", INDENT, f"{INDENT}  ") for text in self.cautions]
        return "\n".join(parts)


def sheet_text(findings: Findings, band: WeightBand, system: System) -> list[str]:
    """Return the text of the sheet in blocks: what the bow is, warnings, the order of work."""
    walk = findings.walk
    causes = "; ".join(
        f"{cause.name} (+-{100 * SURE * cause.deviation / band.weight:.0f} %)"
        for cause in band.causes
    )
    weight = show(band.weight, "force", system, 3)
    told = [
        ("weight", f"{weight} at {DrawLength.of(walk, walk.draw[-1]).text(system)}"),
        ("band", f"{band_text(band, system)}. It is made of: {causes}"),
    ]
    head = f"{printable(walk.design.name)}: the sheet to work from\n\n{labelled(told)}"
    steps = order_of_work(findings, band, system)
    blocks = [head, *warning_lines(findings, system), wrapped(ESTIMATE)]
    return blocks + [step.text(number) for number, step in enumerate(steps, 1)]


def order_of_work(findings: Findings, band: WeightBand, system: System) -> list[Step]:
    """Return the steps from pipe to bow, in order."""
    design = findings.walk.design
    return [
        _measure(design, band, system),
        _cut(design, system),
        _mark(design, system),
        *_sleeves(design, system),
        _press(design, system),
        *_set(design, system),
        *_bends(design, system),
        *_tips(design, system),
        *_overlays(design, system),
        _nocks(design, system),
        _string(findings, system),
        _brace(findings, system),
        *_tiller(findings, system),
        Step(
            "LABEL IT",
            ("The label stands on the page of the nocks; cut it out, keep it with the bow.",),
            cautions=(PVC_DANGERS[1], NO_PRESSURE),
        ),
    ]


def tiller_targets(findings: Findings, system: System) -> Tillering:
    """Return what to tiller a bow by, at draws that a tape shows whole."""
    return Tillering.from_walk(findings.walk, step=INCH if system == "us" else 0.01)


def _measure(design: Design, band: WeightBand, system: System) -> Step:
    pipe, size = design.pipe, design.pipe_choice.size
    told = f"{printable(size or pipe.name or 'as measured')}"
    narrowed = ""
    if band.narrowed is not None:
        low, high = (show(x, "force", system, 3) for x in band.narrowed)
        narrowed = f", which narrows the weight to {low} to {high} before any heating"
    return Step(
        "MEASURE THE PIPE",
        (
            f"{told}: reckoned with {show(pipe.outer_diameter, 'length', system)} outside, "
            f"{show(pipe.wall, 'length', system, 3)} wall.",
            f"Outside {BLANK}  wall at four places {BLANK} {BLANK} {BLANK} {BLANK}",
            f"Weighs {BLANK} over a length of {BLANK}",
            f"An offcut on supports {BLANK} apart, {BLANK} hung on it, sinks {BLANK}",
            f"Give them to `bowfem learn`{narrowed}.",
        ),
        cautions=(LAW,),
    )


def _cut(design: Design, system: System) -> Step:
    cut = show(design.pipe_choice.cut_length, "length", system)
    upper = as_marked(stations(design, Side.UPPER)[0].near_end, system)
    return Step(
        "CUT",
        (
            f"{cut} long, ends square. The bow's centre is {upper} from the upper end. Mark one "
            "line along the pipe for the middle of the belly, one opposite for the back.",
        ),
    )


def _mark(design: Design, system: System) -> Step:
    length = shown_unit("length", system)
    tables = []
    for side in design.distinct_sides:
        near, far = ("this", "other") if side is None else (side.value, side.other.value)
        heads = [
            ["station", "from", f"from {near}", f"from {far}", "press", "or", "thick", "wide"],
            ["", "centre", "end", "end", "to", "further", "", ""],
            ["", *[length] * 7],
        ]
        rows = [_row(design, each, system) for each in stations(design, side)]
        tables.append(f"{limb_name(side).capitalize()}\n{ruled(heads, rows, left=1)}")
    shut = show(2.0 * design.pipe.wall, "length", system, 3)
    return Step(
        "MARK",
        (
            "From both ends, so that one checks the other; thick in the bow's plane and wide "
            "across it as the limb then stands, to be checked with a calliper. Plastic springs "
            f"back: the further press allows for it (common practice, no source); {shut} is shut.",
        ),
        "\n\n".join(tables),
    )


def _row(design: Design, each: Station, system: System) -> list[str]:
    fine = 3 if system == "us" else 1

    def exact(x: float) -> str:
        return fixed(float(convert(x, "length", system)), fine)

    pipe = design.pipe
    shut, round_ = 2.0 * pipe.wall, pipe.outer_diameter
    further = max(FURTHER * each.pressed, shut)
    no = each.pressed > LESS * round_ or further > LESS * each.pressed
    places = [as_marked(x, system, digits=True) for x in (each.s, each.near_end, each.far_end)]
    pressed = [exact(each.pressed), "-" if no else exact(further)]
    return [each.what, *places, *pressed, exact(each.thickness), exact(each.width)]


def _each_limb(design: Design) -> Iterator[tuple[str, Side | None]]:
    """Name the limbs that differ; the one that stands for both goes without a name."""
    for side in design.distinct_sides:
        yield ("" if side is None else f"{limb_name(side).capitalize()}: "), side


def _sleeves(design: Design, system: System) -> list[Step]:
    texts = []
    for name, side in _each_limb(design):
        for n, sleeve in enumerate(design.shape(side).limb.sleeves, 1):
            what = printable(sleeve.size or "")
            if not what and sleeve.outer_diameter is not None:
                what = f"{show(sleeve.outer_diameter, 'length', system)} outside"
                if sleeve.wall is not None:
                    what += f", {show(sleeve.wall, 'length', system, 3)} wall"
            kind = "rod" if not sleeve.size and sleeve.wall is None else "pipe"
            begin, end = (as_marked(x, system) for x in (sleeve.start, sleeve.end))
            fit = "glued all along" if sleeve.fit == "bonded" else "left to slide"
            texts.append(f"{name}Sleeve {n}, {kind} {what}: from {begin} to {end} out, {fit}.")
    return [Step("PUT SLEEVES AND RODS IN", tuple(texts))] if texts else []


def _press(design: Design, system: System) -> Step:
    low, high, best, viscous, chars = (
        show(t, "temperature", system, 3) for t in (*FORM, BEST, VISCOUS, CHARS)
    )
    texts = []
    for name, side in _each_limb(design):
        shape = design.shape(side)
        begin = as_marked(shape.fade.start, system)
        texts.append(f"{name}Heat evenly from {begin} out to the end; the handle stays cool.")
    board = "straight" if design.limb.taper == "straight" else "bowed smoothly"
    texts += [
        f"Formed between {low} and {high}, best at {best}; viscous near {viscous}, charring near "
        f"{chars}. Watch a thermometer on the wall, turn the pipe all the time.",
        f"Press in the jig to the columns above, between marks the board is {board}; leave it in "
        "until cold. Fully heated pipe may come out shorter: measure before cutting grooves.",
        f"As pressed, at the marks: thick {BLANK} {BLANK} {BLANK} {BLANK}",
        f"and wide there: {BLANK} {BLANK} {BLANK} {BLANK}",
    ]
    return Step("HEAT, PRESS, COOL", tuple(texts), cautions=(PVC_DANGERS[0], BURNS))


def _set(design: Design, system: System) -> list[Step]:
    turn = design.handle.set
    if turn == 0.0:
        return []
    way = "toward the archer" if turn < 0.0 else "forward, away from the archer"
    angle = show(abs(turn), "angle", system, 3)
    return [Step("SET THE HANDLE", (f"Each limb {angle} {way}, spread over the handle.",))]


def _bends(design: Design, system: System) -> list[Step]:
    texts = []
    for name, side in _each_limb(design):
        shape = design.shape(side)
        for n, bend in enumerate(shape.limb.bends, 1):
            depth = float(shape.depth_at(np.array([0.5 * (bend.start + bend.stop)]))[0])
            former = show(1.0 / abs(bend.curvature) - 0.5 * depth, "length", system, 3)
            begin, end = (as_marked(x, system) for x in (bend.start, bend.stop))
            inside = "back" if bend.direction == "forward" else "belly"
            texts.append(
                f"{name}Bend {n}, from {begin} to {end} out: {bend.direction} by "
                f"{show(abs(bend.turn), 'angle', system, 3)}, the {inside} round a former of "
                f"{former} radius. Lay it on the page in true size."
            )
    return [Step("BEND", tuple(texts), cautions=(BURNS,))] if texts else []


def _tips(design: Design, system: System) -> list[Step]:
    texts = []
    for name, side in _each_limb(design):
        tip = design.shape(side).limb.tip
        if tip is None:
            continue
        begin = as_marked(tip.edge_on_from, system)
        end = as_marked(tip.edge_on_from + tip.transition, system)
        texts.append(f"{name}Heat and turn from {begin} to {end} out, edge-on from there.")
    return [Step("TURN THE TIPS", tuple(texts), cautions=(BURNS,))] if texts else []


def _overlays(design: Design, system: System) -> list[Step]:
    texts = []
    for name, side in _each_limb(design):
        for n, layer in enumerate(design.shape(side).limb.overlays, 1):
            begin, end = (as_marked(x, system) for x in (layer.start, layer.end))
            what = f"wrap of {show(layer.mass_per_length, 'mass_per_length', system, 3)}"
            if layer.thickness is not None:
                what = f"strip {show(layer.thickness, 'length', system, 3)} thick glued to the back"
            texts.append(f"{name}Overlay {n}, {what}: from {begin} to {end} out.")
    return [Step("STRIPS AND WRAPS", tuple(texts))] if texts else []


def _nocks(design: Design, system: System) -> Step:
    texts = []
    for name, side in _each_limb(design):
        shape = design.shape(side)
        inset = as_marked(shape.length - shape.nock_station, system)
        texts.append(f"{name}Grooves {inset} from the end of the pipe.")
    if design.nock.width is not None:
        width = show(design.nock.width, "length", system, 3)
        texts.append(
            f"File the tip to {width} between the grooves, out to the limb's width "
            f"{as_marked(design.nock.filed, system)} further in."
        )
    texts.append(
        f"File them {as_marked(GROOVE, system)} deep from either edge and round them well (common "
        "practice, no source); they are drawn in true size on a page of their own."
    )
    return Step("NOCKS", tuple(texts), cautions=(FINISHED,))


def _string(findings: Findings, system: System) -> Step:
    string = findings.walk.design.string
    length = show(findings.walk.string_length, "length", system)
    told = [
        ("string", f"{string.strands} strands of {string.material}, {length} between the grooves"),
        *finding_lines([line for line in findings.lines if line.on_sheet], system),
    ]
    return Step("STRING", tuple(f"{label}: {text}" for label, text in told))


def _brace(findings: Findings, system: System) -> Step:
    walk, design = findings.walk, findings.walk.design
    texts = [
        f"{show(walk.brace_height, 'length', system)} from grip pivot to string, where its tension "
        f"is {show(walk.brace_tension, 'force', system, 3)}. Measured {BLANK}"
    ]
    for what, height in (
        ("Arrow pass", design.handle.arrow_height),
        ("Nock point", design.string.nock_height),
    ):
        if height:
            way = "above" if height > 0.0 else "below"
            where = "the pivot" if what == "Arrow pass" else "square to the string at the arrow"
            texts.append(f"{what} {as_marked(abs(height), system)} {way} {where}.")
    return Step("BRACE", tuple(texts), cautions=(EYES, NO_DRY_FIRE))


def _tiller(findings: Findings, system: System) -> list[Step]:
    walk, found = findings.walk, tiller_targets(findings, system)
    length, force = shown_unit("length", system), shown_unit("force", system)
    amo = walk.design.draw.measure == "amo"
    added = AMO_ALLOWANCE if amo else 0.0
    shown = found.draw + added
    draws = ["brace", *(fixed(float(convert(x, "length", system)), 1) for x in shown[1:])]
    places = 2 if system == "us" else 0
    tables = []
    sides = walk.design.distinct_sides
    for side in sides:
        index = 0 if side is None else side.index
        head = ["from centre", *(each for draw in draws for each in (draw, "have"))]
        unit = [length, *(each for _ in draws for each in (length, ""))]
        rows = [
            [as_marked(float(s), system, digits=True)]
            + [
                cell
                for gap in gaps
                for cell in (fixed(float(convert(gap, "length", system)), places), "______")
            ]
            for s, gaps in zip(found.places[index], found.gaps[index].T, strict=True)
        ]
        tables.append(f"{limb_name(side).capitalize()}\n{ruled([head, unit], rows)}")
    measure = "AMO" if amo else "to the pivot"
    scale = Tillering.from_walk(walk, WEIGHED, INCH if system == "us" else 0.01)
    rows = [
        [
            fixed(float(convert(draw + added, "length", system)), 1),
            fixed(float(convert(weight, "force", system)), 1),
            "______",
        ]
        for draw, weight in zip(scale.draw[1:], scale.weight[1:], strict=True)
    ]
    return [
        Step(
            "TILLER",
            (
                "From the belly the shortest way to the string, at brace and at draws "
                f"{measure}. A gap at the fade larger than the twin's: that limb is the weaker. "
                "Press the stronger one a little thinner, or puff the weaker up; `bowfem learn` "
                "takes what you measured ([[tiller]]), `bowfem levers` says how far each move "
                "goes.",
            ),
            "\n\n".join(tables),
            (NO_DRY_FIRE,),
        ),
        Step(
            "WEIGH",
            (f"A scale at the nock point, draws {measure}; learn takes them as [[weight]].",),
            ruled([["draw", "weight", "have"], [length, force, force]], rows),
            (EYES,),
        ),
    ]


def label_text(findings: Findings, band: WeightBand, system: System) -> list[str]:
    """Return the lines of a label that stays with the bow."""
    walk = findings.walk
    draw = DrawLength.of(walk, walk.draw[-1]).text(system)
    name = textwrap.shorten(printable(walk.design.name), 40, placeholder="...")
    return [
        name,
        f"number {BLANK}  made on {BLANK}",
        f"draws {BLANK} at {draw} (reckoned {show(band.weight, 'force', system, 3)})",
        f"never beyond {draw}; no dry fire; unstring after use",
        "not below 10 C (50 F), not in a hot car; PVC, never burn it",
        "whitening, cracks or folds: finished",
    ]
