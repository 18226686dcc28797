"""The slices that are run: what is asked of each, and what the project's own sections say."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from functools import lru_cache

import numpy as np

from benchmarks.solid.ccx import FailedError
from benchmarks.solid.slice import Bent, Plastic, bend
from benchmarks.solid.stored import stored
from bowfem.section import (
    Law,
    Linear,
    Outline,
    Pipe,
    RambergOsgood,
    SectionResponse,
    at_stations,
    curled_response,
    ovalising_response,
    pressed,
    wall_stress,
)

ELASTIC, YIELDING = "elastic", "yielding"
PLASTICS = {ELASTIC: Plastic(), YIELDING: Plastic(reference=52.0)}
LAWS: dict[str, Law] = {
    ELASTIC: Linear(2.9e9, poisson=0.4),
    YIELDING: RambergOsgood(2.9e9, 52e6, 0.014, 5.5, compression_ratio=1.0, poisson=0.4),
}
#: Outer diameter and wall, mm.
PIPES = {
    "3/4 in Sch 40": (26.67, 3.1242),
    "1 in Sch 40": (33.40, 3.6449),
    "1/2 in Sch 40": (21.34, 3.0226),
}
#: Meshes: elements on flats and sides of half the section, and through the wall.
COARSE, FINE = ((6, 8), 3), ((8, 14), 5)


@dataclass(frozen=True)
class Slice:
    """One slice: pipe, pressed thickness mm, formed radius mm (0 straight), sense, law, edge-on."""

    pipe: str
    thickness: float
    radius: float
    sense: int
    law: str
    strains: tuple[float, ...]
    turned: bool = False
    held_back: bool = False

    @property
    def name(self) -> str:
        """Its name in the results."""
        curl = f" R {self.radius:g} {'closed' if self.sense > 0 else 'opened'}"
        edge = " edge-on" if self.turned else ""
        which = f"{self.pipe} {self.thickness:g} mm{edge}{curl if self.radius else ' straight'}"
        return f"{which} {self.law}"

    @property
    def outline(self) -> Outline:
        """The section."""
        diameter, wall = PIPES[self.pipe]
        made = pressed(Pipe(1e-3 * diameter, 1e-3 * wall), 1e-3 * self.thickness)
        return made.turned() if self.turned else made

    @property
    def natural(self) -> float:
        """Formed curvature, 1/m."""
        return 1e3 / self.radius if self.radius else 0.0

    def curvature(self, strain: float) -> float:
        """Return the change of curvature at a strain of the outer fibre, 1/m."""
        return self.sense * strain / (0.5 * self.outline.thickness)

    def solid(self, strain: float, mesh: tuple[tuple[int, int], int]) -> Bent:
        """Run it at one strain."""
        counts, layers = mesh
        return bend(
            self.outline,
            self.sense * strain,
            1e-3 * self.natural,
            PLASTICS[self.law],
            counts=counts,
            layers=layers,
        )

    def stored(self) -> list[dict]:
        """Return what is stored of the solid model, a row a strain."""
        return stored()["slices"][self.name]["rows"]

    @property
    def table(self) -> SectionResponse:
        """The project's own law of the section."""
        return _table(self)

    def moment(self, strain: float) -> float:
        """Return the project's own moment, N m."""
        table = self.table
        return float(np.interp(self.curvature(strain), table.curvature, table.moment))

    def edge(self, strain: float, depth: float) -> tuple[float, float]:
        """Return the project's hoop stress at a depth of the edge, and greatest von Mises, MPa."""
        found = wall_stress(
            self.outline,
            LAWS[self.law],
            self.curvature(strain),
            natural_curvature=self.natural,
        )
        side = np.abs(found.arc / found.arc[-1] - 0.5) < 0.25
        at = np.array([np.interp(1e-3 * depth, found.depth, row) for row in found.crosswise[side]])
        inside = np.linspace(1e-3 * depth, -1e-3 * depth, 41)
        seen = [np.max(np.interp(inside, found.depth, row)) for row in found.equivalent]
        return float(at[np.argmax(np.abs(at))]) / 1e6, float(np.max(seen)) / 1e6


@lru_cache(maxsize=128)
def _table(of: Slice) -> SectionResponse:
    law = LAWS[of.law]
    if of.radius:
        return at_stations(curled_response([of.outline], law, of.natural), 0)
    return ovalising_response(of.outline, law)


def run(of: Slice) -> dict:
    """Run a slice at all its strains on two meshes; return what is stored."""
    rows = []
    for strain in of.strains:
        try:
            coarse, fine = (of.solid(strain, mesh) for mesh in (COARSE, FINE))
        except FailedError:  # past the peak its steps may end; what was reached is kept
            break
        spread = abs(coarse.moment / fine.moment - 1.0)
        rows.append({"strain": strain, "spread": spread, **asdict(fine)})
    return {**asdict(of), "rows": rows}


ALL, FEW = (0.0025, 0.01, 0.02, 0.03, 0.04), (0.01, 0.03)
PEAK = (0.02, 0.025, 0.03, 0.035, 0.04, 0.045, 0.05, 0.055, 0.06)
M, L, S = "3/4 in Sch 40", "1 in Sch 40", "1/2 in Sch 40"

CASES = (
    *(Slice(M, h, 0, 1, ELASTIC, ALL[1:]) for h in (8.5, 12.0)),
    *(Slice(M, h, 62, sense, ELASTIC, ALL) for h in (8.5, 12.0) for sense in (1, -1)),
    *(Slice(M, h, 0, 1, YIELDING, PEAK) for h in (8.5, 12.0)),
    *(Slice(M, 12.0, 62, sense, YIELDING, (0.02, 0.03, 0.04)) for sense in (1, -1)),
    # not looked at while the model was made
    *(Slice(M, h, 0, 1, ELASTIC, ALL[1:], held_back=True) for h in (10.0, 16.0)),
    *(
        Slice(M, 10.0, radius, sense, ELASTIC, ALL, held_back=True)
        for radius in (40, 93)
        for sense in (1, -1)
    ),
    *(Slice(M, 16.0, 93, sense, ELASTIC, ALL, held_back=True) for sense in (1, -1)),
    Slice(L, 11.0, 0, 1, ELASTIC, FEW, held_back=True),
    *(Slice(L, 11.0, 70, sense, ELASTIC, FEW, held_back=True) for sense in (1, -1)),
    Slice(S, 9.0, 0, 1, ELASTIC, FEW, held_back=True),
    *(Slice(S, 9.0, 50, sense, ELASTIC, FEW, held_back=True) for sense in (1, -1)),
    Slice(M, 9.0, 0, 1, ELASTIC, FEW, turned=True, held_back=True),
    *(Slice(M, h, 0, 1, YIELDING, PEAK, held_back=True) for h in (10.0, 16.0)),
    *(Slice(M, 10.0, 62, sense, YIELDING, PEAK[:5], held_back=True) for sense in (1, -1)),
    Slice(L, 11.0, 0, 1, YIELDING, PEAK, held_back=True),
    Slice(S, 9.0, 0, 1, YIELDING, PEAK, held_back=True),
)


def of(law: str, *, curled: bool) -> list[Slice]:
    """Return the slices of a law, straight or curled."""
    return [case for case in CASES if case.law == law and bool(case.radius) == curled]


def moments(case: Slice) -> tuple[np.ndarray, np.ndarray]:
    """Return moments of the solid and own ones, N m, up to the solid's largest."""
    rows = case.stored()
    last = int(np.argmax([abs(row["moment"]) for row in rows])) + 1
    own = [case.moment(row["strain"]) for row in rows[:last]]
    return np.array([row["moment"] for row in rows[:last]]), np.array(own)


def peaks_seen(case: Slice) -> bool:
    """Return whether the solid was bent past its peak."""
    size = [abs(row["moment"]) for row in case.stored()]
    return len(size) > 2 and int(np.argmax(size)) < len(size) - 1


def peak(rows: list[dict]) -> tuple[float, float]:
    """Return the largest moment of rows and its strain, by the parabola through the three."""
    m = np.array([row["moment"] for row in rows])
    e = np.array([row["strain"] for row in rows])
    i = int(np.clip(np.argmax(m), 1, len(m) - 2))
    a, b, c = np.polyfit(e[i - 1 : i + 2], m[i - 1 : i + 2], 2)
    at = -b / (2.0 * a) if a < 0.0 else float(e[i])
    return float(np.polyval((a, b, c), at)), float(at)


def own_peak(of: Slice) -> tuple[float, float]:
    """Return the project's own largest moment, N m, and its strain."""
    limit = float(of.table.limit)
    if math.isnan(limit):
        return math.nan, math.nan
    moment = float(np.interp(limit, of.table.curvature, of.table.moment))
    return moment, limit * 0.5 * of.outline.thickness
