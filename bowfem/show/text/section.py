"""A section of a limb, printed: outline, stiffness over strain, stress in the wall."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from bowfem.findings import SectionState
from bowfem.section import WallStress
from bowfem.show.text.cautions import ESTIMATE
from bowfem.show.text.tables import fixed, labelled, printable, ruled, wrapped
from bowfem.units import System, convert, show, shown_unit

Array = NDArray[np.float64]

#: Surface strains of the table, of a section that would keep its outline.
STRAINS = np.array([0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0]) / 100.0


def strain_table(state: SectionState, system: System) -> str:
    """Return moment, stiffness and flattening over surface strain, up to the fold."""
    found, rigid = state.response, state.rigid
    end = float(found.curvature[-1])
    folds = float(found.limit)
    kappa = STRAINS / state.outline.fibre
    kappa = kappa[kappa <= (end if np.isnan(folds) else folds)]
    if state.natural_curvature:  # opened, too
        opens = float(found.mirrored().limit)
        back = STRAINS / state.outline.fibre
        kappa = np.concatenate([-back[back <= (end if np.isnan(opens) else opens)][::-1], kappa])

    def read(knots: Array, values: Array) -> Array:
        return np.interp(kappa, knots, values)

    moment = read(found.curvature, found.moment)
    columns = [
        (100.0 * kappa * state.outline.fibre, 1),
        (convert(kappa, "curvature", system), 3 if system == "us" else 2),
        (convert(moment, "moment", system), 1),
        (100.0 * moment / (kappa * found.bending_stiffness), 0),
        (100.0 * (1.0 - moment / read(rigid.curvature, rigid.moment)), 1),
        (
            convert(read(found.curvature, found.loaded_thickness), "length", system),
            3 if system == "us" else 2,
        ),
        (100.0 * read(found.curvature, found.crosswise_strain), 2),
    ]
    curvature, length = shown_unit("curvature", system), shown_unit("length", system)
    heads = [
        ["surface", "curvature", "moment", "stiffness", "lost by", "thickness", "strain"],
        ["strain", "", "", "of at rest", "flattening", "loaded", "crosswise"],
        ["%", curvature, shown_unit("moment", system), "%", "%", length, "%"],
    ]
    rows = [[fixed(v[i], places) for v, places in columns] for i in range(kappa.size)]
    if np.isnan(folds):
        text = f"No fold up to {100.0 * end * state.outline.fibre:.0f} % at the surface."
    else:
        peak = show(float(found.moment_limit[1]), "moment", system, 3)
        text = (
            f"Folds at {show(folds, 'curvature', system, 3)}, "
            f"{100.0 * folds * state.outline.fibre:.1f} % at the surface, under {peak}."
        )
    return ruled(heads, rows) + "\n" + text


def _worst(stress: WallStress, values: Array) -> tuple[float, str]:
    """Return the largest value of its size, and where in the section it is."""
    i, j = np.unravel_index(int(np.argmax(np.abs(values))), values.shape)
    along = stress.arc[i] / stress.arc[-1]
    place = (
        "middle of the back"
        if along < 0.1
        else "middle of the belly"
        if along > 0.9
        else ("edge" if 0.4 < along < 0.6 else "back" if along < 0.5 else "belly")
    )
    skin = "inner surface" if stress.depth[j] < 0.0 else "outer surface"
    return float(values[i, j]), f"{place}, {skin}"


def section_report(state: SectionState, system: System) -> str:
    """Return the whole printed report of a section.

    Parameters
    ----------
    state : SectionState
        The section and its bending.
    system : {"us", "metric"}
        Units.
    """
    outline, found, stress = state.outline, state.response, state.stress

    def value(number: float, kind: str, digits: int = 4) -> str:
        return show(number, kind, system, digits)

    lines = [
        (
            "pipe",
            f"{printable(state.pipe.name or 'as measured')}: "
            f"{value(state.pipe.outer_diameter, 'length')} outside, "
            f"{value(state.pipe.wall, 'length', 3)} wall",
        ),
        (
            "as formed",
            f"{value(outline.thickness, 'length')} thick, {value(outline.width, 'length')} wide",
        ),
        ("wall area", value(outline.area, "area")),
        (
            "second moments",
            f"{value(outline.second_moment_weak, 'second_moment')} bending, "
            f"{value(outline.second_moment_strong, 'second_moment')} sideways",
        ),
        ("torsion", value(outline.torsion_constant, "second_moment")),
        *(
            [
                (
                    "formed",
                    f"to a curl of {value(1.0 / abs(state.natural_curvature), 'length')} radius",
                )
            ]
            if state.natural_curvature
            else []
        ),
        ("EI at rest", value(float(found.bending_stiffness), "bending_stiffness")),
        ("mass", value(float(found.mass_per_length), "mass_per_length")),
    ]
    state_lines = [
        ("curvature", value(state.curvature, "curvature", 3) + " from the formed shape"),
        ("moment", value(stress.moment, "moment", 3)),
        ("axial force", value(state.axial_force, "force", 3)),
    ]
    for label, values in (
        ("along the limb", stress.longitudinal),
        ("crosswise", stress.crosswise),
        ("equivalent", stress.equivalent),
    ):
        size, place = _worst(stress, values)
        state_lines.append((label, f"at most {value(size, 'stress', 3)}, {place}"))
    return "\n\n".join(
        [
            labelled(lines),
            strain_table(state, system),
            f"State: {state.title} (stress: tension positive)",
            labelled(state_lines),
            wrapped(ESTIMATE),
        ]
    )
