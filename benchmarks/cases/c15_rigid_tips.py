"""Rigid limbs on elastic hinges, strung and drawn: the limit of stiff limbs with a short soft zone.

The hinge is a soft zone of the length a/n in the middle of which the hinge lies, the rest of the
limb 1e8 times as stiff. The error falls with the zone's length (an arc's tangents meet beside its
middle) and with its powers, so three zones, each half the last, are extrapolated to none. Measured
against the closed form, largest relative error: zones of a/16, a/64, a/128 alone 2e-2, 5e-3, 2e-3;
extrapolated from a/16, a/32 and a/64 3e-6, and eight times less for each halving.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from benchmarks.cases import TIGHT, Array, Case, reference
from bowfem.rod import Rod, TautString, clamp, pull

STIFF = 1e8
#: Zones of a/n, a/2n, a/4n; weights that cancel the first and second power of the length.
ZONES, WEIGHTS = (1, 2, 4), (1 / 3, -2.0, 8 / 3)


@dataclass(frozen=True)
class Hinged:
    """One parameter set: limb length, hinge height, stiffness, preset angle, brace height."""

    a: float
    g: float
    c: float
    phi0: float
    brace: float
    string: float
    X: Array
    expected: Mapping[str, Array]


def parameter_sets() -> dict[str, Hinged]:
    """Read both sets; forces and energies are scaled to the last row."""
    found = {}
    for number, value in enumerate(reference("15"), 1):
        p, rows, braced = value["params"], value["rows"], value["braced"]
        keys = ("X", "phi", "T", "F", "work")
        table = {key: np.array([row[key] for row in rows]) for key in keys}
        expected = {
            "phi": table["phi"],
            "T": table["T"] / table["T"][-1],
            "F": table["F"] / table["F"][-1],
            "work": table["work"] / table["work"][-1],
            "brace phi": np.array([braced["phi_b"]]),
            "brace T": np.array([braced["T_b"] / table["T"][-1]]),
            "brace U": np.array([braced["U_b"] / table["work"][-1]]),
        }
        found[f"set {number}"] = Hinged(
            p["a"], p["g"], p["c"], p["phi0"], p["brace_h"], braced["l"], table["X"], expected
        )
        SCALES[f"set {number}"] = (table["T"][-1], table["F"][-1], table["work"][-1])
    return found


SCALES: dict[str, tuple[float, float, float]] = {}
SETS = parameter_sets()


def with_zone(name: str, share: float) -> dict[str, Array]:
    """Brace and draw one half bow whose soft zone is `share` of the limb."""
    bow = SETS[name]
    zone = share * bow.a
    start = bow.g - 0.5 * zone
    length = zone + bow.a - 0.5 * zone
    nodes = np.concatenate([np.linspace(0.0, zone, 5), np.linspace(zone, length, 5)[1:]])
    rod = Rod.from_curvature(
        nodes,
        EI=lambda s: np.where(s < zone, bow.c * zone, STIFF * bow.c * bow.a),
        curvature0=lambda s: np.where(s < zone, bow.phi0 / zone, 0.0),
        origin=(start, 0.0),
    )
    tip = rod.position0[-1]
    first = (0.0, max(bow.brace, float(tip[1]) + 0.01))
    slack = float(np.hypot(*(tip - np.array(first))))
    lengths = np.linspace(slack, bow.string, 20)[1:]
    # shorten the string, bring the nock point to brace height, and draw
    strung = pull(
        rod,
        [clamp(0)],
        TautString(),
        [first] * len(lengths),
        lengths,
        begin=(*first, slack),
        settings=TIGHT,
    )
    nock = [(0.0, x) for x in (bow.brace, *bow.X)]
    path = pull(
        rod,
        [clamp(0)],
        TautString(),
        nock,
        bow.string,
        begin=(0.0, 0.0, 0.0),
        start=strung,
        settings=TIGHT,
    )
    tension, force, work = SCALES[name]
    phi = path.turn[:, -1] + bow.phi0
    energy = 2.0 * np.sum(path.energy, axis=1)
    return {
        "phi": phi[1:],
        "T": path.tension[1:] / tension,
        "F": 2.0 * path.pull[1:, 1] / force,
        "work": (energy[1:] - energy[0]) / work,
        "brace phi": phi[:1],
        "brace T": path.tension[:1] / tension,
        "brace U": energy[:1] / work,
    }


def run(zones: int) -> Mapping[str, Array]:
    """Extrapolate from soft zones of 1/n, 1/2n and 1/4n of the limb."""
    found = {}
    for name in SETS:
        each = [with_zone(name, 1.0 / (k * zones)) for k in ZONES]
        for key in each[0]:
            parts = [w * values[key] for w, values in zip(WEIGHTS, each, strict=True)]
            found[f"{name} {key}"] = np.sum(parts, axis=0)
    return found


CASE = Case(
    title="rigid limbs on elastic hinges, two sets",
    source="closed form of a rigid bar, a spring and an inextensible string (references, case 15)",
    kind="closed form",
    expected={f"{name} {key}": v for name, bow in SETS.items() for key, v in bow.expected.items()},
    run=run,
    tolerance=5e-6,
    reason="the soft zone's length to the third power, and limbs that are not quite rigid",
    n_elements=16,
    coarse=4,
    order=2.5,
)
