"""Pages to print: paper, heading, number, bars to check the printer by; PDF and SVG.

matplotlib is imported inside the functions; its own writers make the files.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from bowfem.show.plot.bow import GREY, INK
from bowfem.show.text.tables import printable
from bowfem.units import INCH

if TYPE_CHECKING:
    from bowfem.design import Design, Side

#: Paper, m: letter is 8.5 by 11 in (ANSI A), A4 210 by 297 mm (ISO 216); both from memory.
PAPERS = {"letter": (0.2159, 0.2794), "a4": (0.210, 0.297)}
#: Margin that printers leave white, room for heading and scale bar, m.
MARGIN, HEAD, FOOT = 0.0127, 0.016, 0.022
#: Size of the text, points, and its leading.
TEXT, LEADING = 8.0, 1.32
#: Longest part of a bow's name in a heading, letters.
NAME = 40
#: Lengths of the scale bars, m.
BARS = ((0.1, "100 mm"), (4 * INCH, "4 in"))

Size = tuple[float, float]


def limb_name(side: Side | None) -> str:
    """Name a limb, or both that are alike."""
    return "both limbs" if side is None else f"{side.value} limb"


def new_page(size: Size) -> Any:
    """Return an empty page, its size in m."""
    from matplotlib.figure import Figure

    return Figure(figsize=(size[0] / INCH, size[1] / INCH), facecolor="white")


def heading(figure: Any, size: Size, design: Design, text: str) -> None:
    """Write the bow's name at the top of a page, and what is on it."""
    name = printable(design.name)
    name = name if len(name) <= NAME else f"{name[: NAME - 3]}..."
    figure.text(
        (MARGIN + 0.004) / size[0],
        1.0 - (MARGIN + 0.006) / size[1],
        f"{name}: {text}",
        fontsize=10,
        color=INK,
        va="baseline",
        parse_math=False,
    )


def numbered(figures: list[Any], size: Size) -> list[Any]:
    """Write on each page its number and how many there are; return them."""
    for number, figure in enumerate(figures, 1):
        figure.text(
            1.0 - MARGIN / size[0],
            MARGIN / size[1],
            f"{number} / {len(figures)}",
            ha="right",
            va="bottom",
            fontsize=7,
            color=GREY,
        )
    return figures


def plane(figure: Any, size: Size, foot: float = FOOT) -> tuple[Any, float, float]:
    """Return axes in true size over a page between heading and foot; their width and height, m."""
    wide, high = size[0] - 2 * MARGIN, size[1] - 2 * MARGIN - HEAD - foot
    place = (MARGIN / size[0], (MARGIN + foot) / size[1], wide / size[0], high / size[1])
    ax = figure.add_axes(place)
    ax.set_xlim(0.0, wide)
    ax.set_ylim(0.0, high)
    ax.set_xticks([])
    ax.set_yticks([])
    return ax, wide, high


def bars(figure: Any, size: Size) -> None:
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


def text_pages(blocks: Sequence[str], size: Size) -> list[Any]:
    """Lay blocks of lines on pages, none broken that fits on one; a blank line between two."""
    room = int((size[1] - 2 * MARGIN - 0.010) / INCH * 72.0 / (TEXT * LEADING))
    sheets: list[list[str]] = [[]]
    for block in blocks:
        lines = block.split("\n")
        if sheets[-1] and len(sheets[-1]) + 1 + len(lines) > room:
            sheets.append([])
        sheets[-1] += [""] * bool(sheets[-1]) + lines
        while len(sheets[-1]) > room:
            sheets[-1:] = [sheets[-1][:room], sheets[-1][room:]]
    return [_text_page(lines, size) for lines in sheets if lines]


def _text_page(lines: list[str], size: Size) -> Any:
    figure = new_page(size)
    step = TEXT * LEADING / 72.0 * INCH
    for number, line in enumerate(lines):
        y = 1.0 - (MARGIN + (number + 0.8) * step) / size[1]
        figure.text(
            (MARGIN + 0.004) / size[0],
            y,
            line,
            family="DejaVu Sans Mono",
            fontsize=TEXT,
            fontweight="bold" if line.startswith(BOX) else "normal",
            color=INK,
            va="baseline",
            parse_math=False,
        )
    return figure


#: An empty box to tick.
BOX = "\N{BALLOT BOX}"


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
