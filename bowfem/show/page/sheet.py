"""The sheet to make a bow from: order of work, pipe, jig, tillering board, true sizes; to print."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from bowfem.findings import Findings
from bowfem.show.page.board import board_page
from bowfem.show.page.jig import jig_page
from bowfem.show.page.outlines import outline_pages
from bowfem.show.page.paper import PAPERS, limb_name, numbered, text_pages
from bowfem.show.page.sheet_parts import outline
from bowfem.show.page.steps import label_text, sheet_text, tiller_targets
from bowfem.show.page.tips import nock_page
from bowfem.units import System

if TYPE_CHECKING:
    from bowfem.orders import WeightBand


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
        The order of work, pipe and jig, tillering board, then nocks and ends of the limbs in true
        size.
    """
    from matplotlib import rc_context

    size = PAPERS[paper]
    design = findings.walk.design
    found = text_pages(sheet_text(findings, band, system), size)
    found.append(jig_page(design, size, system))
    found.append(board_page(findings, tiller_targets(findings, system), size, system))
    found.append(nock_page(findings, label_text(findings, band, system), size, system))
    with rc_context({"path.simplify": False}):  # every point of an outline is kept
        for side in design.distinct_sides:
            found += outline_pages(outline(design, side), limb_name(side), design, size)
    return numbered(found, size)
