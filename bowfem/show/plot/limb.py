"""Pictures of what goes on along a limb and in a section, on the axes given or on new ones.

As in `bowfem.show.plot.bow`: each takes and returns axes, and opens no window.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.design import Side
from bowfem.errors import InputError
from bowfem.findings import DrawLength, Place, SectionState, hot_spots
from bowfem.show.plot.bow import BLUE, GREY, INK, MAP, NAME, OCHRE, PALE, new_axes
from bowfem.show.text.tables import printable
from bowfem.units import System, convert, show, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.design import Bend

Array = NDArray[np.float64]

#: Size of new axes, in, and the room around them: left, right, bottom, top; the legend is below.
WIDTH, HEIGHT = 6.4, 3.6
ROOM = (1.0, 0.5, 1.4, 1.05)


def _head(
    ax: Any, walk: Walk, text: str, side: Side | None, pad: float, both: bool = False
) -> None:
    """Write the bow's name, what is shown and the limb, if not both, above the axes."""
    name = printable(walk.design.name)
    name = name if len(name) <= NAME else f"{name[: NAME - 3]}..."
    name = name.replace("$", r"\$")  # a dollar sign would start mathematics
    which = "" if both or walk.is_symmetric else f", {(side or Side.UPPER).value} limb"
    ax.set_title(f"{name}: {text}{which}", color=INK, fontsize=11, pad=pad)


def _grid(ax: Any) -> None:
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    for side in ("top", "right"):
        ax.spines[side].set_visible(False)


def _below(ax: Any, columns: int) -> None:
    ax.legend(loc="upper center", bbox_to_anchor=(0.5, -0.17), ncols=columns, frameon=False)


def stress_along(
    walk: Walk, ax: Any = None, system: System = "us", *, side: Side | None = None
) -> Any:
    """Plot the stress of belly and back along a limb at the last draw, marks and hot spots on it.

    Parameters
    ----------
    walk : Walk
        The walk.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.
    side : Side, optional
        Which limb; the upper one by default.

    Returns
    -------
    matplotlib.axes.Axes
        Tension is positive. Upright lines are the maker's marks, with the thickness pressed there
        on the upper edge; numbered dots are hot spots, each at the draw where it is worked hardest.
    """
    return _along(walk, "stress", ax, system, side)


def strain_along(
    walk: Walk, ax: Any = None, system: System = "us", *, side: Side | None = None
) -> Any:
    """Plot the strain of belly and back along a limb; else as `stress_along`.

    Returns
    -------
    matplotlib.axes.Axes
        Level lines are the yield strains, where the material has any.
    """
    ax = _along(walk, "strain", ax, system, side)
    tension, compression = walk.design.material.yield_strains()
    levels = [100.0 * level for level in (tension, -compression) if np.isfinite(level)]
    for level in levels:
        ax.axhline(level, color=INK, lw=0.9, ls=":", label="yield" if level > 0.0 else None)
    if levels:
        reach = max(ax.get_ylim()[1], 1.1 * max(np.abs(levels)))
        ax.set_ylim(-reach, reach)
        _below(ax, 2)
    return ax


def _along(walk: Walk, name: str, ax: Any, system: System, side: Side | None) -> Any:
    kind = {"stress": "stress", "strain": "share"}[name]
    limb, shape = walk.limb(side), walk.design.shape(side)
    back, belly = (
        convert(getattr(limb, f"{name}_{side}"), kind, system) for side in ("back", "belly")
    )
    ax = new_axes(ax, WIDTH, HEIGHT, ROOM)
    s = convert(limb.s, "length", system)
    ax.plot(s, back[-1], color=BLUE, lw=2.0, label="back")
    ax.plot(s, belly[-1], color=OCHRE, lw=2.0, ls=(0, (6, 1.5)), label="belly")
    spots = [spot for spot in hot_spots(walk) if spot.side in (None, side or Side.UPPER)]
    places = [
        (convert(spot.s, "length", system), convert(getattr(spot, name), kind, system))
        for spot in spots
    ]
    reach = 1.28 * float(max(np.max(np.abs(back)), np.max(np.abs(belly)))) or 1.0
    ax.set_xlim(0.0, s[-1])
    ax.set_ylim(-reach, reach)
    for number, ((x, y), spot) in enumerate(zip(places, spots, strict=True), 1):
        share = float(convert(spot.yield_share, "share", system))
        place = Place("s", spot.s).text(system, "bare")
        ax.plot(
            x,
            y,
            "o",
            color=INK,
            ms=5,
            zorder=4,
            clip_on=False,
            label=f"{number}: {place} out, {share:.0f} % of yield strain",
        )
        ax.annotate(
            str(number),
            (x, y),
            (7, 6 if y > 0 else -6),
            textcoords="offset points",
            ha="left",
            va="bottom" if y > 0 else "top",
            color=INK,
            fontsize=10,
            fontweight="bold",
        )
    _marks(ax, shape, float(limb.s[-1]), system)
    ax.axhline(0.0, color=INK, lw=0.7)
    ax.set_xlabel(f"distance from the bow's centre ({shown_unit('length', system)})")
    ax.set_ylabel(f"{name}, tension positive ({shown_unit(kind, system)})")
    _grid(ax)
    _below(ax, 2)
    _head(ax, walk, f"{name} along the limb at the last draw", side, 34)
    return ax


def _marks(ax: Any, shape: Any, end: float, system: System) -> None:
    """Draw the maker's marks, the thickness of each above the axes where there is room."""
    unit, last = shown_unit("length", system), -np.inf
    for mark in shape.limb.marks:
        if mark.at > end:
            continue
        x = float(convert(mark.at, "length", system))
        ax.axvline(x, color=GREY, lw=0.9, ls=":", zorder=1)
        share = mark.at / end
        if share - last < 0.09:  # its label would lie on the one before
            continue
        last = share
        thickness = float(convert(shape.thickness_at(mark.at), "length", system))
        ax.annotate(
            f"{thickness:.3g}",
            (x, 1.0),
            (0, 4),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            ha="center",
            va="bottom",
            color=GREY,
            fontsize=9,
        )
    ax.annotate(
        f"marks (dotted), pressed to ({unit}):",
        (0.0, 1.0),
        (0, 17),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="left",
        va="bottom",
        color=GREY,
        fontsize=9,
    )


def _curl(walk: Walk, side: Side | None) -> Bend:
    bends = walk.design.shape(side).limb.bends
    if not bends:
        raise InputError("design", walk.design.name, "a bow with a bend in its limb")
    return max(bends, key=lambda bend: abs(bend.turn))


def has_curl(walk: Walk) -> bool:
    """Say whether the upper limb has a bend to plot along."""
    return bool(walk.design.limbs[0].limb.bends)


def stress_round_curl(
    walk: Walk, ax: Any = None, system: System = "us", *, side: Side | None = None
) -> Any:
    """Plot the stress along the sharpest bend of a limb, at brace and at the last draw.

    Parameters
    ----------
    walk : Walk
        The walk.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.
    side : Side, optional
        Which limb; the upper one by default.

    Returns
    -------
    matplotlib.axes.Axes
        Arc length from the bend's beginning below, the angle turned as formed above. A bar on the
        lower edge marks where the string lies at brace.

    Raises
    ------
    InputError
        The limb has no bend.
    """
    limb = walk.limb(side)
    bend = _curl(walk, side)
    ax = new_axes(ax, WIDTH, HEIGHT, ROOM)
    end = min(bend.stop, float(limb.s[-1]))
    inside = limb.s[(limb.s > bend.start) & (limb.s < end)]
    s = np.concatenate([[bend.start], inside, [end]])
    arc = convert(s - bend.start, "length", system)
    for state, style, when in ((0, "--", "at brace"), (-1, "-", "at the last draw")):
        for values, colour, face in (
            (limb.stress_back, BLUE, "back"),
            (limb.stress_belly, OCHRE, "belly"),
        ):
            along = convert(np.interp(s, limb.s, values[state]), "stress", system)
            ax.plot(arc, along, color=colour, ls=style, lw=1.9, label=f"{face} {when}")
    ax.axhline(0.0, color=INK, lw=0.7)
    ax.set_xlim(0.0, float(arc[-1]))
    first = True
    for outer, inner in limb.contact[0]:
        low, high = max(inner, bend.start), min(outer, end)
        if not high - low > 1e-4:
            continue
        at = convert(np.array([low, high]) - bend.start, "length", system)
        ax.plot(
            at,
            [0.0, 0.0],
            transform=ax.get_xaxis_transform(),
            color=INK,
            lw=6.0,
            solid_capstyle="butt",
            clip_on=False,
            zorder=5,
            label="string on it at brace" if first else None,
        )
        first = False
    factor = np.degrees(abs(bend.curvature)) * (float(end - bend.start) / float(arc[-1]))
    angle = ax.secondary_xaxis("top", functions=(lambda a: a * factor, lambda d: d / factor))
    angle.set_xlabel("angle turned as formed (deg)")
    ax.set_xlabel(f"arc length from the beginning of the bend ({shown_unit('length', system)})")
    ax.set_ylabel(f"stress, tension positive ({shown_unit('stress', system)})")
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    _below(ax, 3)
    where = Place("s", bend.start).text(system, "bare")
    _head(ax, walk, f"stress round the bend that begins {where} out", side, 10)
    return ax


def contact_over_draw(
    walk: Walk, ax: Any = None, system: System = "us", *, side: Side | None = None
) -> Any:
    """Plot where the string lies on a limb over the draw, coloured by its pressure.

    Parameters
    ----------
    walk : Walk
        The walk.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.
    side : Side, optional
        Which limb; the upper one by default.

    Returns
    -------
    matplotlib.axes.Axes
        A bar spans the draws nearest to one state; what is blank is free of the string.
    """
    from matplotlib.collections import PolyCollection

    limb = walk.limb(side)
    ax = new_axes(ax, WIDTH, HEIGHT, (1.0, 1.25, 0.75, 0.6))
    draw = DrawLength.of(walk, walk.draw).number(system)
    edges = np.concatenate([[draw[0]], 0.5 * (draw[1:] + draw[:-1]), [draw[-1]]])
    if draw.size == 1:
        edges = edges + np.array([-0.5, 0.5])
    boxes, pressures, lowest = [], [], float(limb.s[-1])
    for state in range(draw.size):
        for outer, inner in limb.contact[state]:
            if not outer - inner > 1e-4:
                continue
            lowest = min(lowest, float(inner))
            at = limb.s[(limb.s > inner) & (limb.s < outer)]
            cuts = np.concatenate([[inner], 0.5 * (at[1:] + at[:-1]), [outer]])
            force = np.interp(
                at if at.size else [0.5 * (inner + outer)], limb.s, limb.pressure[state]
            )
            for low, high, one in zip(cuts[:-1], cuts[1:], force, strict=True):
                y0, y1 = convert(np.array([low, high]), "length", system)
                x0, x1 = edges[state : state + 2]
                boxes.append([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
                pressures.append(float(convert(one, "spring_rate", system)))
    groove = float(convert(limb.s[-1], "length", system))
    ax.axhline(groove, color=INK, lw=1.0, ls="--", label="string groove")
    unit = shown_unit("spring_rate", system)
    if boxes:
        found = PolyCollection(
            boxes, array=np.array(pressures), cmap=MAP, edgecolors="face", linewidths=0.3
        )
        found.set_clim(0.0, max(pressures) or 1.0)
        ax.add_collection(found)
        bar = ax.inset_axes((1.04, 0.0, 0.035, 1.0))
        ax.figure.colorbar(found, cax=bar, label=f"force of the string on the limb ({unit})")
    else:
        ax.text(
            0.5,
            0.5,
            "the string touches the groove only, at every draw",
            transform=ax.transAxes,
            ha="center",
            color=INK,
        )
    bottom = float(convert(lowest, "length", system))
    bottom = bottom - 0.15 * (groove - bottom) if boxes else 0.0
    ax.set_xlim(edges[0], edges[-1])
    ax.set_ylim(bottom, groove + 0.18 * (groove - bottom))
    kind = "AMO" if walk.design.draw.measure == "amo" else "to the pivot"
    ax.set_xlabel(f"draw length, {kind} ({shown_unit('length', system)})")
    ax.set_ylabel(f"distance from the bow's centre ({shown_unit('length', system)})")
    _grid(ax)
    ax.legend(loc="upper right", frameon=False)
    _head(ax, walk, "where the string lies on the limb", side, 6)
    return ax


def moment_curvature(state: SectionState, ax: Any = None, system: System = "us") -> Any:
    """Plot the moment of a section over curvature up to its fold, and what flattening costs.

    Parameters
    ----------
    state : SectionState
        The section; its own bending is a dot.
    ax : matplotlib.axes.Axes, optional
        Axes to draw on; by default those of a new figure.
    system : {"us", "metric"}
        Units.

    Returns
    -------
    matplotlib.axes.Axes
        Change of curvature from the formed shape, and below the surface strain it would be in an
        outline that stays as formed.
    """
    found, rigid = state.response, state.rigid
    ax = new_axes(ax, WIDTH, HEIGHT, ROOM)
    half = found.curvature.size // 2
    kappa = found.curvature[half:]
    x = convert(kappa, "curvature", system)
    kept = np.interp(kappa, rigid.curvature, rigid.moment)
    ax.fill_between(
        x,
        convert(found.moment[half:], "moment", system),
        convert(kept, "moment", system),
        color=PALE,
        lw=0,
    )
    ax.plot(
        x,
        convert(kept, "moment", system),
        color=OCHRE,
        lw=1.6,
        ls="--",
        label="outline kept as formed",
    )
    ax.plot(
        x,
        convert(found.moment[half:], "moment", system),
        color=BLUE,
        lw=2.2,
        label="outline gives way",
    )
    fold = float(found.limit)
    if np.isfinite(fold):
        peak = float(np.interp(fold, found.curvature, found.moment))
        ax.plot(
            convert(fold, "curvature", system),
            convert(peak, "moment", system),
            "X",
            color=INK,
            ms=9,
            zorder=4,
            label=f"folds at {show(peak, 'moment', system, 3)}",
        )
    here = abs(state.curvature)
    if 0.0 < here <= kappa[-1]:
        moment = float(np.interp(here, found.curvature, found.moment))
        ax.plot(
            convert(here, "curvature", system),
            convert(moment, "moment", system),
            "o",
            color=INK,
            mfc="white",
            mew=1.6,
            ms=7,
            zorder=5,
            label="as shown of the section",
        )
    ax.set_xlim(0.0, float(x[-1]))
    ax.set_ylim(0.0, 1.08 * float(convert(np.max(kept), "moment", system)))
    factor = 100.0 * state.outline.fibre * float(kappa[-1]) / float(x[-1])
    strain = ax.secondary_xaxis("top", functions=(lambda k: k * factor, lambda e: e / factor))
    strain.set_xlabel("surface strain, outline kept (%)")
    ax.set_xlabel(f"change of curvature ({shown_unit('curvature', system)})")
    ax.set_ylabel(f"bending moment ({shown_unit('moment', system)})")
    ax.grid(True, color=GREY, alpha=0.25, lw=0.6)
    ax.set_axisbelow(True)
    _below(ax, 2)
    size = show(state.outline.thickness, "length", system, 3)
    name = state.pipe.name or "pipe"
    ax.set_title(f"{name} at {size} thick: moment over curvature", color=INK, fontsize=11, pad=10)
    return ax
