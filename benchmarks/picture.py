"""Draw how far each case is from its source, beside what it is allowed."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from benchmarks.table import Result

COLOURS = {"pass": "#2a6f97", "short": "#d98e04", "MISS": "#b3261e"}
LEAST = 1e-16  # rounding: a smaller error is drawn here


def draw(results: Sequence[Result], file: Path) -> None:
    """Draw one line a case, from rounding to its error, with a tick at its tolerance."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    figure = Figure(figsize=(9.0, 1.4 + 0.21 * len(results)), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    for i, result in enumerate(results):
        colour = COLOURS[result.verdict]
        error = min(max(result.worst.error, LEAST), 1.0)
        axes.plot([LEAST, error], [i, i], color=colour, linewidth=1.2, alpha=0.5)
        axes.plot(error, i, "o", color=colour, markersize=5)
        axes.plot(result.case.tolerance, i, "|", color="0.25", markersize=9)
        if result.order is not None:
            axes.annotate(
                f"order {result.order:.1f}",
                (1.02, i),
                va="center",
                fontsize=7,
                xycoords=axes.get_yaxis_transform(),
            )
    axes.set_xscale("log")
    axes.set_xlim(LEAST, 1.0)
    axes.set_ylim(len(results) - 0.4, -0.6)
    axes.set_yticks(range(len(results)), [result.case.title for result in results], fontsize=8)
    axes.set_xlabel("largest relative error of a case")
    axes.grid(axis="x", color="0.9")
    axes.set_axisbelow(True)
    marks = [
        Line2D([], [], marker="o", linestyle="", color=colour, label=label)
        for verdict, (colour, label) in {
            "pass": (COLOURS["pass"], "within what is allowed"),
            "short": (COLOURS["short"], "known to fall short"),
            "MISS": (COLOURS["MISS"], "outside"),
        }.items()
        if any(result.verdict == verdict for result in results)
    ]
    marks.append(Line2D([], [], marker="|", linestyle="", color="0.25", label="allowed"))
    figure.legend(handles=marks, loc="outside upper right", ncols=len(marks), fontsize=8)
    figure.savefig(file, dpi=100)
