"""Designs drawn at random: writing and reading is identity, broken text never gets inside."""

import math
import re
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import HealthCheck, given, settings, strategies as st

from bowfem.design import (
    Arrow,
    Bend,
    BowString,
    Design,
    Draw,
    Handle,
    Limb,
    LimbShape,
    Limits,
    Mark,
    MaterialChoice,
    Nock,
    Overlay,
    PipeChoice,
    Point,
    Shooting,
    Sleeve,
    Tip,
)
from bowfem.errors import DesignError
from bowfem.section.pipe import PIPES

EXAMPLES = [
    path.read_text(encoding="utf-8")
    for path in sorted((Path(__file__).parents[2] / "examples" / "designs").glob("*.toml"))
]
LETTERS = st.characters(exclude_categories=["Cs"])
EXAMPLES_PER_RUN = settings(
    max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)


@st.composite
def materials(draw: st.DrawFn) -> MaterialChoice:
    law: Any = draw(st.sampled_from([None, "linear", "saturating", "ramberg-osgood", "table"]))
    numbers: dict[str, Any] = {}
    stress = st.floats(20e6, 90e6)
    if law not in (None, "table"):
        numbers["modulus"] = draw(st.floats(1e9, 5e9))
    if law == "saturating":
        numbers |= {"yield_tension": draw(stress), "yield_compression": draw(stress)}
    if law == "ramberg-osgood":
        numbers |= {
            "reference_stress": draw(stress),
            "exponent": draw(st.floats(2, 10)),
            "offset_strain": draw(st.floats(1e-3, 0.05)),
        }
    if law == "table":
        steps = draw(st.lists(st.tuples(st.floats(1e-3, 0.01), st.floats(0, 20e6)), min_size=2))
        steps[0] = (steps[0][0], 10e6)
        sums = np.cumsum(np.array(steps[:8]), axis=0).tolist()
        numbers["points"] = tuple(Point(strain, stress) for strain, stress in sums)
    optional = {
        "poisson": st.floats(0.2, 0.45),
        "density": st.floats(1300, 1500),
        "temperature": st.floats(283.15, 333.15),
    }
    numbers |= {key: draw(value) for key, value in optional.items() if draw(st.booleans())}
    named = law is not None and "temperature" in numbers
    return MaterialChoice(law=law, plastic="rigid PVC" if named else None, **numbers)


@st.composite
def bends(draw: st.DrawFn, start: float, end: float) -> tuple[Bend, ...]:
    edges = sorted(draw(st.lists(st.floats(start, end), max_size=4)))
    result = []
    for left, right in zip(edges[::2], edges[1::2], strict=False):
        if right - left < 0.02:
            continue
        direction: Any = draw(st.sampled_from(["forward", "back"]))
        # Wide enough for any section below: the deepest is about 1.5 times a 60 mm pipe.
        radius = draw(st.floats(max(0.06, (right - left) / 4), 5.0))
        angle = (right - left) / radius
        if angle < 0.001:
            continue
        kept = draw(st.sampled_from(["to radius", "to angle", "radius angle"])).split()
        given = {"end": right, "radius": radius, "angle": angle}
        given = {key: value for key, value in given.items() if key.replace("end", "to") in kept}
        if "end" not in given:
            given["angle"] *= 0.999  # round-off may carry the end past the next bend
        result.append(Bend(start=left, direction=direction, **given))
    return tuple(result)


@st.composite
def designs(draw: st.DrawFn) -> Design:
    size = draw(st.sampled_from(PIPES))
    if draw(st.booleans()):
        pipe = {"size": size.name}
    else:
        pipe: dict[str, Any] = {"outer_diameter": size.outer_diameter, "wall": size.wall}
    diameter, wall = size.outer_diameter, size.wall
    length = draw(st.floats(1.0, 2.5))
    offset = draw(st.just(0.0) | st.floats(-0.05, 0.05))
    half, inset = length / 2 - abs(offset), draw(st.floats(0.01, 0.05))
    root = draw(st.floats(0.03, 0.1))
    brace = draw(st.floats(0.05, 0.3))
    material: Any = draw(st.sampled_from(["polyester", "hmpe"]))
    by: dict[str, Any] = {"brace_height": brace}
    if draw(st.booleans()):
        by = {"length": (length - 2 * inset) * draw(st.floats(0.8, 0.97))}
    measure: Any = draw(st.sampled_from(["amo", "pivot"]))
    small = st.just(0.0) | st.floats(-0.05, 0.05)
    made = limbs(diameter, wall, root, half)
    return Design(
        name=draw(st.text(LETTERS, max_size=20)),
        notes=draw(st.text(LETTERS, max_size=60)),
        pipe_choice=PipeChoice(cut_length=length, **pipe),
        material_choice=draw(materials()),
        handle=Handle(
            2 * root,
            draw(st.floats(-0.3, 0.3)),
            draw(st.none() | st.floats(0, 0.05)),
            offset,
            draw(small),
            draw(small),
        ),
        limb=draw(made),
        lower=draw(st.none() | made),
        nock=Nock(inset, draw(st.none() | st.floats(0.01, 0.05))),
        string=BowString(material, draw(st.integers(6, 30)), nock_height=draw(small), **by),
        draw=Draw(draw(st.floats(0.4, 0.8)), measure),
        limits=Limits(draw(st.none() | st.floats(0.5, 2.0))),
        arrow=Arrow(draw(st.none() | st.floats(0.01, 0.1)), draw(st.floats(0.0, 20.0))),
        shooting=Shooting(
            hold=draw(st.floats(0.0, 60.0)), loss_tangent=draw(st.none() | st.floats(0.0, 0.1))
        ),
    )


@st.composite
def limbs(draw: st.DrawFn, diameter: float, wall: float, root: float, half: float) -> Limb:
    first = root + diameter
    count = draw(st.integers(2, 5))
    places = np.linspace(first, half, count) - draw(st.floats(0.0, 0.02)) * np.arange(count)
    thickness: st.SearchStrategy[Any] = st.floats(max(2 * wall, diameter - 0.06), diameter)
    thickness |= st.just("round")
    marks = tuple(Mark(float(at), draw(thickness)) for at in places)
    if abs(float(places[-1]) - half) < 1e-9:
        marks = (*marks[:-1], Mark(half, marks[-1].thickness))
    tip = None
    if draw(st.booleans()):
        tip = Tip(draw(st.floats(first, half - 0.1)), draw(st.floats(0.01, 0.1)))
    taper: Any = draw(st.sampled_from(["straight", "smooth"]))
    fit: Any = draw(st.sampled_from(["bonded", "sliding"]))
    another = st.none() | st.floats(1e9, 40e9)
    sleeves = []
    if draw(st.booleans()):  # over the handle and a bit of the limb, with room to slip on
        sleeves.append(
            Sleeve(
                end=draw(st.floats(root, half)),
                start=draw(st.floats(0, root / 2)),
                fit=fit,
                outer_diameter=diameter + 2 * wall,
                wall=wall * draw(st.floats(0.5, 1)),
                modulus=draw(another),
                density=draw(st.none() | st.floats(1000, 2000)),
            )
        )
    if draw(st.booleans()):  # a rod in the round handle
        sleeves.append(
            Sleeve(start=0.0, end=root, outer_diameter=0.9 * (diameter - 2 * wall), fit=fit)
        )
    overlays = []
    if draw(st.booleans()):
        overlays.append(Overlay(start=first, end=half, mass_per_length=draw(st.floats(1e-6, 0.1))))
    if draw(st.booleans()):
        overlays.append(
            Overlay(
                start=first,
                end=half,
                thickness=draw(st.floats(1e-3, 5e-3)),
                modulus=draw(st.floats(1e9, 40e9)),
            )
        )
    return Limb(marks, taper, draw(bends(root, half)), tip, tuple(sleeves), tuple(overlays))


@given(designs())
@EXAMPLES_PER_RUN
def test_write_then_read_is_identity(design: Design) -> None:
    text = design.to_toml()
    again = Design.from_toml(text)
    assert again == design
    assert again.to_toml() == text


@given(designs())
@EXAMPLES_PER_RUN
def test_shape_along_the_limb(design: Design) -> None:
    for limb in design.limbs:
        check_shape(design, limb)


def check_shape(design: Design, limb: LimbShape) -> None:
    half, pipe = limb.length, design.pipe
    ends = np.array([0.0, *limb.breaks, half])
    assert np.all(np.diff(ends) > 0)
    s = np.unique(np.concatenate([np.linspace(0.0, half, 101), ends]))
    thickness = limb.thickness_at(s)
    assert np.all(thickness <= pipe.outer_diameter * (1 + 1e-12))
    assert np.all(thickness >= 2 * pipe.wall * (1 - 1e-12))
    assert np.all(thickness[s <= 0.5 * design.handle.length] == pipe.outer_diameter)
    # Between breaks the curvature is constant, and the angle is its integral.
    middles, steps = 0.5 * (s[1:] + s[:-1]), np.diff(s)
    turned = np.concatenate([[0.0], np.cumsum(steps * limb.natural_curvature(middles))])
    # Breaks nearer than a nanometre are merged: a bend of that length turns by 2e-8 at most.
    assert np.abs(limb.natural_angle(s) - turned).max() < 1e-7
    share = limb.edge_on_share(s)
    assert np.all((share >= 0) & (share <= 1) & (np.diff(share, append=1) >= 0)) or (
        limb.limb.tip is None and not share.any()
    )


@given(designs(), st.data())
@EXAMPLES_PER_RUN
def test_one_value_changed_is_the_only_change(design: Design, data: st.DataObject) -> None:
    row = data.draw(st.integers(1, len(design.limb.marks)))
    key = f"limb.marks.{row}.thickness"
    low = max(2 * design.pipe.wall, design.pipe.outer_diameter - 0.05)
    thickness = data.draw(st.floats(low, design.pipe.outer_diameter))
    try:
        changed = design.with_value(key, thickness)
    except DesignError as error:  # the neighbours may be too near for the step
        assert all(fault.key.startswith("limb.") for fault in error.faults)
        return
    assert changed.value(key) == thickness
    before = design.value(key)
    assert before is not None
    assert changed.with_value(key, before) == design


def read_or_refuse(text: str) -> None:
    """Read the text; anything but a sound design or a list of faults escapes and fails."""
    try:
        design = Design.from_toml(text, source="mutated.toml")
    except DesignError as error:
        assert error.faults
        assert str(error).startswith("mutated.toml: ")
        assert len(str(error).splitlines()) == 1 + len(error.faults)
    else:
        for limb in design.limbs:
            s = np.linspace(0.0, limb.length, 50)
            for values in (
                limb.thickness_at(s),
                limb.natural_angle(s),
                limb.natural_curvature(s),
                limb.edge_on_share(s),
            ):
                assert np.all(np.isfinite(values))
        assert math.isfinite(design.material.initial_modulus)
        assert Design.from_toml(design.to_toml()) == design


NUMBERS = st.sampled_from(
    ["9" * 60, *"nan inf -inf 1e308 -1e308 1e-308 0 -1 1e999 1/3 0/0 1/0 -3/4 2-1/2 24".split()]
)
UNITS = st.sampled_from(["in", "mm", "ft", "deg", "rad", "lbf", "MPa", "%", "C", "", "1/in"])
VALUES = st.one_of(
    st.builds('"{} {}"'.format, NUMBERS, UNITS),
    NUMBERS,
    st.sampled_from(
        [
            "true",
            "[]",
            "{}",
            '""',
            "[[]]",
            "[{}]",
            "1979-05-27",
            '["3 in"]',
            "nan",
            '"round"',
            '"forward"',
            '{ at = "3 in" }',
            "0x10",
            "1_000",
        ]
    ),
    st.text(LETTERS, max_size=8).map(lambda text: f'"{text}"'),
)
KEYS = [
    "size",
    "outer_diameter",
    "wall",
    "mass_per_length",
    "cut_length",
    "law",
    "modulus",
    "points",
    "exponent",
    "density",
    "temperature",
    "plastic",
    "length",
    "set",
    "pivot",
    "at",
    "thickness",
    "taper",
    "marks",
    "bends",
    "tip",
    "from",
    "to",
    "radius",
    "angle",
    "direction",
    "edge_on_from",
    "transition",
    "inset",
    "material",
    "strands",
    "brace_height",
    "diameter",
    "measure",
    "name",
    "notes",
    "lower",
    "offset",
    "pivot_height",
    "arrow_height",
    "nock_height",
    "lower_inset",
    "sleeves",
    "overlays",
    "fit",
    "limits",
    "longest",
]
TOKEN = re.compile(r'"[^"\n]*"|[A-Za-z_]+|[0-9.]+|\S')


@st.composite
def mutated(draw: st.DrawFn) -> str:
    lines = draw(st.sampled_from(EXAMPLES)).splitlines()
    for _ in range(draw(st.integers(1, 4))):
        at = draw(st.integers(0, len(lines) - 1))
        other = draw(st.integers(0, len(lines) - 1))
        match draw(st.sampled_from(["delete", "swap", "copy", "value", "token", "insert"])):
            case "delete" if len(lines) > 1:
                del lines[at]
            case "swap":
                lines[at], lines[other] = lines[other], lines[at]
            case "copy":
                lines.insert(at, lines[other])
            case "value":
                quoted = list(re.finditer(r'"[^"\n]*"', lines[at]))
                if quoted:
                    spot = draw(st.sampled_from(quoted))
                    new = draw(VALUES)
                    lines[at] = lines[at][: spot.start()] + new + lines[at][spot.end() :]
            case "token":
                tokens = list(TOKEN.finditer(lines[at]))
                if tokens:
                    spot = draw(st.sampled_from(tokens))
                    new = draw(st.sampled_from(KEYS) | VALUES | st.text(LETTERS, max_size=3))
                    lines[at] = lines[at][: spot.start()] + new + lines[at][spot.end() :]
            case "insert":
                lines.insert(at, f"{draw(st.sampled_from(KEYS))} = {draw(VALUES)}")
    return "\n".join(lines)


@given(mutated())
@settings(max_examples=1000, deadline=None)
def test_mutated_text_is_read_or_refused(text: str) -> None:
    read_or_refuse(text)


@given(st.text(max_size=200))
@EXAMPLES_PER_RUN
def test_any_text_is_read_or_refused(text: str) -> None:
    read_or_refuse(text)


@given(
    key=st.sampled_from(KEYS),
    group=st.sampled_from(
        ["pipe", "material", "handle", "limb.tip", "nock", "string", "draw", "limits"]
    ),
    value=st.one_of(
        st.floats(),
        st.integers(),
        st.text(),
        st.none(),
        st.builds("{} {}".format, st.floats(), UNITS),
        st.builds("{} {}".format, st.decimals(-100, 100, places=2), UNITS),
    ),
)
@settings(max_examples=500, deadline=None)
def test_changed_to_anything_is_a_design_or_refused(key: str, group: str, value: Any) -> None:
    design = Design.from_toml(EXAMPLES[1])
    try:
        design.with_value(f"{group}.{key}", value)
    except DesignError as error:
        assert error.faults
