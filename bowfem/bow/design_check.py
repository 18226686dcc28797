"""What a design must satisfy beyond the form and range of each entry.

Every rule reads the entries it needs and is skipped where one of them is wrong already, so that
one slip gives one fault, and all slips are found in one go.
"""

from __future__ import annotations

import math
from itertools import pairwise

from bowfem.bow.design_entries import Entries, build, check_ranges
from bowfem.bow.design_parts import LAWS, Handle, Limb, MaterialChoice, PipeChoice
from bowfem.bow.design_shape import ThicknessRun, edge_on_share, flat_width
from bowfem.errors import InputError
from bowfem.section.material import RIGID_PVC
from bowfem.section.pipe import Pipe

#: Added to the distance from nock point to pivot by the AMO draw length (S).
AMO_ALLOWANCE = 0.04445

#: Round-off forgiven where two lengths of the file may be equal, m.
SLACK = 1e-9


def check(entries: Entries) -> None:
    """Note everything wrong with a design."""
    check_ranges(entries)
    _check_choices(entries)
    for rule in (_material, _pipe, _handle, _nock, _marks, _fades, _bends, _tip, _string, _draw):
        try:
            rule(entries)
        except KeyError:
            continue  # an entry the rule needs is wrong and already noted
    for row in entries.rows("limb.bends"):
        try:
            _bend_radius(entries, f"limb.bends.{row}")
        except KeyError:
            continue


def _below(e: Entries, key: str, value: float, limit: float, why: str) -> None:
    if not value <= limit + SLACK:
        e.fault(key, f"at most {e.say(key, limit, 'down')}, {why}")


def _above(e: Entries, key: str, value: float, limit: float, why: str) -> None:
    if not value >= limit - SLACK:
        e.fault(key, f"at least {e.say(key, limit, 'up')}, {why}")


def _check_choices(e: Entries) -> None:
    """Note keys that contradict each other, or of which too few are given."""
    if e.given("pipe.size"):
        for key in ("pipe.outer_diameter", "pipe.wall", "pipe.mass_per_length"):
            if e.given(key):
                e.fault(key, "left out, since pipe.size gives it")
    elif not e.given("pipe.outer_diameter"):
        e.fault("pipe.size", "a published size such as '3/4 in Sch 40', or give outer_diameter")
    elif e.given("pipe.wall") and e.given("pipe.mass_per_length"):
        e.fault("pipe.mass_per_length", "left out, since pipe.wall is given")
    elif not e.given("pipe.wall") and not e.given("pipe.mass_per_length"):
        e.fault("pipe.wall", "given with pipe.outer_diameter (or mass_per_length, weighed)")

    if e.given("string.brace_height") and e.given("string.length"):
        e.fault("string.length", "left out, since string.brace_height is given")
    elif not e.given("string.brace_height") and not e.given("string.length"):
        e.fault("string.brace_height", "given, or string.length instead")

    for row in e.rows("limb.bends"):
        keys = [f"limb.bends.{row}.{name}" for name in ("to", "radius", "angle")]
        given = [key for key in keys if e.given(key)]
        if len(given) == 3:
            e.fault(keys[2], "left out, since 'to' and 'radius' give it: two of to, radius, angle")
        elif len(given) < 2:
            missing = next(key for key in keys if key not in given)
            e.fault(missing, "given: a bend needs two of to, radius, angle")


def _material(e: Entries) -> None:
    law = e["material.law"]
    needed, besides = LAWS[law]
    name = f"law = '{law}'" if law else "no law"
    for key in dict.fromkeys(key for keys in LAWS.values() for key in keys[0] + keys[1]):
        full = f"material.{key}"
        there = bool(e.rows(full)) if key == "points" else e.given(full)
        if key in needed and not there:
            e.fault(full, f"given, {name} needs it")
        elif there and key not in needed + besides:
            e.fault(full, f"left out with {name}")
    choice: MaterialChoice = build(MaterialChoice, e, "material")
    if law == "table" and not _points(e):
        return
    try:
        choice.resolve()
    except InputError as error:
        e.fault(f"material.{error.key}", error.allowed)


def _points(e: Entries) -> bool:
    """Note points of a test that make no curve; say whether all is well."""
    before, count = len(e.faults), len(e.rows("material.points"))
    keys = [f"material.points.{row}" for row in e.rows("material.points")]
    points = [(e[f"{key}.strain"], e[f"{key}.stress"]) for key in keys]
    for key, (strain, stress) in zip(keys, points, strict=True):
        if strain * stress < 0.0 or (strain == 0.0) != (stress == 0.0):
            e.fault(f"{key}.stress", "of the sign of its strain, tension positive")
    for n in range(1, count):
        (low, soft), (high, hard) = points[n - 1], points[n]
        strain, stress = f"{keys[n]}.strain", f"{keys[n]}.stress"
        if not high > low:
            e.fault(strain, f"above {e.say(strain, low)}, the strain before: strains increase")
        elif hard < soft:
            e.fault(stress, f"at least {e.say(stress, soft)}: the stress of a test never falls")
    if sum(strain > 0.0 for strain, _ in points) < 2:
        e.written["material.points"] = f"{count} point{'' if count == 1 else 's'}"
        e.fault("material.points", "at least two points in tension")
    return len(e.faults) == before


def _make_pipe(e: Entries) -> Pipe:
    choice: PipeChoice = build(PipeChoice, e, "pipe")
    density = e["material.density"] or RIGID_PVC.density
    return choice.resolve(density)


def _pipe(e: Entries) -> None:
    if e["pipe.size"] is not None:
        try:
            Pipe.from_size(e["pipe.size"])
        except InputError as error:
            e.fault("pipe.size", error.allowed)
        return
    diameter = e["pipe.outer_diameter"]
    if e["pipe.wall"] is not None:
        limit = 0.49 * diameter
        _below(e, "pipe.wall", e["pipe.wall"], limit, "0.49 of the outer diameter")
    else:
        key = "pipe.mass_per_length"
        limit = 0.99 * 0.25 * math.pi * diameter**2 * (e["material.density"] or RIGID_PVC.density)
        if e[key] > limit:
            e.fault(key, f"at most {e.say(key, limit, 'down')}, nearly a solid bar")


def _half_length(e: Entries) -> float:
    return 0.5 * e["pipe.cut_length"]


def _handle(e: Entries) -> None:
    room = e["pipe.cut_length"] - 2.0 * e["nock.inset"]
    length = e["handle.length"]
    if not length < room - SLACK:
        limit = e.say("handle.length", room, "down")
        e.fault("handle.length", f"below {limit}, the pipe between the nocks")
    limit = length / _make_pipe(e).outer_diameter
    if abs(e["handle.set"]) > limit:
        low, high = e.say("handle.set", -limit, "up"), e.say("handle.set", limit, "down")
        e.fault("handle.set", f"between {low} and {high}: the handle is too short to turn more")


def _nock(e: Entries) -> None:
    _below(e, "nock.inset", e["nock.inset"], 0.5 * _half_length(e), "a quarter of the pipe")


def _marks(e: Entries) -> None:
    count = len(e.rows("limb.marks"))
    if count < 2 and "limb.marks" in e.values:
        e.written["limb.marks"] = f"{count} mark{'' if count == 1 else 's'}"
        e.fault("limb.marks", "at least two marks")
    keys = [f"limb.marks.{row}" for row in e.rows("limb.marks")]
    for key, rule in ((key, rule) for key in keys for rule in (_mark_within, _mark_thickness)):
        try:
            rule(e, key)
        except KeyError:
            continue
    for before, key in pairwise(keys):
        start, at = e.values.get(f"{before}.at"), e.values.get(f"{key}.at")
        if start is not None and at is not None and not at > start + SLACK:
            limit = e.say(f"{key}.at", start)
            e.fault(f"{key}.at", f"beyond {limit}, the mark before: marks run from the handle out")


def _mark_within(e: Entries, key: str) -> None:
    at = e[f"{key}.at"]
    _below(e, f"{key}.at", at, _half_length(e), "half the cut length")
    _above(e, f"{key}.at", at, 0.5 * e["handle.length"], "the end of the round handle")


def _mark_thickness(e: Entries, key: str) -> None:
    thickness, pipe = e[f"{key}.thickness"], _make_pipe(e)
    if thickness == "round":
        return
    least, most = 2.0 * pipe.wall, pipe.outer_diameter
    if not least - SLACK <= thickness <= most + SLACK:
        key = f"{key}.thickness"
        low, high = e.say(key, least, "up"), e.say(key, most, "down")
        e.fault(key, f"between {low} (twice the wall) and {high} (the outer diameter), or 'round'")


def _fades(e: Entries) -> None:
    """Refuse a thickness that changes faster than the distance it has."""
    run = _run(e)
    if abs(e["limb.marks.1.at"] - run.knots[0]) <= SLACK:
        thickness = e["limb.marks.1.thickness"]
        if thickness != "round" and abs(thickness - run.thicknesses[0]) > SLACK:
            e.fault(
                "limb.marks.1.thickness",
                "'round' at the end of the handle, or the mark beyond it, with room to fade",
            )
            return
    first = len(e.rows("limb.marks")) - len(run.knots) + 2
    for n in range(1, len(run.knots)):
        key = f"limb.marks.{first + n - 1}.thickness"
        room, before = run.knots[n] - run.knots[n - 1], run.thicknesses[n - 1]
        if abs(run.thicknesses[n] - before) > room + SLACK:
            low, high = e.say(key, before - room, "up"), e.say(key, before + room, "down")
            e.fault(key, f"between {low} and {high}: it may change by the distance run, no more")


def _run(e: Entries) -> ThicknessRun:
    limb: Limb = build(Limb, e, "limb")
    return ThicknessRun.from_limb(limb, build(Handle, e, "handle"), _make_pipe(e))


def _stretch(e: Entries, key: str) -> tuple[float, float]:
    """Return where a bend begins and ends, m."""
    start = e[f"{key}.from"]
    end, radius, angle = (e[f"{key}.{name}"] for name in ("to", "radius", "angle"))
    return start, end if end is not None else start + radius * angle


def _bends(e: Entries) -> None:
    reached, edge = 0.5 * e["handle.length"], "the end of the round handle"
    for row in e.rows("limb.bends"):
        key = f"limb.bends.{row}"
        try:
            start, stop = _stretch(e, key)
        except KeyError:
            continue
        _above(e, f"{key}.from", start, reached, edge)
        last = next(n for n in ("to", "angle") if e.given(f"{key}.{n}"))
        if not stop > start + SLACK:
            e.fault(f"{key}.to", f"beyond {e.say(f'{key}.from', start)}, where the bend begins")
        elif stop > _half_length(e) + SLACK:
            half = e.say(f"{key}.from", _half_length(e), "down")
            ends = e.say(f"{key}.from", stop)
            e.fault(f"{key}.{last}", f"such that the bend ends within {half}; it ends at {ends}")
        reached, edge = max(stop, reached), "the end of the bend before"


def _bend_radius(e: Entries, key: str) -> None:
    """Refuse a bend that folds onto itself, or turns past what a limb can."""
    start, stop = _stretch(e, key)
    radius, angle = e[f"{key}.radius"], e[f"{key}.angle"]
    shown = f"{key}.radius" if radius is not None else f"{key}.angle"
    radius = radius if radius is not None else (stop - start) / angle
    if (stop - start) / radius > math.radians(270.0) * (1.0 + 1e-12):
        least = e.say(shown, (stop - start) / math.radians(270.0), "up")
        e.fault(shown, f"at least {least}, so that the bend turns by 270 deg at most")
        return
    run, pipe = _run(e), _make_pipe(e)
    limb: Limb = build(Limb, e, "limb")
    depth = 0.0
    for s in [start, stop, *(knot for knot in run.knots if start < knot < stop)]:
        thickness = float(run.at(s))
        turned = float(edge_on_share(limb.tip, s))
        depth = max(depth, thickness + turned * (flat_width(pipe, thickness) - thickness))
    if radius < 0.5 * depth - SLACK:
        if e.given(f"{key}.radius"):
            limit = f"at least {e.say(f'{key}.radius', 0.5 * depth, 'up')}"
        else:
            limit = f"at most {e.say(shown, (stop - start) / (0.5 * depth), 'down')}"
        e.fault(shown, f"{limit}: the radius must reach half the depth of the section")


def _tip(e: Entries) -> None:
    if not e["limb.tip"]:
        return
    start, half = e["limb.tip.edge_on_from"], _half_length(e)
    _above(e, "limb.tip.edge_on_from", start, 0.5 * e["handle.length"], "the end of the handle")
    key = "limb.tip.edge_on_from"
    if not start < half - SLACK:
        e.fault(key, f"below {e.say(key, half, 'down')}, half the cut length")
        return
    _below(e, "limb.tip.transition", e["limb.tip.transition"], half - start, "what the limb has")


def _nock_to_nock(e: Entries) -> float:
    return e["pipe.cut_length"] - 2.0 * e["nock.inset"]


def _string(e: Entries) -> None:
    span = _nock_to_nock(e)
    key = "string.brace_height"
    if e.given(key) and not e[key] < 0.5 * span:
        e.fault(key, f"below {e.say(key, 0.5 * span, 'down')}, from the bow's centre to the nock")
    key = "string.length"
    if e.given(key) and not 0.5 * span <= e[key] < span:
        low, high = e.say(key, 0.5 * span, "up"), e.say(key, span, "down")
        e.fault(key, f"from {low} to below {high}, the pipe between the nocks")


def _draw(e: Entries) -> None:
    key = "draw.length"
    allowance = AMO_ALLOWANCE if e["draw.measure"] == "amo" else 0.0
    brace = e["string.brace_height"] or 0.0
    start = "the brace height" if brace else "the pivot"
    added = " plus 1.75 in" if allowance else ""
    if not e[key] > brace + allowance + SLACK:
        e.fault(key, f"above {e.say(key, brace + allowance, 'up')}, {start}{added}")
    elif not e[key] < _nock_to_nock(e) + allowance:
        limit = e.say(key, _nock_to_nock(e) + allowance, "down")
        e.fault(key, f"below {limit}, the pipe between the nocks{added}")
