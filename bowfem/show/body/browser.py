"""A page that holds a bow in all its states, to turn, walk and cut open in a browser.

The page needs nothing else, and writing it needs no renderer: its few lines of script draw the
points by WebGL 2. Arrays travel as integers, packed by gzip.
"""

from __future__ import annotations

import base64
import gzip
import html
import json
import re
from collections.abc import Callable
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.show.body.colour_scale import BANDS, MARK, PAPER, WOUND, scale_ends, state_lines
from bowfem.show.body.flipped import FLIPPED, flipped_points
from bowfem.show.body.outline import band, tube
from bowfem.show.body.quantities import (
    QUANTITIES,
    check_quantity,
)
from bowfem.show.body.swept import (
    State,
    SweptBow,
    SweptState,
)
from bowfem.show.plot.bow import INK, MAP
from bowfem.show.text.tables import printable
from bowfem.units import System, convert, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.findings import SideStability

Array = NDArray[np.float64]

#: Points round the wall, and longest step between sections, m: coarser than for a picture.
AROUND, SPACING = 24, 15e-3
#: Integers that coordinates and values are told in; the last value stands for one not known.
FAR, HIGHEST, UNKNOWN = 32000, 254, 255
#: Direction looked from, as in the viewer.
WAY = (0.7, 0.12, -1.0)


class _Pack:
    """Arrays one after the other, each found again by its kind, place and length."""

    def __init__(self) -> None:
        self._parts: list[bytes] = []
        self._size = 0

    def add(self, values: NDArray[Any], kind: str) -> tuple[str, int, int]:
        """Append an array, little-endian, at a place that is a multiple of four."""
        data = np.ascontiguousarray(values, dtype=np.dtype(kind).newbyteorder("<")).tobytes()
        found = kind, self._size, values.size
        data += bytes(-len(data) % 4)
        self._parts.append(data)
        self._size += len(data)
        return found

    def packed(self) -> str:
        """Return all of them, packed, as letters."""
        return base64.b64encode(gzip.compress(b"".join(self._parts), mtime=0)).decode()


def web_page(
    walk: Walk,
    quantity: str = "yield",
    *,
    system: System = "us",
    sideways: SideStability | None = None,
) -> str:
    """Return a page that shows a walk from unstrung to the last draw.

    Parameters
    ----------
    walk : Walk
        The walk.
    quantity : str
        The name in `QUANTITIES` of the colours shown first; the page has them all.
    system : {"us", "metric"}
        Units.
    sideways : SideStability, optional
        What was found of the bow sideways: how it would flip can then be laid over it.

    Raises
    ------
    InputError
        There is no such quantity.
    """
    from matplotlib import colormaps
    from matplotlib.colors import to_rgb

    check_quantity(quantity)
    bow = SweptBow.from_walk(walk, AROUND, SPACING)
    bodies: dict[State, SweptState] = {state: bow.at(state) for state in bow.states}
    every = np.concatenate([np.concatenate([b.points, b.string]) for b in bodies.values()])
    flipped = None if sideways is None else flipped_points(bow, bodies[0], sideways)
    if flipped is not None:
        every = np.concatenate([every, flipped])
    low, high = every.min(axis=0), every.max(axis=0)
    middle, scale = 0.5 * (low + high), FAR / (0.5 * float(np.max(high - low)))
    pack = _Pack()

    def whole(points: Array) -> NDArray[np.float64]:
        return np.rint((points - middle) * scale)

    ends = {
        name: scale_ends((bodies[0], bodies[bow.n_states - 1]), name, system) for name in QUANTITIES
    }
    states = []
    for state, body in bodies.items():
        fields = [
            pack.add(_steps(body.field(name), name, ends[name], system), "uint8")
            for name in QUANTITIES
        ]
        states.append(
            {
                "said": "\n".join(state_lines(walk, body, state, system)),
                "points": pack.add(whole(body.points), "int16"),
                "fields": fields,
                "added": _added(walk, body, pack, whole, to_rgb),
            }
        )
    size = high - low
    yaw, pitch = np.arctan2(-WAY[0], WAY[2]), np.arctan2(WAY[1], np.hypot(WAY[0], WAY[2]))
    wide = np.hypot(size[0], size[2] * np.tan(yaw)) * abs(np.cos(yaw))
    about = {
        "states": states,
        "whole": pack.add(_triangles(bow.skin()), "uint32"),
        "flipped": None if flipped is None else pack.add(whole(flipped), "int16"),
        "colour": to_rgb(FLIPPED),
        "flips": sideways is not None and sideways.flips,
        "half": pack.add(_triangles(bow.skin(cut=True)), "uint32"),
        "quantities": [_quantity(name, ends[name], system) for name in QUANTITIES],
        "quantity": list(QUANTITIES).index(quantity),
        "bands": [list(colormaps[MAP]((i + 0.5) / BANDS)[:3]) for i in range(BANDS)],
        "paper": to_rgb(PAPER),
        "middle": [0.0, 0.0, 0.0],
        "deep": 0.5 / FAR,
        "tall": float(size[1] / (1.2 * wide)),
        "camera": [float(yaw), float(pitch), 1.0 / (0.55 * float(size[1]) * scale), 0.0, 0.0],
    }
    page = files("bowfem.show.body").joinpath("browser.html").read_text(encoding="utf-8")
    parts = {
        "name": html.escape(printable(walk.design.name)),
        "paper": PAPER,
        "ink": INK,
        # a name must not end the script
        "about": json.dumps(about).replace("<", "\\u003c"),
        "packed": pack.packed(),
    }
    # in one go, so that what is put in is not looked at again
    return re.sub(r"@([a-z]+)@", lambda found: parts[found[1]], page)


def _triangles(quads: NDArray[np.int64]) -> NDArray[np.int64]:
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def _steps(values: Array, name: str, ends: tuple[float, float], system: System) -> Array:
    """Return values in steps from one end of the scale to the other."""
    shown = np.asarray(convert(values, QUANTITIES[name].kind, system), dtype=float)
    step = np.rint(HIGHEST * np.clip((shown - ends[0]) / (ends[1] - ends[0]), 0.0, 1.0))
    return np.where(np.isnan(shown), UNKNOWN, step)


def _quantity(name: str, ends: tuple[float, float], system: System) -> dict[str, Any]:
    chosen = QUANTITIES[name]
    ticks = [f"{tick:.4g}" for tick in np.linspace(*ends, 5)]
    unit = shown_unit(chosen.kind, system)
    return {"label": f"{chosen.label} ({unit})", "ticks": [*ticks[:-1], f"{ticks[-1]} {unit}"]}


def _added(
    walk: Walk, body: SweptState, pack: _Pack, whole: Callable[[Array], Array], rgb: Any
) -> list[dict[str, Any]]:
    """Return string, contact and wraps of a state as surfaces of one colour."""
    radius = 0.5 * walk.design.string.thickness
    found = [(tube(body.string, radius, 6), INK)] if body.string.size else []
    # thicker than the string, so that it is seen: a mark, not a body
    found += [(tube(line, 3.0 * radius, 6), MARK) for line in body.contact]
    found += [(band(wrap), WOUND) for wrap in body.wraps]
    return [
        {
            "colour": [*rgb(colour), 1.0],
            "wrap": colour == WOUND,
            "points": pack.add(whole(points), "int16"),
            "cells": pack.add(_triangles(cells), "uint32"),
        }
        for (points, cells), colour in found
    ]
