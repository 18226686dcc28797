"""Reports on an order: what a sized bow is and leans on, and what each lever moves."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from bowfem.bow.design_fields import Number, Quantity
from bowfem.show.plots import BLUE, GREY, INK, OCHRE, new_axes
from bowfem.show.summary import draw_text, summarize, warnings
from bowfem.show.tables import fixed, labelled, printable, ruled, wrapped
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow.design import Design
    from bowfem.bow.levers import Effect, Levers
    from bowfem.bow.sizing import Margins, Sizing
    from bowfem.bow.walk import Walk

#: Change of temperature by one degree of each scale, K.
DEGREES = {"us": ("F", 5.0 / 9.0), "metric": ("C", 1.0)}


def value_text(design: Design, key: str, value: float, system: System) -> str:
    """Write a number of a design file in the unit of its kind, to 4 digits."""
    spec = design.spec(key)
    if isinstance(spec, Quantity):
        return show(value, spec.kind, system, 4)
    assert isinstance(spec, Number)
    return f"{value:.4g}"


def _state(walk: Walk, system: System) -> str:
    folds = max(float(limb.fold_share.max()) for limb in walk.limbs)
    return (
        f"{show(walk.force[-1], 'force', system, 4)} at "
        f"{draw_text(walk, walk.draw[-1], system)}; at most "
        f"{100 * float(walk.yield_share.max()):.0f} % of yield, bent to {100 * folds:.0f} % of "
        "folding"
    )


def size_report(found: Sizing, margins: Margins, system: System) -> str:
    """Return the printed answer to an order.

    Parameters
    ----------
    found : Sizing
        The answer.
    margins : Margins
        What was to be kept.
    system : {"us", "metric"}
        Units.
    """
    design, walk = found.design, found.walk
    verdict = (
        "order met"
        if found.met
        else "order out of reach; this is the nearest bow within the limits"
    )
    rows = [
        [key, *(value_text(design, key, value, system) for value in (before, after, low, high))]
        for key, low, high, before, after in found.free
    ]
    heads = [["free", "was", "becomes", "least", "most"]]
    leans = "; ".join(found.binding) or "nothing: an inner optimum, or nothing was left to choose"
    lines = [
        (
            "ordered",
            f"{show(found.weight, 'force', system, 4)} at {draw_text(walk, walk.draw[-1], system)}",
        ),
        ("was", _state(found.first, system)),
        ("becomes", _state(walk, system)),
        (
            "string",
            f"{show(walk.string_length, 'length', system)} between grooves, untensioned, "
            f"for a brace height of {show(walk.brace_height, 'length', system)}",
        ),
        (
            "limits",
            f"{100 * margins.yield_share:.0f} % of yield, {100 * margins.fold_share:.0f} % "
            f"of folding, {show(margins.clearance, 'length', system, 2)} from string to belly"
            + (
                f", {show(design.limits.longest, 'length', system)} in the parcel"
                if design.limits.longest
                else ""
            ),
        ),
        ("leans on", leans if found.met else f"{leans}: this is what stands in the way"),
    ]
    parts = [
        f"{printable(design.name)}: {verdict}",
        ruled(heads, rows, left=1),
        labelled(lines),
        *(
            wrapped(f"Warning: {printable(text)}", after="  ")
            for text in warnings(walk, summarize(walk), system)
        ),
    ]
    return "\n\n".join(parts)


def _amount(effect: Effect, system: System) -> str:
    """Write how much of a move is made; all moves are made upward."""
    move = effect.move
    if move.kind == "kelvin":
        unit, one = DEGREES[system]
        return f"{move.amount / one:g} {unit}"
    return show(move.amount, move.kind, system, 2)


def levers_report(found: Levers, system: System) -> str:
    """Return the table of the maker's moves.

    Parameters
    ----------
    found : Levers
        The effects.
    system : {"us", "metric"}
        Units.
    """
    length, force = shown_unit("length", system), shown_unit("force", system)
    places = 3 if system == "us" else 2
    heads = [
        ["move", "by", "weight", "weight", "of yield", "string", "brace"],
        ["", "", force, "%", "points", length, length],
    ]

    def signed(value: float, digits: int) -> str:
        text = fixed(value, digits)
        return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"

    rows = [
        [
            effect.move.name,
            _amount(effect, system),
            signed(float(convert(effect.weight, "force", system)), 2),
            signed(100.0 * effect.weight / found.weight, 1),
            signed(100.0 * effect.yield_share, 1),
            signed(float(convert(effect.string_length, "length", system)), places),
            signed(float(convert(effect.brace_height, "length", system)), places),
        ]
        for effect in found.effects
    ]
    kept = "brace height" if found.design.string.brace_height is not None else "string"
    note = (
        f"Each move by itself, at the same {kept}. Less of a move, or the other way round, does as "
        "much less; moves add up, while they are small. A puff-up is nothing at the two marks and "
        "most half-way between them."
    )
    now = (
        f"{show(found.weight, 'force', system, 3)} at full draw, "
        f"{100 * found.yield_share:.0f} % of yield, string "
        f"{show(found.string_length, 'length', system)}, brace "
        f"{show(found.brace_height, 'length', system)}"
    )
    return "\n\n".join(
        [f"{printable(found.design.name)}: {now}", ruled(heads, rows, left=1), wrapped(note)]
    )


def levers_picture(found: Levers, ax: Any = None, system: System = "us") -> Any:
    """Draw a bar for what each move does to weight and to the peak share of yield.

    Parameters
    ----------
    found : Levers
        The effects.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        One pair of bars a move, the first on top.
    """
    effects = found.effects[::-1]
    ax = new_axes(ax, 5.4, 0.62 * len(effects) + 0.4, (2.9, 0.4, 0.75, 0.95))
    weight = [float(convert(each.weight, "force", system)) for each in effects]
    strain = [100.0 * each.yield_share for each in effects]
    rows = range(len(effects))
    unit = shown_unit("force", system)
    ax.barh([r + 0.2 for r in rows], weight, 0.36, color=BLUE, label=f"weight ({unit})")
    ax.barh([r - 0.2 for r in rows], strain, 0.36, color=OCHRE, label="peak strain (% of yield)")
    names = [
        textwrap.fill(f"{each.move.name}, {_amount(each, system)}", 30).replace("$", r"\$")
        for each in effects
    ]
    ax.set_yticks(list(rows), names)
    ax.axvline(0.0, color=INK, lw=0.9)
    far = 1.28 * max(*(abs(x) for x in weight), *(abs(x) for x in strain), 1e-6)
    ax.set_xlim(-far, far)
    for values, shift in ((weight, 0.2), (strain, -0.2)):
        for row, value in zip(rows, values, strict=True):
            ax.annotate(
                f"{round(value, 1) + 0.0:+.1f}",
                (value, row + shift),
                (4 if value >= 0 else -4, 0),
                textcoords="offset points",
                va="center",
                ha="left" if value >= 0 else "right",
                fontsize=8,
                color=INK,
            )
    ax.set_xlabel("change by the move")
    ax.grid(True, axis="x", color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    ax.legend(loc="lower center", bbox_to_anchor=(0.35, 1.0), ncols=2, frameon=False)
    name = printable(found.design.name)
    name = (name if len(name) <= 30 else f"{name[:27]}...").replace("$", r"\$")
    ax.set_title(f"{name}: what each move does", color=INK, fontsize=11, pad=26)
    return ax
