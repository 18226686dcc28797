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
from bowfem.errors import BowfemError
from bowfem.findings import (
    NOT_PROMISED,
    PROMISED,
    DrawLength,
    Findings,
    Place,
    SectionState,
    Table,
    draw_table,
    hot_spot_table,
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
from bowfem.show.plot.shot import energy_in_time, speed_over_mass, tension_in_time
from bowfem.show.plot.sideways import flipping_shape, sideways_over_draw
from bowfem.show.text.cautions import CAUTIONS, ESTIMATE
from bowfem.show.text.shot import left_out
from bowfem.show.text.tables import band_text, draw_measure, finding_lines, fixed, printable
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk
    from bowfem.design import LimbShape
    from bowfem.findings import Shots
    from bowfem.orders import Eased, Steadied, WeightBand

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


def report_page(
    findings: Findings,
    section: SectionState | None = None,
    system: System = "us",
    band: WeightBand | None = None,
    eased: Sequence[Eased] = (),
    steadied: Sequence[Steadied] = (),
    shots: Shots | None = None,
) -> str:
    """Return a page about a walk: what was asked, what comes out, pictures, marks, warnings.

    Parameters
    ----------
    findings : Findings
        What the walk, complete or not, comes to.
    section : SectionState, optional
        The section to look into, as where the limb is worked hardest.
    system : {"us", "metric"}
        Units.
    band : WeightBand, optional
        The band of its weight.
    eased : sequence of Eased, optional
        Moves that ease it, each walked.
    steadied : sequence of Steadied, optional
        Moves that steady it sideways, each walked.
    shots : Shots, optional
        What a shot comes to.

    Returns
    -------
    str
        HTML with its pictures in it.
    """
    walk = findings.walk
    name, ended = _text(walk.design.name), findings.verdict[:1].upper() + findings.verdict[1:]
    weight = next(line for line in findings.lines if line.label == "weight")
    if findings.warnings:
        warned = "".join(
            f'<p class="warn">{_text(each.text(system))}</p>' for each in findings.warnings
        )
    else:
        warned = "<p>Nothing beyond the cautions at the end of this page.</p>"
    parts = [
        f"<h1>{name}</h1>",
        f'<p class="big">{_text(weight.text(system))}</p>',
        "" if band is None else f"<p>{_text(band_text(band, system))}.</p>",
        f"<p>{_text(ended)}. {_text(ESTIMATE)}</p>",
        "<h2>Warnings</h2>",
        warned,
        _steadied(steadied, system),
        "<h2>What was asked</h2>",
        _asked(walk, system),
        "<h2>What comes out</h2>",
        _comes_out(findings, system),
        "<h2>What limits this bow</h2>",
        f"<p>{_text(limit_text(findings, system))}</p>",
        _eased(eased, system),
        _findings_table(hot_spot_table(walk, findings.hot_spots), system),
        "<h2>Marks</h2>",
        _marks(walk, system),
        "<h2>Pictures</h2>",
        *_pictures(findings, section, system),
        _shot(shots, system),
        "<h2>What time does</h2>",
        f"<p>May be said: {_text(PROMISED)}</p><p>May not: {_text(NOT_PROMISED)}</p>",
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


def _findings_table(table: Table, system: System) -> str:
    units = [column.unit(system) for column in table.columns]
    heads = [
        f"{column.head} ({unit})" if unit else column.head
        for column, unit in zip(table.columns, units, strict=True)
    ]
    return _table(heads, table.rows(system))


def _comes_out(findings: Findings, system: System) -> str:
    return (
        _table((), finding_lines(findings.lines, system), "words")
        + _findings_table(draw_table(findings.walk, system), system)
        + f'<p class="small">{_text(draw_measure(findings.walk))}</p>'
    )


def limit_text(findings: Findings, system: System) -> str:
    """Say where a bow would give first, and by which mark that is.

    Parameters
    ----------
    findings : Findings
        What the walk comes to.
    system : {"us", "metric"}
        Units.
    """
    walk = findings.walk
    if not findings.hot_spots:
        return "No strain is near anything that limits this bow."
    spot = findings.hot_spots[0]
    marks = walk.design.shape(spot.side).limb.marks
    number = min(range(len(marks)), key=lambda i: abs(marks[i].at - spot.s))
    share = float(convert(spot.yield_share, "share", system))
    reserve = next(line for line in findings.lines if line.label == "reserve")
    text = reserve.text(system)
    return (
        f"The limb is worked hardest {Place('s', spot.s, side=spot.side).text(system)}, nearest to "
        f"mark {number + 1} (at {show(marks[number].at, 'length', system)}): {share:.0f} % of the "
        f"yield strain at {DrawLength.of(walk, spot.draw).text(system)}. "
        f"{text[:1].upper()}{text[1:]}."
    )


def _eased(eased: Sequence[Eased], system: System) -> str:
    """Say what eases the bow, each move walked."""
    if not eased:
        return ""
    rows = [
        f"{each.name}: at most {100 * each.yield_share:.0f} % of yield, "
        f"{show(each.weight, 'force', system, 3)} at full draw"
        for each in eased
    ]
    return f"<p>What eases it, each by itself and walked:</p>{_list(rows)}"


def _steadied(steadied: Sequence[Steadied], system: System) -> str:
    """Say what steadies the bow sideways, each move walked."""
    if not steadied:
        return ""
    rows = [
        f"{each.name}: {each.factor:.2f} times the string's pull at brace would roll it over, "
        f"{show(each.weight, 'force', system, 3)} at full draw"
        for each in steadied
    ]
    return f"<p>What steadies it, each by itself and walked:</p>{_list(rows)}"


def _shot(shots: Shots | None, system: System) -> str:
    """Say and show what a shot comes to."""
    if shots is None:
        return ""
    warned = "".join(f'<p class="warn">{_text(each.text(system))}</p>' for each in shots.warnings)
    pictures = (
        (energy_in_time, "Energy in the shot", "Where the work of the draw is, over time."),
        (tension_in_time, "The string in the shot", "Its tension in and after the shot."),
        (speed_over_mass, "Arrows from light to heavy", "Speed and share of the work."),
    )
    return (
        "<h2>The shot</h2>"
        + warned
        + _table((), finding_lines(shots.lines, system), "words")
        + _findings_table(shots.table, system)
        + f'<p class="small">{_text(left_out(shots, system))}</p>'
        + "".join(
            _figure(png(draw(shots, system=system)), alt, said) for draw, alt, said in pictures
        )
    )


def _marks(walk: Walk, system: System) -> str:
    parts = []
    for side, limb in walk.distinct_limbs:
        if side is not None:
            parts.append(f"<h3>{side.value} limb</h3>")
        parts.append(_mark_table(limb, walk.design.shape(side), system))
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


def _pictures(findings: Findings, section: SectionState | None, system: System) -> list[str]:
    walk = findings.walk
    found = [_body(walk, system)]

    def add(ax: Any, alt: str, caption: str) -> None:
        found.append(_figure(png(ax), alt, caption))

    add(
        draw_curve(walk, system=system),
        "Draw curve",
        "Weight over draw length. The shaded area is the energy stored since brace.",
    )
    add(shapes(walk, system=system), "Shapes of the bow", "Archer on the left. Equal scales.")
    for side, _ in walk.distinct_limbs:
        add(
            stress_along(walk, system=system, side=side),
            "Stress along the limb",
            "Outer fibres of back and belly; marks are dotted.",
        )
    if has_curl(walk):
        add(
            stress_round_curl(walk, system=system),
            "Stress round the bend",
            "The sharpest bend of the limb, against arc length and angle.",
        )
    if findings.run.contacts:
        add(
            contact_over_draw(walk, system=system),
            "Contact of the string",
            "Where the string lies on the limb, and how hard.",
        )
    if findings.sideways is not None:
        add(
            sideways_over_draw(walk, findings.sideways, system=system),
            "How far from flipping sideways",
            "Below 1 the string's pull rolls the tips over.",
        )
        add(
            flipping_shape(walk, findings.sideways, system=system),
            "Weakest shape sideways",
            "The shape in which a limb would flip at brace, not to scale.",
        )
    if section is not None:
        place = Place("s", findings.hot_spots[0].s).text(system, "bare")
        add(
            section_picture(section, system=system),
            "Section where worked hardest",
            f"The section {place} from the centre, where the limb is worked hardest.",
        )
        add(
            moment_curvature(section, system=system),
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
