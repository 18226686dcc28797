"""What one limb goes through on a walk, as plain arrays along it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.bow.folding import bending_share, moment_share
from bowfem.bow.limb_model import LimbModel
from bowfem.bow.stations import SIDE, RecordStations
from bowfem.bow.string_path import clearance, string_line
from bowfem.design import Side
from bowfem.rod import Path
from bowfem.section import Law, fibre_stress, read_on_knots

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False, repr=False)
class LimbStates:
    """Hold one limb's states on a walk: n states, m stations.

    Stations run from the bow's centre to the groove, two on either side of a corner in between.
    `x` points toward the archer from the pipe's axis at the centre, `y` up along the bow: negative
    on the lower limb.

    Attributes
    ----------
    s : ndarray, shape (m,)
        Stations, m along the pipe from the bow's centre.
    thickness, width, mass_per_length : ndarray, shape (m,)
        Outer extents of the section, m, and its mass, kg/m.
    x, y : ndarray, shape (n, m)
        Axis of the limb, m.
    angle : ndarray, shape (n, m)
        Turn of the section from square to the bow's y axis, rad, positive toward the archer.
    unbraced_x, unbraced_y, unbraced_angle : ndarray, shape (m,)
        The same before stringing.
    string_x, string_y : ndarray, shape (n, k)
        Centre-line of the string from groove to nock point, m.
    tension : ndarray, shape (n,)
        Tension of this limb's part of the string, N.
    string_length : float
        Natural length of this limb's part of the string, m.
    energy : ndarray, shape (n,)
        Stored in the limb, J; without the string.
    curvature_change, moment : ndarray, shape (n, m)
        Bending from the formed shape, 1/m, positive when it bends the tip toward the archer; N m.
    axial_force : ndarray, shape (n, m)
        Of the limb's wall alone, N, tension positive.
    strain_belly, strain_back, stress_belly, stress_back : ndarray, shape (n, m)
        Of the outer fibres along the limb, tension positive; stress in Pa.
    yield_share : ndarray, shape (n, m)
        Largest strain over the yield strain of its sign.
    fold_share : ndarray, shape (n, m)
        Change of curvature over that at which the section's moment peaks and it folds (or its law
        ends): how much further it can be bent.
    moment_share : ndarray, shape (n, m)
        Moment over that peak: how much more the section can carry. Near a fold it is the larger,
        since there the moment hardly rises.
    crosswise_tension : ndarray, shape (n, m)
        Largest tensile stress round the section of the bow's own pipe, Pa.
    contact : ndarray, shape (n, 6, 2)
        Stations of the outer and inner end of each piece of string contact, m; nan where unused.
    pressure : ndarray, shape (n, m)
        Contact force of the string per length of limb, N/m.
    clearance : ndarray, shape (n, m)
        From the belly's surface to the string's, m; zero in contact.
    """

    s: Array
    thickness: Array
    width: Array
    mass_per_length: Array
    x: Array
    y: Array
    angle: Array
    unbraced_x: Array
    unbraced_y: Array
    unbraced_angle: Array
    string_x: Array
    string_y: Array
    tension: Array
    string_length: float
    energy: Array
    curvature_change: Array
    moment: Array
    axial_force: Array
    strain_belly: Array
    strain_back: Array
    stress_belly: Array
    stress_back: Array
    yield_share: Array
    fold_share: Array
    moment_share: Array
    crosswise_tension: Array
    contact: Array
    pressure: Array
    clearance: Array

    def __repr__(self) -> str:
        """Return what it is in a few words."""
        return f"LimbStates({len(self.tension)} states, {self.s.size} stations)"

    @property
    def single(self) -> NDArray[np.bool_]:
        """Which stations are left when one side alone of each corner is kept, shape (m,)."""
        return np.diff(self.s, prepend=-1.0) > 3.0 * SIDE

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Which stations are the elements' own, not read off these at ends and corners, (m,)."""
        own = self.single & (np.diff(self.s, append=np.inf) > 3.0 * SIDE)
        own[[0, -1]] = False
        return own

    @classmethod
    def from_path(cls, model: LimbModel, path: Path, material: Law, side: Side) -> LimbStates:
        """Read a limb's states off the path of its rod."""
        rod, count = model.rod, len(path)
        laid = RecordStations(model)
        s, along = laid.s, laid.along

        def one(values: Array) -> Array:
            return along(values.reshape(1, -1))[0]

        bending = path.bending.reshape(count, -1)
        stress = fibre_stress(model.sections, material, bending)
        worst = np.maximum(stress.strain_share_belly, stress.strain_share_back)
        axis = laid.places(path.nodes, path.positions())
        rest = laid.places(rod.position0[None], rod.station_position0[None])[0]
        # the turn at the ends is an unknown of the solver, and better than what stations say
        formed, belly = one(rod.angle0), one(rod.belly)
        angle = along(path.angle)
        angle[:, [0, -1]] = formed[[0, -1]] + path.turn[:, [0, -1]]
        surface = axis + belly[:, None] * np.stack([-np.sin(angle), np.cos(angle)], axis=-1)
        line = string_line(s, surface, path.contact, path.leaves, path.nock)
        return cls(
            s=s,
            thickness=one(model.sections.thickness),
            width=one(model.sections.width),
            mass_per_length=one(model.sections.mass_per_length),
            x=axis[..., 1],
            y=side.sign * axis[..., 0],
            angle=angle,
            unbraced_x=rest[:, 1],
            unbraced_y=side.sign * rest[:, 0],
            unbraced_angle=formed,
            string_x=line[..., 1],
            string_y=side.sign * line[..., 0],
            tension=path.tension,
            string_length=float(path.string_length[0]),
            energy=path.energy[:, 0] + path.energy[:, 1],
            curvature_change=along(bending),
            moment=along(path.moment),
            axial_force=along(path.axial),
            strain_belly=along(stress.strain_belly),
            strain_back=along(stress.strain_back),
            stress_belly=along(stress.stress_belly),
            stress_back=along(stress.stress_back),
            yield_share=np.maximum(along(worst), 0.0),
            fold_share=np.maximum(along(bending_share(model, path.bending)), 0.0),
            moment_share=along(moment_share(model, path.moment)),
            crosswise_tension=along(read_on_knots(model.sections, "crosswise_tension", bending)),
            contact=path.contact,
            pressure=np.maximum(along(path.pressure), 0.0),
            clearance=clearance(surface, line),
        )
