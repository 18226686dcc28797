"""A limb with a string, drawn: brace, then 40 draw lengths, inextensible and extensible."""

import csv
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from benchmarks.cases import HERE, Array, Case
from bowfem.rod import Path, Rod, Settings, TautString, clamp, pull

LENGTH, STRING = 0.6, 0.575
MODELS = {"D0": (np.inf, np.inf, np.inf), "D2": (1e6, 4e5, 1e6)}  # EA, GA, EA of the string, N


@dataclass(frozen=True)
class Walk:
    """The reference's rows of one model: nock positions, and forces and tips at the draws."""

    nock: Array
    pull: Array
    tension: Array
    root: Array
    tip: Array


def rows(model: str) -> Walk:
    """Read the reference: first row the slack start, then brace (10) and draw (40)."""
    with open(HERE / "reference_walk.csv", newline="") as file:
        found = [row for row in csv.DictReader(file) if row["model"] == model]
    # the first draw row repeats the last of the brace
    found = [r for r in found if r["phase"] == "brace" or r["step"] != "0"]

    def take(*names: str) -> Array:
        return np.array([[float(row[name]) for name in names] for row in found])

    return Walk(
        take("nock_x_m", "nock_y_m"),
        take("Fx_N", "Fy_N"),
        take("string_tension_N")[:, 0],
        take("root_moment_Nm")[:, 0],
        take("tip_x_m", "tip_y_m", "tip_theta_rad"),
    )


def limb(model: str, n_elements: int) -> tuple[Rod, TautString]:
    """Build the limb and its string."""
    axial, shear, string = MODELS[model]
    nodes = np.linspace(0.0, LENGTH, n_elements + 1)
    rod = Rod.from_curvature(
        nodes, EI=lambda s: 60.0 - 50.0 * s / LENGTH, curvature0=-0.5, EA=axial, GA=shear
    )
    return rod, TautString(EA=string)


def draw(model: str, n_elements: int, settings: Settings = Settings()) -> Path:  # noqa: B008
    """Brace and draw; one state for each row of the reference but the first."""
    rod, string = limb(model, n_elements)
    nock = WALKS[model].nock
    start = (float(nock[0, 0]), float(nock[0, 1]), STRING)
    return pull(rod, [clamp(0)], string, nock[1:], STRING, begin=start, settings=settings)


def quantities(walk: Walk) -> dict[str, Array]:
    """Scale to the values at full draw, lengths to the limb's."""
    at = walk.pull.shape[0] - 40
    return {
        "force": walk.pull[at:, 1] / WALKS["D0"].pull[-1, 1],
        "tension": walk.tension[at:] / WALKS["D0"].tension[-1],
        "root moment": walk.root[at:] / WALKS["D0"].root[-1],
        "tip x": walk.tip[at:, 0] / LENGTH,
        "tip y": walk.tip[at:, 1] / LENGTH,
        "tip angle": walk.tip[at:, 2],
    }


def run(n_elements: int) -> Mapping[str, Array]:
    """Walk both models."""
    found = {}
    for model in MODELS:
        path = draw(model, n_elements)
        angle = path.turn[:, -1] - LENGTH / 2
        walk = Walk(
            path.nock,
            path.pull,
            path.tension,
            -path.reaction[:, 0, 2],
            np.column_stack([path.tip, angle]),
        )
        found |= {f"{model} {name}": value for name, value in quantities(walk).items()}
    return found


WALKS = {model: rows(model) for model in MODELS}

CASE = Case(
    title="reference walk, 40 draws of two models",
    source="reference_walk.csv: shooting and continuation, residuals about 1e-15",
    kind="recomputed digits",
    expected={
        f"{model} {name}": value
        for model in MODELS
        for name, value in quantities(WALKS[model]).items()
    },
    run=run,
    tolerance=1e-7,
    reason="discretisation with the mesh used by default",
    n_elements=8,
    floor=1.0,
    coarse=4,
    order=6.0,
)
