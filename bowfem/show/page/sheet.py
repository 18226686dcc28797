"""The sheet to mark the pipe, set the jig and bend the ends from: pages to print, PDF and SVG.

matplotlib is imported inside the functions; its own writers make the files.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.findings import DrawLength, Findings
from bowfem.orders import SURE
from bowfem.show.page.sheet_parts import Outline, outline, stations
from bowfem.show.plot.bow import BLUE, GREY, INK
from bowfem.show.text.cautions import cautions_text
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
from bowfem.units import INCH, System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.design import Design, Side
    from bowfem.orders import WeightBand

Array = NDArray[np.float64]

#: Paper, m: letter is 8.5 by 11 in (ANSI A), A4 210 by 297 mm (ISO 216); both from memory.
PAPERS = {"letter": (0.2159, 0.2794), "a4": (0.210, 0.297)}
#: Margin that printers leave white, room for heading and scale bar, overlap of tiles, m.
MARGIN, HEAD, FOOT, OVERLAP = 0.0127, 0.016, 0.022, 0.012
#: Size of the text, points, and its leading.
TEXT, LEADING = 8.0, 1.32
#: Half the width of a mark's text on the jig's profile, as a share of the limb.
TEXT_ROOM = 0.085
#: Lengths of the scale bars, m.
BARS = ((0.1, "100 mm"), (4 * INCH, "4 in"))


@dataclass(frozen=True)
class Tile:
    """One page of an outline: its figure's name and the place of its lower left corner, m."""

    name: str
    corner: tuple[float, float]


def pages(
    findings: Findings, band: WeightBand, paper: str = "letter", system: System = "us"
) -> list[Any]:
    """Lay out the sheet of a bow.

    Parameters
    ----------
    findings : Findings
        What the walk of the bow comes to.
    band : WeightBand
        The band of its weight.
    paper : {"letter", "a4"}
        Paper.
    system : {"us", "metric"}
        Units of the figures.

    Returns
    -------
    list of matplotlib.figure.Figure
        Text, jig, then the outlines in true size.
    """
    from matplotlib import rc_context

    size = PAPERS[paper]
    design, found = findings.walk.design, []
    for lines in _broken(sheet_text(findings, band, system), size):
        found.append(_text_page(lines, size))
    found.append(_jig_page(design, size, system))
    with rc_context({"path.simplify": False}):  # every point of an outline is kept
        for side in design.distinct_sides:
            found += _outline_pages(outline(design, side), _name(side), design, size)
    for number, figure in enumerate(found, 1):
        figure.text(
            1.0 - MARGIN / size[0],
            MARGIN / size[1],
            f"{number} / {len(found)}",
            ha="right",
            va="bottom",
            fontsize=7,
            color=GREY,
        )
    return found


def _name(side: Side | None) -> str:
    return "both limbs" if side is None else f"{side.value} limb"


def _new_page(size: tuple[float, float]) -> Any:
    from matplotlib.figure import Figure

    return Figure(figsize=(size[0] / INCH, size[1] / INCH), facecolor="white")


def sheet_text(findings: Findings, band: WeightBand, system: System) -> str:
    """Return the text of the sheet: figures, marks on the pipe as cut, warnings, cautions."""
    walk = findings.walk
    design, pipe = walk.design, walk.design.pipe
    length = shown_unit("length", system)
    places, finer = (2, 1) if system == "us" else (1, 0)
    draw = DrawLength.of(walk, walk.draw[-1]).text(system)
    weight = show(band.weight, "force", system, 3)
    causes = "; ".join(
        f"{cause.name} (+-{100 * SURE * cause.deviation / band.weight:.0f} %)"
        for cause in band.causes
    )
    cut = show(design.pipe_choice.cut_length, "length", system)
    lines = [
        (
            "pipe",
            f"{printable(design.pipe_choice.size or pipe.name or 'as measured')}: "
            f"{show(pipe.outer_diameter, 'length', system)} outside, "
            f"{show(pipe.wall, 'length', system, 3)} wall; cut {cut} long",
        ),
        (
            "weight",
            f"{weight} at {draw}",
        ),
        ("band", f"{band_text(band, system)}. It is made of: {causes}"),
        (
            "string",
            f"{show(walk.string_length, 'length', system)} between the grooves, "
            f"untensioned; {design.string.strands} strands of {design.string.material}",
        ),
        *finding_lines([line for line in findings.lines if line.on_sheet], system),
        (
            "brace",
            f"{show(walk.brace_height, 'length', system)} from grip pivot to string, tension "
            f"{show(walk.brace_tension, 'force', system, 3)}",
        ),
        (
            "set",
            f"each limb {show(abs(design.handle.set), 'angle', system, 3)} "
            f"{'toward the archer' if design.handle.set < 0 else 'forward'}, "
            "spread over the handle",
        ),
    ]
    parts = [f"{printable(design.name)}: the sheet to work from", labelled(lines)]
    for side in design.distinct_sides:
        head = _name(side).capitalize()
        near, far = ("this", "other") if side is None else (side.value, side.other.value)
        rows = [
            [each.what]
            + [
                fixed(float(convert(x, "length", system)), places + extra)
                for x, extra in (
                    (each.s, 0),
                    (each.near_end, 0),
                    (each.far_end, 0),
                    (each.pressed, finer),
                    (each.thickness, finer),
                    (each.width, finer),
                )
            ]
            for each in stations(design, side)
        ]
        heads = [
            [
                "station",
                "from centre",
                f"from {near} end",
                f"from {far} end",
                "press",
                "thick",
                "wide",
            ],
            ["", *[length] * 6],
        ]
        limb = design.shape(side).limb
        bends = [
            f"Bend {n}: {show(abs(bend.turn), 'angle', system, 3)} {bend.direction}, radius "
            f"{show(1.0 / abs(bend.curvature), 'length', system, 3)} to the middle of the limb."
            for n, bend in enumerate(limb.bends, 1)
        ]
        title = (
            f"{head}, on the pipe as cut: what to press it to; as it then stands, thick in the "
            "bow's plane and wide across it"
        )
        parts.append("\n".join([wrapped(title), ruled(heads, rows, left=1), *map(wrapped, bends)]))
    taper, shut = design.limb.taper, show(2.0 * pipe.wall, "length", system, 3)
    parts.append(
        wrapped(
            "Between marks the jig's board is "
            + ("straight" if taper == "straight" else "bowed smoothly")
            + "; press 5 to 10 % further, for the plastic springs back (common practice, "
            f"no source), but never below {shut}, which is shut. A limb heated all along may "
            "end shorter: measure again before cutting grooves."
        )
    )
    parts += warning_lines(findings, system)
    return "\n\n".join([*parts, cautions_text(92)])


def _broken(text: str, size: tuple[float, float]) -> list[list[str]]:
    """Break lines into pages."""
    room = int((size[1] - 2 * MARGIN - 0.005) / INCH * 72.0 / (TEXT * LEADING))
    lines = text.split("\n")
    return [lines[i : i + room] for i in range(0, len(lines), room)]


def _text_page(lines: list[str], size: tuple[float, float]) -> Any:
    figure = _new_page(size)
    step = TEXT * LEADING / 72.0 * INCH
    for number, line in enumerate(lines):
        y = 1.0 - (MARGIN + (number + 0.8) * step) / size[1]
        figure.text(
            (MARGIN + 0.004) / size[0],
            y,
            line,
            family="DejaVu Sans Mono",
            fontsize=TEXT,
            color=INK,
            va="baseline",
            parse_math=False,
        )
    return figure


def _jig_page(design: Design, size: tuple[float, float], system: System) -> Any:
    """Draw the thickness to press against the distance from the centre; not in true size."""
    figure = _new_page(size)
    sides = design.distinct_sides
    length = shown_unit("length", system)
    high = 0.34 if len(sides) > 1 else 0.42
    for number, side in enumerate(sides):
        shape = design.shape(side)
        ax = figure.add_axes((0.13, 0.9 - high * (number + 1) - 0.09 * number, 0.78, high))
        s = np.unique(np.concatenate([np.linspace(0.0, shape.length, 400), shape.breaks]))
        ax.plot(
            convert(s, "length", system),
            convert(shape.thickness_at(s), "length", system),
            color=BLUE,
            lw=2.0,
        )
        top = float(convert(design.pipe.outer_diameter, "length", system))
        level, before = 0, -1.0
        for n, mark in enumerate(shape.limb.marks, 1):
            thickness = float(shape.thickness_at(mark.at))
            near = np.linspace(
                mark.at - TEXT_ROOM * shape.length, mark.at + TEXT_ROOM * shape.length, 41
            )
            above = float(np.max(shape.thickness_at(np.clip(near, 0.0, shape.length))))
            level = (
                level + 1
                if before >= 0.0 and mark.at - before < 2 * TEXT_ROOM * shape.length
                else 0
            )
            before = mark.at
            x, y, over = (float(convert(v, "length", system)) for v in (mark.at, thickness, above))
            ax.plot([x, x], [0.0, y], color=GREY, lw=0.8, ls="--")
            digits = 3 if system == "us" else 1
            text = f"mark {n}\n{fixed(x, digits - 1)} out\n{fixed(y, digits)} thick"
            ax.text(
                x,
                over + (0.03 + 0.23 * level) * top,
                text,
                ha="center",
                va="bottom",
                fontsize=8,
                color=INK,
                zorder=3,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
            )
        groove = float(convert(shape.nock_station, "length", system))
        ax.axvline(groove, color=INK, lw=0.8, ls=":")
        ax.text(groove, 1.48 * top, "groove ", rotation=90, ha="right", va="top", fontsize=8)
        ax.set_xlim(0.0, 1.02 * float(convert(shape.length, "length", system)))
        ax.set_ylim(0.0, 1.5 * top)
        ax.set_xlabel(f"from the bow's centre along the pipe ({length})")
        ax.set_ylabel(f"thickness to press ({length})")
        ax.set_title(f"jig profile, {_name(side)} (not in true size)", fontsize=10, color=INK)
        ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    _heading(figure, size, design, "the jig")
    return figure


def _heading(figure: Any, size: tuple[float, float], design: Design, text: str) -> None:
    name = printable(design.name)
    name = name if len(name) <= 40 else f"{name[:37]}..."
    figure.text(
        (MARGIN + 0.004) / size[0],
        1.0 - (MARGIN + 0.006) / size[1],
        f"{name}: {text}",
        fontsize=10,
        color=INK,
        va="baseline",
        parse_math=False,
    )


def tiled(shape: Outline, size: tuple[float, float]) -> tuple[Outline, list[Tile]]:
    """Turn an outline so that it needs the fewest pages, and cut it into them.

    Parameters
    ----------
    shape : Outline
        The outline.
    size : tuple of float
        Paper, m.

    Returns
    -------
    turned : Outline
        In the plane of the pages joined, its lower left corner at zero.
    tiles : list of Tile
        Pages that have some of it.
    """
    room = np.array([size[0] - 2 * MARGIN, size[1] - 2 * MARGIN - HEAD - FOOT])
    step = room - OVERLAP
    pad = 0.008
    best: tuple[float, float, Outline, list[Tile]] | None = None
    for angle in np.deg2rad(np.arange(0.0, 180.0, 3.0)):
        turned = shape.turned(float(angle))
        every = np.concatenate([turned.points, *(line for _, line in turned.ticks)])
        turned = turned.moved(pad - np.min(every, axis=0))
        reach = np.ptp(every, axis=0) + 2 * pad
        across, up = (int(count) for count in np.maximum(1, np.ceil((reach - OVERLAP) / step)))
        # the joined pages are centred on the outline
        spare = 0.5 * (room + step * (np.array([across, up]) - 1) - reach)
        turned = turned.moved(np.maximum(spare, 0.0))
        points = np.concatenate([turned.points, *(line for _, line in turned.ticks)])
        tiles = []
        for j in range(up):
            for i in range(across):
                corner = step * np.array([i, j])
                inside = np.all((points >= corner) & (points <= corner + room), axis=1)
                if np.any(inside):
                    at = (float(corner[0]), float(corner[1]))
                    tiles.append(Tile(f"{chr(65 + j)}{i + 1}", at))
        key = (len(tiles), float(reach[0] * reach[1]))
        if best is None or key < best[:2]:
            best = (*key, turned, tiles)
    assert best is not None
    return best[2], best[3]


def _outline_pages(
    shape: Outline, name: str, design: Design, size: tuple[float, float]
) -> list[Any]:
    """Draw an outline in true size, on as many pages as it takes."""
    turned, tiles = tiled(shape, size)
    wide, high = size[0] - 2 * MARGIN, size[1] - 2 * MARGIN - HEAD - FOOT
    found = []
    for tile in tiles:
        figure = _new_page(size)
        ax = figure.add_axes(
            (MARGIN / size[0], (MARGIN + FOOT) / size[1], wide / size[0], high / size[1])
        )
        x, y = tile.corner
        ax.set_xlim(x, x + wide)
        ax.set_ylim(y, y + high)
        for line, gid in ((turned.belly, "belly"), (turned.back, "back")):
            ax.plot(*line.T, color=BLUE, lw=0.9, gid=gid)
        ax.plot(*np.stack([turned.belly[-1], turned.back[-1]]).T, color=BLUE, lw=0.9)
        _ticks(ax, turned, (x, y, wide, high))
        _sides(ax, turned)
        ax.set_xticks([])
        ax.set_yticks([])
        for spine in ax.spines.values():
            spine.set(color=GREY, lw=0.5, ls=(0, (4, 4)))
        more = f", {tile.name} of {len(tiles)} pages (frames overlap {1000 * OVERLAP:.0f} mm)"
        more = more if len(tiles) > 1 else ""
        _heading(figure, size, design, f"end of the limb in true size, {name}{more}")
        _bars(figure, size)
        found.append(figure)
    return found


def _ticks(ax: Any, shape: Outline, frame: tuple[float, float, float, float]) -> None:
    """Mark the stations across the limb, with their names to one side, apart from each other."""
    x, y, wide, high = frame
    taken: list[tuple[float, float]] = []
    for name, line in shape.ticks:
        ax.plot(*line.T, color=INK, lw=0.8)
        way = line[0] - line[1]
        way = way / np.hypot(*way)
        at = line[0] + 0.002 * way
        right = way[0] >= 0.0
        for _ in range(40):
            if all(abs(at[1] - b) > 0.0042 or abs(at[0] - a) > 0.045 for a, b in taken):
                break
            at = at + 0.0021 * way
        inside = x + 0.001 < at[0] < x + wide - 0.001 and y + 0.002 < at[1] < y + high - 0.002
        taken.append((float(at[0]), float(at[1])))
        if not inside:
            continue
        ax.plot([line[0, 0], at[0]], [line[0, 1], at[1]], color=GREY, lw=0.4)
        ax.text(
            at[0],
            at[1],
            f" {name} ",
            ha="left" if right else "right",
            va="center",
            fontsize=7.5,
            color=INK,
            clip_on=True,
        )


def _sides(ax: Any, shape: Outline) -> None:
    """Say which face is which, inside the outline's two lines or just outside them."""
    n = len(shape.belly)
    marks = np.array([0.5 * (line[0] + line[1]) for _, line in shape.ticks])
    middle = 0.5 * (shape.belly + shape.back)
    free = np.min(np.linalg.norm(middle[:, None] - marks, axis=-1), axis=1)
    for part in (slice(n // 20, 2 * n // 5), slice(3 * n // 5, n - n // 20)):
        i = part.start + int(np.argmax(free[part]))  # as far as can be from a mark's own text
        for line, other, text in (
            (shape.belly, shape.back, "belly"),
            (shape.back, shape.belly, "back"),
        ):
            out = line[i] - other[i]
            at = line[i] + 0.0035 * out / np.hypot(*out)
            along = line[min(i + 1, n - 1)] - line[i - 1]
            turn = float(np.rad2deg(np.arctan2(along[1], along[0])))
            turn = (turn + 90.0) % 180.0 - 90.0
            ax.text(
                *at,
                text,
                rotation=turn,
                ha="center",
                va="center",
                fontsize=7,
                color=GREY,
                clip_on=True,
            )


def _bars(figure: Any, size: tuple[float, float]) -> None:
    """Draw bars to check the printer by."""
    ax = figure.add_axes(
        (MARGIN / size[0], MARGIN / size[1], 1.0 - 2 * MARGIN / size[0], FOOT / size[1])
    )
    wide = size[0] - 2 * MARGIN
    ax.set_xlim(0.0, wide)
    ax.set_ylim(0.0, FOOT)
    ax.axis("off")
    for (length, text), y in zip(BARS, (0.013, 0.006), strict=True):
        ax.plot(
            [0.004, 0.004 + length],
            [y, y],
            color=INK,
            lw=1.2,
            gid=f"bar {text}",
            solid_capstyle="butt",
        )
        for end in (0.004, 0.004 + length):
            ax.plot([end, end], [y - 0.0015, y + 0.0015], color=INK, lw=0.8)
        ax.text(0.008 + length, y, text, va="center", fontsize=8, color=INK)
    ax.text(
        0.126,
        0.0095,
        "measure both bars: print at\n100 %, not fitted to the page",
        va="center",
        fontsize=7.5,
        color=INK,
    )


def to_pdf(figures: list[Any], title: str) -> bytes:
    """Write pages as one PDF; equal pages give equal bytes."""
    from matplotlib import rc_context
    from matplotlib.backends.backend_pdf import PdfPages

    with io.BytesIO() as buffer, rc_context({"pdf.fonttype": 42}):
        told = {"Title": title, "CreationDate": None, "Creator": "bowfem", "Producer": None}
        with PdfPages(buffer, metadata=told) as pdf:
            for figure in figures:
                pdf.savefig(figure)
        return buffer.getvalue()


def to_svg(figure: Any) -> bytes:
    """Write one page as SVG; equal pages give equal bytes."""
    from matplotlib import rc_context

    with io.BytesIO() as buffer, rc_context({"svg.hashsalt": "bowfem"}):
        figure.savefig(buffer, format="svg", metadata={"Date": None, "Creator": "bowfem"})
        return buffer.getvalue()
