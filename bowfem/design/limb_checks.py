"""What one limb of a design must satisfy: marks, fades, bends, tip, sleeves, overlays.

`limb` is the table of the limb in the file, "limb" or "lower".
"""

from __future__ import annotations

import math
from contextlib import suppress
from itertools import combinations, pairwise
from typing import Any, Literal

from bowfem.design.entries import SLACK, Entries, build
from bowfem.design.limb import Limb, Sleeve
from bowfem.design.parts import Handle, PipeChoice
from bowfem.design.shape import ThicknessRun, edge_on_share, flat_width
from bowfem.errors import InputError
from bowfem.section import PLASTICS, PVC_U, Pipe, onset_thickness

#: A sleeve may be this much too tight to slip on: hot pipe is forced over (C).
FORCED = 0.03


def limb_tables(e: Entries) -> tuple[str, ...]:
    """Return the tables of limbs a design has."""
    return ("limb", "lower") if e.values.get("lower") else ("limb",)


def limb_length(e: Entries, limb: str) -> float:
    """Return the length of pipe from the bow's centre, m: the shorter one where a table is both."""
    half, offset = 0.5 * e["pipe.cut_length"], e["handle.offset"]
    if len(limb_tables(e)) == 1:
        return half - abs(offset)
    return half - offset if limb == "limb" else half + offset


def density(e: Entries) -> float:
    """Return the density of the plastic, kg/m3, given or that of the plastic named."""
    return e["material.density"] or PLASTICS[e["material.plastic"] or PVC_U.name].law.density


def make_pipe(e: Entries) -> Pipe:
    """Return the bow's pipe."""
    choice: PipeChoice = build(PipeChoice, e, "pipe")
    return choice.resolve(density(e))


def check_limb(e: Entries, limb: str) -> None:
    """Note everything wrong with one limb."""
    for rule in (_bend_choices, _marks, _fades, _bends, _tip):
        _try(rule, e, limb)
    for row in e.rows(f"{limb}.bends"):
        _try(_bend_radius, e, limb, f"{limb}.bends.{row}")
    for row in e.rows(f"{limb}.sleeves"):
        key = f"{limb}.sleeves.{row}"
        for rule in (_span, _sleeve_size, _sleeve_fit):
            _try(rule, e, limb, key)
    _try(_sleeves_apart, e, limb)
    for row in e.rows(f"{limb}.overlays"):
        key = f"{limb}.overlays.{row}"
        for rule in (_span, _overlay):
            _try(rule, e, limb, key)


def _try(rule: Any, *arguments: Any) -> None:
    with suppress(KeyError):  # an entry the rule needs is wrong and already noted
        rule(*arguments)


def _bend_choices(e: Entries, limb: str) -> None:
    """Note bends given by too many or too few numbers."""
    for row in e.rows(f"{limb}.bends"):
        keys = [f"{limb}.bends.{row}.{name}" for name in ("to", "radius", "angle")]
        given = [key for key in keys if e.given(key)]
        if len(given) == 3:
            e.fault(keys[2], "left out, since 'to' and 'radius' give it: two of to, radius, angle")
        elif len(given) < 2:
            missing = next(key for key in keys if key not in given)
            e.fault(missing, "given: a bend needs two of to, radius, angle")


def _marks(e: Entries, limb: str) -> None:
    count = len(e.rows(f"{limb}.marks"))
    if count < 2 and f"{limb}.marks" in e.values:
        e.written[f"{limb}.marks"] = f"{count} mark{'' if count == 1 else 's'}"
        e.fault(f"{limb}.marks", "at least two marks")
    keys = [f"{limb}.marks.{row}" for row in e.rows(f"{limb}.marks")]
    for key, rule in ((key, rule) for key in keys for rule in (_mark_within, _mark_thickness)):
        try:
            rule(e, limb, key)
        except KeyError:
            continue
    for before, key in pairwise(keys):
        start, at = e.values.get(f"{before}.at"), e.values.get(f"{key}.at")
        if start is not None and at is not None and not at > start + SLACK:
            limit = e.say(f"{key}.at", start)
            e.fault(f"{key}.at", f"beyond {limit}, the mark before: marks run from the handle out")


def _mark_within(e: Entries, limb: str, key: str) -> None:
    e.at_most(f"{key}.at", limb_length(e, limb), "the end of the pipe")
    e.at_least(f"{key}.at", 0.5 * e["handle.length"], "the end of the round handle")


def _mark_thickness(e: Entries, limb: str, key: str) -> None:
    thickness, pipe = e[f"{key}.thickness"], make_pipe(e)
    if thickness == "round":
        return
    least, most = 2.0 * pipe.wall, pipe.outer_diameter
    if not least - SLACK <= thickness <= most + SLACK:
        key = f"{key}.thickness"
        low, high = e.say(key, least, "up"), e.say(key, most, "down")
        e.fault(key, f"between {low} (twice the wall) and {high} (the outer diameter), or 'round'")


def _fades(e: Entries, limb: str) -> None:
    """Refuse a thickness that changes faster than the distance it has."""
    if not _fade_choices(e, limb):
        return
    run = _run(e, limb)
    if abs(e[f"{limb}.marks.1.at"] - run.knots[0]) <= SLACK:
        thickness = e[f"{limb}.marks.1.thickness"]
        if thickness != "round" and abs(thickness - run.thicknesses[0]) > SLACK:
            e.fault(
                f"{limb}.marks.1.thickness",
                "'round' at the end of the handle, or the mark beyond it, with room to fade",
            )
            return
    # a fade that ends before the first mark has a knot of its own, of that mark's thickness
    own = int(len(run.knots) > 2 and run.thicknesses[1] == run.thicknesses[2])
    own *= int(e["handle.fade"] is not None)
    first = len(e.rows(f"{limb}.marks")) - len(run.knots) + 2 + own
    for n in range(1, len(run.knots)):
        key = f"{limb}.marks.{first + max(0, n - 1 - own)}.thickness"
        room, before = run.knots[n] - run.knots[n - 1], run.thicknesses[n - 1]
        if abs(run.thicknesses[n] - before) > room + SLACK:
            low, high = e.say(key, before - room, "up"), e.say(key, before + room, "down")
            e.fault(key, f"between {low} and {high}: it may change by the distance run, no more")


def _fade_choices(e: Entries, limb: str) -> bool:
    """Note a fade that does not fit, or a bump where nothing is flat; say whether all is well."""
    before, end = len(e.faults), 0.5 * e["handle.length"]
    rows = range(1, len(e.rows(f"{limb}.marks")) + 1)
    beyond = [n for n in rows if e[f"{limb}.marks.{n}.at"] > end + SLACK]
    if not beyond:
        return True
    at, thickness = (e[f"{limb}.marks.{beyond[0]}.{name}"] for name in ("at", "thickness"))
    if e["handle.fade"] is not None and e["handle.fade"] > at - end + SLACK:
        limit = e.say("handle.fade", at - end, "down")
        e.fault("handle.fade", f"at most {limit}, the way from the handle to the first mark")
    if e["handle.bump"] == "middle":
        return len(e.faults) == before
    flat = onset_thickness(make_pipe(e))
    if thickness == "round" or thickness > flat:
        limit = e.say(f"{limb}.marks.{beyond[0]}.thickness", flat, "down")
        e.fault("handle.bump", f"'middle' where the limb is not flat: above {limit} at its fade")
    stop = at if e["handle.fade"] is None else end + e["handle.fade"]
    for row in e.rows(f"{limb}.bends"):
        key = f"{limb}.bends.{row}.from"
        if e[key] < stop - SLACK:
            limit = e.say(key, stop, "up")
            e.fault(key, f"at least {limit}, the end of the fade, with a bump on one side")
    return len(e.faults) == before


def _run(e: Entries, limb: str) -> ThicknessRun:
    made: Limb = build(Limb, e, limb)
    return ThicknessRun.from_limb(made, build(Handle, e, "handle"), make_pipe(e))


def _stretch(e: Entries, key: str) -> tuple[float, float]:
    """Return where a bend begins and ends, m."""
    start = e[f"{key}.from"]
    end, radius, angle = (e[f"{key}.{name}"] for name in ("to", "radius", "angle"))
    return start, end if end is not None else start + radius * angle


def _bends(e: Entries, limb: str) -> None:
    reached, edge = 0.5 * e["handle.length"], "the end of the round handle"
    for row in e.rows(f"{limb}.bends"):
        key = f"{limb}.bends.{row}"
        try:
            start, stop = _stretch(e, key)
        except KeyError:
            continue
        e.at_least(f"{key}.from", reached, edge)
        last = next(n for n in ("to", "angle") if e.given(f"{key}.{n}"))
        if not stop > start + SLACK:
            e.fault(f"{key}.to", f"beyond {e.say(f'{key}.from', start)}, where the bend begins")
        elif stop > limb_length(e, limb) + SLACK:
            half = e.say(f"{key}.from", limb_length(e, limb), "down")
            ends = e.say(f"{key}.from", stop)
            e.fault(f"{key}.{last}", f"such that the bend ends within {half}; it ends at {ends}")
        reached, edge = max(stop, reached), "the end of the bend before"


def _bend_radius(e: Entries, limb: str, key: str) -> None:
    """Refuse a bend that folds onto itself, or turns past what a limb can."""
    start, stop = _stretch(e, key)
    radius, angle = e[f"{key}.radius"], e[f"{key}.angle"]
    shown = f"{key}.radius" if radius is not None else f"{key}.angle"
    radius = radius if radius is not None else (stop - start) / angle
    if (stop - start) / radius > math.radians(270.0) * (1.0 + 1e-12):
        least = e.say(shown, (stop - start) / math.radians(270.0), "up")
        e.fault(shown, f"at least {least}, so that the bend turns by 270 deg at most")
        return
    run, pipe = _run(e, limb), make_pipe(e)
    made: Limb = build(Limb, e, limb)
    depth = 0.0
    for s in [start, stop, *(knot for knot in run.knots if start < knot < stop)]:
        thickness = float(run.at(s))
        turned = float(edge_on_share(made.tip, s))
        depth = max(depth, thickness + turned * (flat_width(pipe, thickness) - thickness))
    if radius < 0.5 * depth - SLACK:
        if e.given(f"{key}.radius"):
            limit = f"at least {e.say(f'{key}.radius', 0.5 * depth, 'up')}"
        else:
            limit = f"at most {e.say(shown, (stop - start) / (0.5 * depth), 'down')}"
        e.fault(shown, f"{limit}: the radius must reach half the depth of the section")


def _tip(e: Entries, limb: str) -> None:
    if not e[f"{limb}.tip"]:
        return
    start, half = e[f"{limb}.tip.edge_on_from"], limb_length(e, limb)
    e.at_least(f"{limb}.tip.edge_on_from", 0.5 * e["handle.length"], "the end of the handle")
    key = f"{limb}.tip.edge_on_from"
    if not start < half - SLACK:
        e.fault(key, f"below {e.say(key, half, 'down')}, the end of the pipe")
        return
    e.at_most(f"{limb}.tip.transition", half - start, "what the limb has")


def _span(e: Entries, limb: str, key: str) -> None:
    """Refuse a sleeve or overlay that runs backwards or off the pipe."""
    e.at_most(f"{key}.to", limb_length(e, limb), "the end of the pipe")
    start = e[f"{key}.from"]
    if not e[f"{key}.to"] > start + SLACK:
        e.fault(f"{key}.to", f"beyond {e.say(f'{key}.from', start)}, where it begins")


def _sleeve_size(e: Entries, limb: str, key: str) -> None:
    """Note a sleeve whose pipe is not said, said twice, or impossible."""
    if e.given(f"{key}.size"):
        for name in ("outer_diameter", "wall"):
            if e.given(f"{key}.{name}"):
                e.fault(f"{key}.{name}", f"left out, since {key}.size gives it")
        try:
            Pipe.from_size(e[f"{key}.size"])
        except InputError as error:
            e.fault(f"{key}.size", error.allowed)
    elif not e.given(f"{key}.outer_diameter"):
        e.fault(f"{key}.size", "a published size such as '1/2 in Sch 40', or give outer_diameter")
    elif e[f"{key}.wall"] is not None:
        e.at_most(f"{key}.wall", 0.49 * e[f"{key}.outer_diameter"], "0.49 of the outer diameter")


def _sleeve_fit(e: Entries, limb: str, key: str) -> None:
    """Refuse a sleeve that fits neither over nor into the pipe as it is pressed."""
    sleeve: Sleeve = build(Sleeve, e, key)
    pipe, inner = make_pipe(e), sleeve.pipe
    shown = f"{key}.size" if sleeve.size is not None else f"{key}.outer_diameter"

    def said(value: float, toward: Literal["down", "up"]) -> str:
        return e.say(f"{key}.outer_diameter", value, toward)

    bore = pipe.inner_diameter
    if sleeve.is_over(pipe):
        if inner is None or inner.inner_diameter < (1.0 - FORCED) * pipe.outer_diameter:
            e.fault(
                shown,
                f"at most {said(bore, 'down')}, to fit inside, or a pipe whose bore is about "
                f"{said(pipe.outer_diameter, 'up')}, to fit over",
            )
        return
    if sleeve.diameter > (1.0 + FORCED) * bore:
        e.fault(shown, f"at most {said(bore, 'down')}, the bore, or wider than the pipe")
        return
    run = _run(e, limb)
    start, end = sleeve.start, sleeve.end
    ends = [start, end, *(knot for knot in run.knots if start < knot < end)]
    room = float(min(run.at(ends))) - 2.0 * pipe.wall
    least = sleeve.diameter if inner is None else 2.0 * inner.wall
    if least > room + SLACK:
        what = "the rod" if inner is None else "twice the sleeve's wall"
        e.fault(
            f"{key}.to",
            f"where the pressed pipe leaves room for {what}, {said(least, 'up')}; "
            f"it leaves {said(max(room, 0.0), 'down')}",
        )


def _sleeves_apart(e: Entries, limb: str) -> None:
    """Refuse two sleeves in one place."""
    pipe = make_pipe(e)
    keys = [f"{limb}.sleeves.{row}" for row in e.rows(f"{limb}.sleeves")]
    made = [(key, build(Sleeve, e, key)) for key in keys]
    for (_, one), (key, two) in combinations(made, 2):
        meet = max(one.start, two.start) < min(one.end, two.end) - SLACK
        if meet and one.is_over(pipe) == two.is_over(pipe):
            start, end = e.say(f"{key}.from", one.start), e.say(f"{key}.from", one.end)
            e.fault(f"{key}.from", f"clear of the sleeve from {start} to {end}")


def _overlay(e: Entries, limb: str, key: str) -> None:
    """Note an overlay of no effect, or with half of what its stiffness needs."""
    strip, modulus = f"{key}.thickness", f"{key}.modulus"
    if e.given(strip) != e.given(modulus):
        missing, there = (strip, "modulus") if e.given(modulus) else (modulus, "thickness")
        e.fault(missing, f"given, since {there} is")
    elif not e.given(strip) and not e[f"{key}.mass_per_length"] > 0.0:
        e.fault(f"{key}.mass_per_length", "above 0, or give thickness and modulus")
