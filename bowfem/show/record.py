"""A walk as plain data, for JSON: every key of a quantity carries its unit."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

import bowfem
from bowfem.findings import allowance, even_draws, summarize, warnings
from bowfem.show.text.cautions import ESTIMATE
from bowfem.units import System, column, convert

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk
    from bowfem.findings import Box

#: Arrays of a walk, and of its limbs by residence, with their dimension.
BOW = {
    "force": "force",
    "tension": "force",
    "energy": "energy",
    "string_energy": "energy",
    "nock_x": "length",
    "nock_y": "length",
}
STATES = {"string_x": "length", "string_y": "length", "contact": "length"}
STATIONS = {
    "s": "length",
    "thickness": "length",
    "width": "length",
    "mass_per_length": "mass_per_length",
    "unbraced_x": "length",
    "unbraced_y": "length",
}
STATES_AND_STATIONS = {
    "x": "length",
    "y": "length",
    "angle": "angle",
    "curvature_change": "curvature",
    "moment": "moment",
    "axial_force": "force",
    "strain_belly": "share",
    "strain_back": "share",
    "stress_belly": "stress",
    "stress_back": "stress",
    "yield_share": "share",
    "fold_share": "share",
    "pressure": "spring_rate",
    "clearance": "length",
}


def _plain(values: Any) -> Any:
    """Return numbers and lists, with None for what is no number."""
    if isinstance(values, np.ndarray):
        values = values.tolist()
    if isinstance(values, list | tuple):
        return [_plain(value) for value in values]
    return float(values) if np.isfinite(values) else None


def to_dict(walk: Walk, system: System) -> dict[str, Any]:
    """Return a walk as plain data.

    Parameters
    ----------
    walk : Walk
        The walk.
    system : {"us", "metric"}
        Units of the numbers.

    Returns
    -------
    dict
        `summary` has the maker's figures, `table` columns at even draws, `stations` what belongs
        to a station of the limb, `states` one row a state (and in it one entry a station, where
        the quantity varies along the limb). Where the limbs are not alike, these are of the upper
        one, and `lower` has both for the other. Unused contact pieces are None.

    Notes
    -----
    Draws are given to the pivot, and as AMO draw length where the design uses it. The design
    itself is in `design`, in the form of a design file.
    """

    def quantity(values: Any, kind: str) -> Any:
        return _plain(convert(values, kind, system))

    def group(of: Any, names: dict[str, str]) -> dict[str, Any]:
        return {
            column(name, kind, system): quantity(getattr(of, name), kind)
            for name, kind in names.items()
        }

    def states(limb: LimbStates) -> dict[str, Any]:
        return {**group(limb, STATES), **group(limb, STATES_AND_STATIONS)}

    def draws(values: Any, name: str = "draw") -> dict[str, Any]:
        found = {column(f"{name}_to_pivot", "length", system): quantity(values, "length")}
        if walk.design.draw.measure == "amo":
            amo = np.add(values, allowance(walk))
            found[column(f"{name}_amo", "length", system)] = quantity(amo, "length")
        return found

    summary, table = summarize(walk), even_draws(walk, system)

    def named(name: str, value: Any, kind: str) -> dict[str, Any]:
        return {column(name, kind, system): quantity(value, kind)}

    def sides(box: Box) -> list[float]:
        return [box.length, box.depth, box.width]

    run, cut = summary.run, summary.cut

    def of(limb: str) -> dict[str, str]:
        return {"limb": limb} if limb else {}

    string = {
        "contact": [
            {
                **of(piece.limb),
                **named("outer_s", piece.outer, "length"),
                **named("inner_s", piece.inner, "length"),
                **draws(piece.first, "first"),
                **(draws(piece.lift_off, "lift_off") if piece.lift_off is not None else {}),
                **named("pressure", piece.pressure, "spring_rate"),
                **named("pressure_s", piece.pressure_s, "length"),
                **draws(piece.pressure_draw, "pressure_draw"),
            }
            for piece in run.contacts
        ],
        **named("nock_angle", run.nock_angle, "angle"),
        **named("groove_angle", run.groove_angle[0], "angle"),
        **(named("groove_angle_lower", run.groove_angle[1], "angle") if summary.tuning else {}),
        "loops": [
            {
                **of(loop.limb),
                **named("reach", loop.reach, "length"),
                **named("around", loop.around, "length"),
                **named("width", loop.width, "length"),
                **named("beside", loop.beside, "length"),
                **named("half_angle", loop.half_angle, "angle"),
            }
            for loop in summary.loops
        ],
        "bridges": [
            {
                **of(bridge.limb),
                **named("s", bridge.s, "length"),
                **named("height", bridge.height, "length"),
                "edge_on": bridge.edge_on,
            }
            for bridge in summary.bridges
        ],
    }
    if cut is not None:
        string |= {
            "strands": cut.strands,
            "turns": cut.turns,
            **named("cut", cut.cut, "length"),
            **named("tail", cut.tail, "length"),
            **named("thread", cut.thread, "length"),
            **named("braced_length", cut.braced_length, "length"),
            **named("brace_height_per_turn", summary.brace_per_turn, "length"),
        }
    lengths = summary.lengths
    fold, follow, tuning, lower = {}, {}, {}, {}
    if walk.fold is not None:
        name = {"OVERBENT": "law_ends"}.get(walk.fold.how.name, walk.fold.how.name.lower())
        fold = {**draws(walk.fold.draw, name), **named(f"{name}_s", walk.fold.s, "length")}
        if walk.fold.limb:
            fold[f"{name}_limb"] = walk.fold.limb
    if summary.follow is not None:
        follow = {
            **named("string_follow", summary.follow.tips[0], "length"),
            **named("weight_after_first_draw", summary.follow.weight, "force"),
            **named("brace_tension_after_first_draw", summary.follow.tension, "force"),
        }
    if summary.tuning is not None:
        found = summary.tuning
        tuning = {
            **named("tiller", found.tiller, "length"),
            **named("fade", found.fade, "length"),
            **named("string_to_belly_at_fade_upper", found.fade_gap[0], "length"),
            **named("string_to_belly_at_fade_lower", found.fade_gap[1], "length"),
            **named("rotation", found.rotation, "angle"),
            **named("nock_travel", found.nock_travel, "length"),
            **named("return_time_upper", found.return_times[0], "time"),
            **named("return_time_lower", found.return_times[1], "time"),
            "late": found.late,
        }
        if summary.follow is not None:
            follow |= named("string_follow_lower", summary.follow.tips[1], "length")
        other = walk.limbs[1]
        lower = {"stations": group(other, STATIONS), "states": states(other)}
    return {
        "bowfem": bowfem.__version__,
        "estimate": ESTIMATE,
        "name": walk.design.name,
        "design": walk.design.to_toml(),
        "stop": walk.stop.name.lower(),
        "stop_reason": walk.stop.value,
        "message": walk.message,
        "warnings": list(warnings(walk, summary, system)),
        "summary": {
            **draws(summary.draw),
            **named("weight", summary.weight, "force"),
            **named("energy", summary.energy, "energy"),
            "energy_over_weight_times_stroke": summary.energy_ratio,
            **named("stack", summary.stack, "spring_rate"),
            **named("brace_height", walk.brace_height, "length"),
            **named("brace_tension", walk.brace_tension, "force"),
            **named("string_length", walk.string_length, "length"),
            **named("clearance_middle", summary.clearance_middle, "length"),
            **named("fold_share", summary.fold_share, "share"),
            **fold,
            "hinge_index": summary.hinge.index,
            **named("hinge_s", summary.hinge.s, "length"),
            **({"hinge_limb": summary.hinge.limb} if summary.hinge.limb else {}),
            **follow,
            **named("tip_to_tip_unstrung", lengths.tip_to_tip, "length"),
            **named("along_back", lengths.along_back, "length"),
            **named("trade_length", lengths.trade, "length"),
            **named("box_unstrung", sides(lengths.unstrung), "length"),
            **named("box_strung", sides(lengths.strung), "length"),
            "hot_spots": [
                {
                    **({"limb": spot.limb} if spot.limb else {}),
                    **named("s", spot.s, "length"),
                    **draws(spot.draw),
                    "side": spot.side,
                    **named("strain", spot.strain, "share"),
                    **named("stress", spot.stress, "stress"),
                    **named("yield_share", spot.yield_share, "share"),
                }
                for spot in summary.hot_spots
            ],
        },
        "table": {
            **draws(table.draw),
            **named("weight", table.force, "force"),
            **named("tension", table.tension, "force"),
            **named("energy", table.energy, "energy"),
            **named("yield_share", table.yield_share, "share"),
        },
        "string": string,
        **({"tuning": tuning} if tuning else {}),
        "stations": group(walk.limbs[0], STATIONS),
        "states": {**draws(walk.draw), **group(walk, BOW), **states(walk.limbs[0])},
        **({"lower": lower} if lower else {}),
    }


def to_json(walk: Walk, system: System) -> bytes:
    """Return a walk as the content of a JSON file; see `to_dict`."""
    return (json.dumps(to_dict(walk, system), allow_nan=False, indent=1) + "\n").encode()
