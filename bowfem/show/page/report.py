"""One page about a bow, to read or to print: a file that needs no other."""

from __future__ import annotations

import base64
import platform
import re
from collections.abc import Sequence
from contextlib import suppress
from html import escape
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

import numpy as np

import bowfem
from bowfem.errors import BowfemError, InputError
from bowfem.findings import (
    SectionState,
    Summary,
    allowance,
    draw_text,
    even_draws,
    place_text,
    spot_text,
    summarize,
    warnings,
)
from bowfem.show.plot.bow import draw_curve, png, shapes
from bowfem.show.plot.limb import (
    contact_over_draw,
    has_curl,
    moment_curvature,
    stress_along,
    stress_round_curl,
)
from bowfem.show.plot.section import section_picture
from bowfem.show.text.cautions import CAUTIONS, ESTIMATE
from bowfem.show.text.tables import draw_measure, fixed, printable, summary_table
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk
    from bowfem.design import LimbShape

#: Packages whose versions may move a figure.
VERSIONS = ("numpy", "numba", "matplotlib", "pyvista")

STYLE = """
body { margin: 2rem auto; max-width: 54rem; padding: 0 1rem; color: #1a1a1a; background: #fff;
  font: 1rem/1.45 Georgia, "DejaVu Serif", serif; }
h1 { margin-bottom: 0.2rem; } h2 { margin-top: 2rem; border-bottom: 2px solid #00336f; }
table { border-collapse: collapse; margin: 0.8rem 0; }
th, td { padding: 0.2rem 0.8rem; border-bottom: 1px solid #c9d2dc; text-align: right; }
th { vertical-align: bottom; } .words td, .words th { text-align: left; vertical-align: top; }
th:first-child, td:first-child { text-align: left; padding-left: 0; }
.big { font-size: 1.35rem; } .warn { border-left: 6px solid #d55e00; padding-left: 0.8rem; }
figure { margin: 1.2rem 0; break-inside: avoid; } img { max-width: 100%; height: auto; }
figcaption, .small { font-size: 0.85rem; color: #444; }
pre { white-space: pre-wrap; font-size: 0.8rem; background: #f4f1ea; padding: 0.6rem; }
tr, li { break-inside: avoid; } h2, h3 { break-after: avoid; }
@page { margin: 1.5cm; }
@media print {
  body { margin: 0; padding: 0; max-width: none; font-size: 9.5pt; }
  h2 { margin-top: 1.2rem; } th, td { padding: 0.1rem 0.6rem; } pre { font-size: 7.5pt; }
  figure { margin: 0.4rem 0; } img { max-height: 10.8cm; }
}
"""


def report_page(walk: Walk, system: System = "us") -> str:
    """Return a page about a walk: what was asked, what comes out, pictures, marks, warnings.

    Parameters
    ----------
    walk : Walk
        The walk, complete or not.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    str
        HTML with its pictures in it.
    """
    summary, name = summarize(walk), _text(walk.design.name)
    ended = walk.stop.value[:1].upper() + walk.stop.value[1:]
    reached = (
        f"{show(summary.weight, 'force', system, 3)} at {draw_text(walk, summary.draw, system)}"
    )
    told = warnings(walk, summary, system)
    if told:
        warned = "".join(f'<p class="warn">{_text(each)}</p>' for each in told)
    else:
        warned = "<p>Nothing beyond the cautions at the end of this page.</p>"
    parts = [
        f"<h1>{name}</h1>",
        f'<p class="big">{_text(reached)}</p><p>{_text(ended)}. {_text(ESTIMATE)}</p>',
        "<h2>What was asked</h2>",
        _asked(walk, system),
        "<h2>What comes out</h2>",
        _comes_out(walk, summary, system),
        "<h2>Warnings</h2>",
        warned,
        "<h2>What limits this bow</h2>",
        f"<p>{_text(limit_text(walk, summary, system))}</p>",
        _hot_spots(walk, summary, system),
        "<h2>Marks</h2>",
        _marks(walk, system),
        "<h2>Pictures</h2>",
        *_pictures(walk, summary, system),
        "<h2>Cautions</h2>",
        _list(CAUTIONS),
        "<h2>How this was computed</h2>",
        _versions(),
        f"<p>The design, as a file that reads back:</p><pre>{escape(walk.design.to_toml())}</pre>",
    ]
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{name}: report</title><style>{STYLE}</style></head>\n<body>\n"
        + "\n".join(parts)
        + "\n</body>\n</html>\n"
    )


def _text(text: str) -> str:
    return escape(printable(text))


def _list(items: Sequence[str]) -> str:
    return "<ul>" + "".join(f"<li>{_text(item)}</li>" for item in items) + "</ul>"


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]], kind: str = "") -> str:
    head = "".join(f'<th scope="col">{_text(cell)}</th>' for cell in heads)
    body = "".join(
        "<tr>" + "".join(f"<td>{_text(cell)}</td>" for cell in row) + "</tr>" for row in rows
    )
    shown = f"<thead><tr>{head}</tr></thead>" if heads else ""
    return f'<table class="{kind}">{shown}<tbody>{body}</tbody></table>'


def _asked(walk: Walk, system: System) -> str:
    design = walk.design
    string = design.string
    brace = (
        f"brace height {show(string.brace_height, 'length', system)}"
        if string.brace_height is not None
        else "string of a given length"
    )
    convention = "AMO" if design.draw.measure == "amo" else "to the pivot"
    rows = [
        ("draw", f"{show(design.draw.length, 'length', system)} {convention}"),
        (
            "pipe",
            f"{design.pipe_choice.size or design.pipe.name or 'as measured'}, cut "
            f"{show(design.pipe_choice.cut_length, 'length', system)}",
        ),
        ("string", f"{string.strands} strands, {brace}"),
    ]
    paragraphs = re.split(r"\n\s*\n", design.notes.strip())
    notes = "".join(f"<p>{_text(' '.join(each.split()))}</p>" for each in paragraphs if each)
    return _table((), rows, "words") + notes


def _comes_out(walk: Walk, summary: Summary, system: System) -> str:
    # the printed summary: a label, two blanks or more, its text, which may run on below
    rows: list[list[str]] = []
    for line in summary_table(walk, summary, system).splitlines():
        if line.startswith(" "):
            rows[-1][1] += " " + line.strip()
        else:
            rows.append(re.split(r" {2,}", line, maxsplit=1))
    table = even_draws(walk, system)
    length, force, energy = (shown_unit(kind, system) for kind in ("length", "force", "energy"))
    heads = [
        f"draw ({length})",
        f"weight ({force})",
        f"tension ({force})",
        f"energy ({energy})",
        "of yield strain (%)",
    ]
    columns = [
        (convert(table.draw + allowance(walk), "length", system), 2 if system == "us" else 1),
        (convert(table.force, "force", system), 1),
        (convert(table.tension, "force", system), 1),
        (convert(table.energy, "energy", system), 1),
        (convert(table.yield_share, "share", system), 0),
    ]
    draws = [[fixed(values[i], n) for values, n in columns] for i in range(table.draw.size)]
    return (
        _table((), rows, "words")
        + _table(heads, draws)
        + f'<p class="small">{_text(draw_measure(walk))}</p>'
    )


def limit_text(walk: Walk, summary: Summary, system: System) -> str:
    """Say where a bow would give first, by which mark that is, and what to change.

    Parameters
    ----------
    walk : Walk
        The walk.
    summary : Summary
        Its figures.
    system : {"us", "metric"}
        Units.
    """
    if not summary.hot_spots:
        return "No strain is near anything that limits this bow."
    spot = summary.hot_spots[0]
    marks = walk.design.limbs[spot.limb == "lower"].limb.marks
    number = min(range(len(marks)), key=lambda i: abs(marks[i].at - spot.s))
    share = float(convert(spot.yield_share, "share", system))
    fold = float(convert(summary.fold_share, "share", system))
    text = (
        f"The limb is worked hardest {spot_text(spot.s, spot.limb, system)}, nearest to mark "
        f"{number + 1} (at {show(marks[number].at, 'length', system)}): {share:.0f} % of the yield "
        f"strain at {draw_text(walk, spot.draw, system)}. "
    )
    if walk.fold is not None:
        where = spot_text(walk.fold.s, walk.fold.limb, system)
        what = "it folds" if walk.fold.folds else "its material's law ends"
        text += (
            f"Drawn on, {what} at {draw_text(walk, walk.fold.draw, system)}, {where}; now it is "
            f"bent to {fold:.0f} % of what its sections stand. "
        )
    return text + (
        "To ease the place, press it a little thicker and its neighbours a little thinner, so that "
        "they bend more; or make the bow longer, or draw it less."
    )


def _hot_spots(walk: Walk, summary: Summary, system: System) -> str:
    length, stress = shown_unit("length", system), shown_unit("stress", system)
    heads = [
        "worked hardest",
        f"from centre ({length})",
        f"at draw ({length})",
        "strain (%)",
        f"stress ({stress})",
        "of yield strain (%)",
    ]
    places = 1 if system == "us" else 0
    rows = [
        [
            f"{spot.limb} {spot.side}".strip(),
            fixed(convert(spot.s, "length", system), places),
            fixed(convert(spot.draw + allowance(walk), "length", system), places + 1),
            fixed(convert(spot.strain, "share", system), 2),
            fixed(convert(spot.stress, "stress", system), 0 if system == "us" else 1),
            fixed(convert(spot.yield_share, "share", system), 0),
        ]
        for spot in summary.hot_spots
    ]
    return _table(heads, rows)


def _marks(walk: Walk, system: System) -> str:
    shown = [(name, limb, walk.design.limbs[name == "lower"]) for name, limb in walk.named_limbs]
    parts = []
    for name, limb, shape in shown:
        if name:
            parts.append(f"<h3>{name} limb</h3>")
        parts.append(_mark_table(limb, shape, system))
    return "".join(parts)


def _mark_table(limb: LimbStates, shape: LimbShape, system: System) -> str:
    length, stress = shown_unit("length", system), shown_unit("stress", system)
    heads = [
        "mark",
        f"from centre ({length})",
        f"pressed to ({length})",
        f"width ({length})",
        "angle (deg)",
        f"back ({stress})",
        f"belly ({stress})",
        "of yield strain (%)",
    ]
    fine = 3 if system == "us" else 1
    rows = []
    for number, mark in enumerate(shape.limb.marks, 1):
        loaded = mark.at <= limb.s[-1]

        def here(
            values: Any, kind: str, places: int, at: float = mark.at, on: bool = loaded
        ) -> str:
            """Read stations of the walk at the mark; beyond the groove nothing is loaded."""
            return (
                fixed(convert(np.interp(at, limb.s, values), kind, system), places) if on else "-"
            )

        rows.append(
            [
                str(number),
                fixed(convert(mark.at, "length", system), 2 if system == "us" else 0),
                fixed(convert(shape.thickness_at(mark.at), "length", system), fine),
                here(limb.width, "length", fine),
                fixed(convert(-shape.natural_angle(mark.at), "angle", "us"), 1),
                here(limb.stress_back[-1], "stress", 0 if system == "us" else 1),
                here(limb.stress_belly[-1], "stress", 0 if system == "us" else 1),
                here(limb.yield_share[-1], "share", 0),
            ]
        )
    text = _table(heads, rows)
    text += (
        '<p class="small">Width is square to the bow\'s plane; angle as formed, against the '
        "handle, forward (away from the archer) positive; stress at the last draw, tension "
        "positive.</p>"
    )
    bends = [
        [
            show(bend.start, "length", system),
            show(bend.stop, "length", system),
            show(abs(1.0 / bend.curvature), "length", system, 4),
            show(abs(bend.turn), "angle", system, 3),
            bend.direction,
        ]
        for bend in shape.limb.bends
    ]
    if bends:
        text += _table(["bend from", "to", "radius of the middle", "angle", "way"], bends)
    return text


def _figure(data: bytes, alt: str, caption: str) -> str:
    code = base64.b64encode(data).decode()
    return (
        f'<figure><img src="data:image/png;base64,{code}" alt="{_text(alt)}">'
        f"<figcaption>{_text(caption)}</figcaption></figure>"
    )


def _pictures(walk: Walk, summary: Summary, system: System) -> list[str]:
    found = [_body(walk, system)]

    def add(ax: Any, alt: str, caption: str) -> None:
        found.append(_figure(png(ax), alt, caption))

    add(
        draw_curve(walk, system=system),
        "Draw curve",
        "Weight over draw length. The shaded area is the energy stored since brace.",
    )
    add(shapes(walk, system=system), "Shapes of the bow", "Archer on the left. Equal scales.")
    for lower in (False,) if walk.is_symmetric else (False, True):
        add(
            stress_along(walk, system=system, lower=lower),
            "Stress along the limb",
            "Outer fibres of back and belly; marks are dotted.",
        )
    if has_curl(walk):
        add(
            stress_round_curl(walk, system=system),
            "Stress round the bend",
            "The sharpest bend of the limb, against arc length and angle.",
        )
    if summary.run.contacts:
        add(
            contact_over_draw(walk, system=system),
            "Contact of the string",
            "Where the string lies on the limb, and how hard.",
        )
    if summary.hot_spots:
        spot = summary.hot_spots[0]
        place = place_text(spot.s, system)
        with suppress(InputError):  # in the twist to an edge-on tip there is no section to show
            state = SectionState.from_walk(walk, spot.s, lower=spot.limb == "lower")
            add(
                section_picture(state, system=system),
                "Section where worked hardest",
                f"The section {place} from the centre, where the limb is worked hardest.",
            )
            add(
                moment_curvature(state, system=system),
                "Moment over curvature",
                "What that section answers to bending. Shaded: what flattening costs.",
            )
    return found


def _body(walk: Walk, system: System) -> str:
    """Show the bow as a body, or say why it is not shown: the page does without."""
    try:
        from bowfem.show.body.viewer import Scene
        from bowfem.show.body.viewing import image_bytes

        scene = Scene(walk, system=system)
        data = image_bytes(scene.picture())
        scene.plotter.close()
    except BowfemError as error:
        return f'<p class="small">Without a picture of the body: {_text(str(error))}.</p>'
    return _figure(
        data,
        "The bow as a body",
        "The bow at the last draw, its wall cut open on the right. Dark: hardly strained.",
    )


def _versions() -> str:
    rows = [("bowfem", bowfem.__version__), ("Python", platform.python_version())]
    for name in VERSIONS:
        with suppress(PackageNotFoundError):
            rows.append((name, version(name)))
    return _table((), rows, "words")
