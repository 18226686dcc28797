"""What the bow is made of, as the design gives it and the walk found it."""

from __future__ import annotations

from bowfem.bow import Walk
from bowfem.findings.line import Figure, Line, Place, Warned

#: Share of a limb beyond its last mark from which that is said: a stiff tip is a fifth (C).
RUNS_ON = 0.3
#: Least strength of a string over the weight of the bow (C).
STRING_RESERVE = 4.0


def string_reserve(walk: Walk) -> float:
    """Return the breaking strength of the string over the largest weight."""
    return walk.design.string.strength / max(float(walk.force.max()), 1e-9)


def making_lines(walk: Walk) -> list[Line]:
    """Say what pipe, plastic, brace and string the figures are for."""
    design, pipe, choice = walk.design, walk.design.pipe, walk.design.pipe_choice
    source = "expected of this size" if choice.size else "" if choice.wall else "from its weight"
    material = design.material_choice
    given = (material.law, material.temperature, material.stiffness) != (None, None, None)
    return [
        Line(
            "pipe",
            "{pipe}: {outside} outside, {wall:3} wall{source}, cut {cut}",
            (
                Figure("pipe", choice.size or pipe.name or "as measured"),
                Figure("outside", pipe.outer_diameter, "length"),
                Figure("wall", pipe.wall, "length"),
                Figure("source", f" ({source})" if source else ""),
                Figure("cut", choice.cut_length, "length"),
            ),
            10,
            group="",
        ),
        Line(
            "material",
            "as in the design" if given else "rigid PVC at 23 C, assumed: test your own",
            (),
            20,
            group="",
        ),
        Line(
            "brace height",
            "{brace_height} from pivot to string, tension {brace_tension:3}",
            (
                Figure("brace_height", walk.brace_height, "length"),
                Figure("brace_tension", walk.brace_tension, "force"),
            ),
            30,
        ),
        Line(
            "string",
            "{string_length} between grooves, untensioned; {strands} strands, breaks at "
            "{reserve:.1f} x weight",
            (
                Figure("string_length", walk.string_length, "length"),
                Figure("strands", design.string.strands),
                Figure("reserve", string_reserve(walk)),
            ),
            40,
            group="",
        ),
        Line("", "", (Figure("string_length", walk.string_length, "length"),), 41),
    ]


def string_warning(walk: Walk) -> list[Warned]:
    """Warn of a string that is weak for the bow."""
    reserve = string_reserve(walk)
    if reserve >= STRING_RESERVE:
        return []
    words = (
        "The new string breaks at {reserve:.1f} times the weight; common practice asks for "
        "{least:.0f} at least. Use more strands."
    )
    return [Warned(words, (Figure("reserve", reserve), Figure("least", STRING_RESERVE)))]


def taper_warning(walk: Walk) -> list[Warned]:
    """Tell of a limb that runs on as thick as at its last mark for a good way."""
    found = []
    for side in walk.design.distinct_sides:
        shape = walk.design.shape(side)
        last = shape.limb.marks[-1].at
        more = shape.nock_station - last
        if more <= RUNS_ON * shape.nock_station:
            continue
        found.append(
            Warned(
                "Beyond the last mark, {last}, the limb runs on untapered for {more:3}; put a mark "
                "near its end if that is not meant.",
                (Place("last", last, side=side), Figure("more", more, "length")),
            )
        )
    return found
