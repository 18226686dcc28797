"""The walk: a bow from unstrung through brace to full draw."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from bowfem._kernels.basis import GAUSS_COEF
from bowfem.bow.bracing import BraceError, Bracing
from bowfem.bow.design import Design
from bowfem.bow.findings import HotSpot, clearance, hot_spots, string_line
from bowfem.bow.folding import Fold, bending_share, draw_limb, follow_to_fold
from bowfem.bow.limb import LimbModel
from bowfem.bow.smooth import SmoothCurve
from bowfem.errors import InputError
from bowfem.rod import Path, Settings
from bowfem.section import fibre_stress

Array = NDArray[np.float64]

#: Draw between states, m.
STATE = 0.0125
#: Share of the whole reach of limb and string beyond which a walk that fails is at full stretch.
STRETCHED = 0.95


class WalkStop(Enum):
    """Tell why a walk ended."""

    COMPLETE = "reached full draw"
    FOLD = "the limb folds: a section has reached the most it can carry"
    SNAP = "the limb snaps through: it jumps to another shape"
    OVERBENT = "a section is bent beyond the range of its material's law"
    FULL_STRETCH = "limb and string are stretched out straight: no more draw is left"
    NO_CONVERGENCE = "no equilibrium was found beyond this draw"


@dataclass(frozen=True, eq=False)
class Walk:
    """Hold a bow's states from brace to the last draw reached: n states, m stations on a limb.

    Stations run from the bow's centre to the groove, upper limb; the lower one is its mirror
    image. `x` points toward the archer from the pipe's axis at the centre, `y` along the bow.

    Attributes
    ----------
    design : Design
        The bow walked.
    stop : WalkStop
        Why the walk ended.
    message : str
        Where and why, when it ended early; else empty.
    draw : ndarray, shape (n,)
        Nock point to pivot, m. The AMO draw length is 1.75 in more.
    force, tension : ndarray, shape (n,)
        Weight on the fingers and tension of the string, N.
    energy, string_energy : ndarray, shape (n,)
        Energy gained since brace by limbs and string, and the string's part of it, J.
    brace_height, string_length, brace_tension : float
        Pivot to string at rest, m; natural length of the string between grooves, m; N.
    s : ndarray, shape (m,)
        Stations, m along the pipe from the bow's centre.
    x, y : ndarray, shape (n, m)
        Axis of the limb, m.
    unbraced_x, unbraced_y : ndarray, shape (m,)
        The same before stringing.
    string_x, string_y : ndarray, shape (n, k)
        Centre-line of the string from groove to nock point, m.
    curvature_change, moment : ndarray, shape (n, m)
        Bending from the formed shape, 1/m, positive when it bends the tip toward the archer; N m.
    axial_force : ndarray, shape (n, m)
        Of the limb's wall alone, N, tension positive.
    strain_belly, strain_back, stress_belly, stress_back : ndarray, shape (n, m)
        Of the outer fibres along the limb, tension positive; stress in Pa.
    yield_share : ndarray, shape (n, m)
        Largest strain over the yield strain of its sign.
    fold_share : ndarray, shape (n, m)
        Bending over that at which the section folds (or its law ends).
    fold : Fold or None
        Draw and station at which the limb would fold, or did; None when limb and string are
        stretched out before.
    contact : ndarray, shape (n, 6, 2)
        Stations of the outer and inner end of each piece of string contact, m; nan where unused.
    pressure : ndarray, shape (n, m)
        Contact force of the string per length of limb, N/m.
    clearance : ndarray, shape (n, m)
        From the belly's surface to the string's, m; zero in contact.
    """

    design: Design
    stop: WalkStop
    message: str
    draw: Array
    force: Array
    tension: Array
    energy: Array
    string_energy: Array
    brace_height: float
    string_length: float
    brace_tension: float
    s: Array
    x: Array
    y: Array
    unbraced_x: Array
    unbraced_y: Array
    string_x: Array
    string_y: Array
    curvature_change: Array
    moment: Array
    axial_force: Array
    strain_belly: Array
    strain_back: Array
    stress_belly: Array
    stress_back: Array
    yield_share: Array
    fold_share: Array
    fold: Fold | None
    contact: Array
    pressure: Array
    clearance: Array

    @cached_property
    def _curve(self) -> SmoothCurve:
        if self.draw.size < 2:
            raise InputError("draw", "one state", "a walk of at least two states")
        return SmoothCurve.through(self.draw, self.force)

    def _inside(self, draw: float) -> float:
        low, high = float(self.draw[0]), float(self.draw[-1])
        if not low - 1e-9 <= draw <= high + 1e-9:
            raise InputError("draw", f"{draw:g} m", f"between {low:g} and {high:g} m, as walked")
        return float(np.clip(draw, low, high))

    def weight_at(self, draw: float) -> float:
        """Return the weight at a draw (nock point to pivot, m), N, by a smooth curve.

        Raises
        ------
        InputError
            The walk has no such draw.
        """
        return float(self._curve.at(self._inside(draw)))

    def energy_at(self, draw: float) -> float:
        """Return the energy gained from brace to a draw (nock point to pivot, m), J."""
        return float(self._curve.area(self._inside(draw)))

    def stack(self) -> float:
        """Return the stiffest rise of weight in the last quarter of the draw, N/m."""
        low = self.draw[0] + 0.75 * (self.draw[-1] - self.draw[0])
        return float(np.max(self._curve.slope_at(np.linspace(low, self.draw[-1], 101))))

    def hot_spots(self, count: int = 3) -> list[HotSpot]:
        """Return the stations worked hardest, one a limb region, hardest first."""
        return hot_spots(self, count)


def walk(
    design: Design,
    to: float | None = None,
    *,
    refine: int = 1,
    settings: Settings = Settings(),  # noqa: B008 - frozen
    step: float = STATE,
) -> Walk:
    """Walk a bow from brace to full draw.

    Parameters
    ----------
    design : Design
        The bow.
    to : float, optional
        Draw to walk to, nock point to pivot, m; by default the design's.
    refine : int
        Cut every element of the default mesh into this many.
    step : float
        Largest draw between states, m.

    Returns
    -------
    Walk
        All states reached. A walk that stops early says where and why.

    Raises
    ------
    BraceError
        The bow cannot be braced: a `ConvergenceError` whose `reason` and message say why.
    InputError
        `to` is not beyond the brace height.
    """
    model = LimbModel.from_design(design, refine)
    bracing = Bracing(design, model, settings)
    height, length = design.string.brace_height, design.string.length
    try:
        if height is not None:
            braced = bracing.to_height(height)
        else:
            assert length is not None
            braced = bracing.to_length(0.5 * length)
    except BraceError as error:
        raise error.named(design.name) from None
    pivot = design.pivot_distance
    start = float(braced.nock[-1, 1])
    goal = pivot + (design.pivot_draw if to is None else to)
    if not goal > start:
        raise InputError("to", f"{goal - pivot:g} m", f"above the brace height {start - pivot:g} m")
    count = max(2, ceil((goal - start) / step - 1e-9))
    nock = np.zeros((count, 2))
    nock[:, 1] = start + (goal - start) * np.arange(1, count + 1) / count
    drawn = draw_limb(model, braced, nock, pivot, settings)
    parts = [braced, *drawn.paths]
    fold = follow_to_fold(model, parts[-1], pivot, settings) if drawn.complete else drawn.fold
    return _record(design, model, parts, drawn.complete, fold)


def _record(
    design: Design, model: LimbModel, parts: list[Path], complete: bool, fold: Fold | None
) -> Walk:
    """Make the record: the last state of bracing, all of the draw."""
    rod, pivot, braced = model.rod, design.pivot_distance, parts[0]
    take = [slice(-1, None), *[slice(None)] * (len(parts) - 1)]

    def both(name: str) -> Array:
        return np.concatenate(
            [getattr(part, name)[which] for part, which in zip(parts, take, strict=True)]
        )

    share_of_fold = bending_share(model, both("bending"))
    bending = both("bending").reshape(len(share_of_fold), -1)
    stress = fibre_stress(model.sections, design.material, bending)
    share = np.maximum(stress.strain_share_belly, stress.strain_share_back)
    axis = np.concatenate(
        [part.positions()[which] for part, which in zip(parts, take, strict=True)]
    )
    nodes = both("nodes")
    position = np.concatenate(
        [nodes[:, :1], axis.reshape(len(bending), -1, 2), nodes[:, -1:]], axis=1
    )
    rest = np.concatenate(
        [rod.position0[:1], rod.station_position0.reshape(-1, 2), rod.position0[-1:]]
    )
    s = np.concatenate([[0.0], rod.stations.ravel(), [rod.length]])
    angle = _with_ends(both("angle").reshape(len(bending), -1))
    belly = _with_ends(rod.belly.reshape(1, -1))[0]
    surface = position + belly[:, None] * np.stack([-np.sin(angle), np.cos(angle)], axis=-1)
    contact, nock = both("contact"), both("nock")
    line = string_line(s, surface, contact, both("leaves"), nock)
    draw = nock[:, 1] - pivot
    stored = 2.0 * both("energy")
    stop, message = _reason(design, model, parts[-1], complete, fold)
    return Walk(
        design=design, stop=stop, message=message, draw=draw, force=2.0 * both("pull")[:, 1],
        tension=both("tension"), energy=np.sum(stored - stored[0], axis=1),
        string_energy=stored[:, 2] - stored[0, 2], brace_height=float(draw[0]),
        string_length=2.0 * float(braced.string_length[-1]),
        brace_tension=float(braced.tension[-1]), s=s, x=position[..., 1], y=position[..., 0],
        unbraced_x=rest[:, 1], unbraced_y=rest[:, 0], string_x=line[..., 1], string_y=line[..., 0],
        curvature_change=_with_ends(bending),
        moment=_with_ends(both("moment").reshape(bending.shape)),
        axial_force=_with_ends(both("axial").reshape(bending.shape)),
        strain_belly=_with_ends(stress.strain_belly), strain_back=_with_ends(stress.strain_back),
        stress_belly=_with_ends(stress.stress_belly), stress_back=_with_ends(stress.stress_back),
        yield_share=_with_ends(share), fold=fold,
        fold_share=_with_ends(share_of_fold.reshape(bending.shape)), contact=contact,
        pressure=_with_ends(both("pressure").reshape(bending.shape)),
        clearance=clearance(surface, line),
    )  # fmt: skip


def _with_ends(values: Array) -> Array:
    """Add the limb's two ends to values at the stations, by the elements' own polynomials."""
    first = values[:, :4] @ GAUSS_COEF[:, 0]
    last = values[:, -4:] @ GAUSS_COEF.sum(axis=1)
    return np.concatenate([first[:, None], values, last[:, None]], axis=1)


def _reason(
    design: Design, model: LimbModel, last: Path, complete: bool, fold: Fold | None
) -> tuple[WalkStop, str]:
    if complete:
        return WalkStop.COMPLETE, ""
    nock, place = float(last.nock[-1, 1]), ""
    draw = nock - design.pivot_distance
    if fold is not None:
        gave = WalkStop.FOLD if fold.folds else WalkStop.OVERBENT
        stop = WalkStop.SNAP if fold.snaps else gave
        place = f", {fold.s / 0.0254:.1f} in ({fold.s * 1000:.0f} mm) from the bow's centre"
    else:  # limb and half string in one straight line from centre to nock point
        stretched = nock > STRETCHED * (model.rod.length + float(last.string_length[-1]))
        stop = WalkStop.FULL_STRETCH if stretched else WalkStop.NO_CONVERGENCE
    at = f"at a draw of {draw / 0.0254:.2f} in ({draw * 1000:.0f} mm) to the pivot"
    return stop, f"{design.name}: {stop.value}, {at}{place}"
