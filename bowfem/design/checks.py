"""What a design must satisfy beyond the form and range of each entry.

Every rule reads the entries it needs and is skipped where one of them is wrong already, so that
one slip gives one fault, and all slips are found in one go.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress
from typing import Literal

from bowfem.design.entries import SLACK, Entries, build, check_ranges
from bowfem.design.limb_checks import check_limb, density, limb_tables, make_pipe
from bowfem.design.parts import LAWS, MaterialChoice
from bowfem.errors import InputError
from bowfem.section import PLASTICS, Pipe

#: Added to the distance from nock point to pivot by the AMO draw length (S).
AMO_ALLOWANCE = 0.04445

#: Rounding of the two ends of a range, so that both are accepted as printed.
WAYS: tuple[Literal["up"], Literal["down"]] = ("up", "down")


def check(entries: Entries) -> None:
    """Note everything wrong with a design."""
    check_ranges(entries)
    _check_choices(entries)
    for rule in (_material, _pipe, _handle, _nock):
        _try(rule, entries)
    for limb in limb_tables(entries):
        check_limb(entries, limb)
    for rule in (_string, _draw):
        _try(rule, entries)


def _try(rule: Callable[[Entries], None], entries: Entries) -> None:
    with suppress(KeyError):  # an entry the rule needs is wrong and already noted
        rule(entries)


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
    if law and e.given("material.temperature") and not e.given("material.plastic"):
        known = ", ".join(f"'{name}'" for name in PLASTICS)
        allowed = f"left out: test at that temperature, or name the plastic if it is {known}"
        e.fault("material.temperature", allowed)
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


def _pipe(e: Entries) -> None:
    if e["pipe.size"] is not None:
        try:
            Pipe.from_size(e["pipe.size"])
        except InputError as error:
            e.fault("pipe.size", error.allowed)
        return
    diameter = e["pipe.outer_diameter"]
    if e["pipe.wall"] is not None:
        e.at_most("pipe.wall", 0.49 * diameter, "0.49 of the outer diameter")
    else:
        key = "pipe.mass_per_length"
        limit = 0.99 * 0.25 * math.pi * diameter**2 * density(e)
        if e[key] > limit:
            e.fault(key, f"at most {e.say(key, limit, 'down')}, nearly a solid bar")


def _insets(e: Entries) -> tuple[float, float]:
    """Return the insets of the upper and the lower groove, m."""
    upper, lower = e["nock.inset"], e["nock.lower_inset"]
    return upper, upper if lower is None else lower


def _handle(e: Entries) -> None:
    half, length, offset = 0.5 * e["pipe.cut_length"], e["handle.length"], e["handle.offset"]
    insets = _insets(e)
    room = 2.0 * (half - max(insets))
    if not length < room - SLACK:
        limit = e.say("handle.length", room, "down")
        e.fault("handle.length", f"below {limit}, the pipe between the nocks")
        return
    if not length < 2.0 * (half - max(offset + insets[0], insets[1] - offset)) - SLACK:
        limits = insets[1] - half + 0.5 * length, half - insets[0] - 0.5 * length
        low, high = (e.say("handle.offset", x, way) for x, way in zip(limits, WAYS, strict=True))
        e.fault("handle.offset", f"between {low} and {high}: both limbs need pipe past the handle")
        return
    limit = length / make_pipe(e).outer_diameter
    if abs(e["handle.set"]) > limit:
        low, high = e.say("handle.set", -limit, "up"), e.say("handle.set", limit, "down")
        e.fault("handle.set", f"between {low} and {high}: the handle is too short to turn more")


def _nock(e: Entries) -> None:
    limit = 0.25 * e["pipe.cut_length"]
    e.at_most("nock.inset", limit, "a quarter of the pipe")
    if e["nock.lower_inset"] is not None:
        e.at_most("nock.lower_inset", limit, "a quarter of the pipe")


def _nock_to_nock(e: Entries) -> float:
    return e["pipe.cut_length"] - sum(_insets(e))


def _string(e: Entries) -> None:
    span = _nock_to_nock(e)
    key = "string.brace_height"
    half, offset, insets = 0.5 * e["pipe.cut_length"], e["handle.offset"], _insets(e)
    least = half - max(offset + insets[0], insets[1] - offset)
    if e.given(key) and not e[key] < least:
        e.fault(key, f"below {e.say(key, least, 'down')}, from the bow's centre to the nock")
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
