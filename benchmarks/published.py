"""Bows in print, rerun: the figure printed, ours, and where a difference comes from."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

import numpy as np

from benchmarks.cases import c15_rigid_tips, c16_straight_bow, reference

HEAD = ("bow", "quantity", "printed", "bowfem", "difference", "status of the print", "likely cause")


@dataclass(frozen=True)
class Figure:
    """One printed figure; `ours` is None where the print does not say enough to rerun it."""

    bow: str
    quantity: str
    printed: float
    ours: float | None
    status: str
    cause: str

    @property
    def row(self) -> tuple[str, ...]:
        """Lay out the figure."""
        ours, apart = "not rerun", "-"
        if self.ours is not None:
            ours, apart = f"{self.ours:.6g}", f"{self.ours / self.printed - 1.0:+.1e}"
        return (
            self.bow,
            self.quantity,
            f"{self.printed:.6g}",
            ours,
            apart,
            self.status,
            self.cause,
        )

    @property
    def record(self) -> dict[str, Any]:
        """All of it for JSON."""
        return asdict(self)


def rigid() -> list[Figure]:
    """Rigid limbs on hinges: at brace and at the last draw of each set."""
    found = c15_rigid_tips.run(c15_rigid_tips.CASE.n_elements)
    figures = []
    for printed, (name, bow) in zip(reference("15"), c15_rigid_tips.SETS.items(), strict=True):
        tension, weight, energy = c15_rigid_tips.SCALES[name]
        drawn, last = bow.X[-1], printed["rows"][-1]
        ours = {key: float(found[f"{name} {key}"][-1]) for key in ("T", "F", "work", "brace T")}
        pairs = {
            "tension at brace, N": (printed["braced"]["T_b"], ours["brace T"] * tension),
            f"tension at {drawn:g} m, N": (last["T"], ours["T"] * tension),
            f"weight at {drawn:g} m, N": (last["F"], ours["F"] * weight),
            f"energy at {drawn:g} m, J": (last["work"], ours["work"] * energy),
            "q": (printed["q"], ours["work"] * energy / (ours["F"] * weight * drawn)),
        }
        figures += [
            Figure(
                f"rigid limbs, {name}",
                quantity,
                *pair,
                "no print: a closed form, 30 digits",
                "hinges are soft zones, extrapolated to none",
            )
            for quantity, pair in pairs.items()
        ]
    return figures


def straight() -> list[Figure]:
    """Kooi's KL bow with the three tapers its remembered parameters leave open."""
    printed, status = c16_straight_bow.BOW["remembered"], "from memory: Kooi, 1981, thesis 1983"
    figures = []
    for case in c16_straight_bow.CASES:
        path, _ = c16_straight_bow.drawn(c16_straight_bow.CASE.n_elements, case["beta"])
        taper = {1.0: "linear taper", 0.5: "root taper", 0.0: "no taper"}[case["beta"]]
        cause = "the taper is assumed; rounding" if case["beta"] == 1.0 else "not this taper"
        q = c16_straight_bow.energy_share(path)
        figures.append(Figure(f"KL, {taper}", "q", printed["q"], q, status, cause))
    for key in ("eta", "nu"):
        figures.append(Figure("KL", key, printed[key], None, status, "of the shot: no dynamics"))
    return figures


def measured() -> list[Figure]:
    """Tuyn and Kooi's recurves: no stiffness or shape is printed."""
    table = reference("17", "tuyn_kooi_1992_table1")
    columns = zip(table["columns"], table["W_over_Fd"], strict=True)
    return [
        Figure(
            str(bow),
            "energy / (weight x stroke)",
            share,
            None,
            "seen in a reprint: Tuyn, Kooi, 1992, Table I",
            "no stiffness or shape in print",
        )
        for bow, share in columns
    ]


@cache
def figures() -> tuple[Figure, ...]:
    """All of them."""
    found = (*rigid(), *straight(), *measured())
    if not all(f.ours is None or np.isfinite(f.ours) for f in found):
        raise ArithmeticError("a published bow could not be rerun")
    return found
