"""A bent cantilever pulled by a string: sideways push, string off the middle, critical tension."""

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from benchmarks.cases import TIGHT, Array, Case, sideways_table
from bowfem.rod import Path, Rod, Sideways, TautString, clamp, ends, pull

NAMES = ("curl", "curl_tie_off_axis", "curl_soft_in_twist", "narrow_tip")
TABLES = {name: sideways_table(name) for name in NAMES}
#: Distance of the surface from the axis, by that of the tie: so far behind that the string never
#: meets it, and within the bend of the narrow tip.
BEHIND = {0.025: -0.05}
#: Where the nock is held, or follows.
NOCKS = {"held": np.inf, "free": 0.0}


def piecewise(pieces: list[Any], i: int, default: float) -> Callable[[Array], Array]:
    """Return a quantity of the pieces of a rod: 0 natural curvature, 1 EI, 2 B, 3 GJ."""

    def value(s: Array) -> Array:
        found = np.zeros_like(s)
        for start, stop, own in pieces:
            one = own[i] if isinstance(own, list) else (own if i == 0 else default)
            found = np.where((s > start) & (s < stop), one, found)
        return found

    return value


def pulled(table: Mapping[str, Any], tension: float, n: int) -> tuple[Path, Any, Any]:
    """Shorten the string until it is so tight; return state, B and GJ."""
    given = table["parameters"]
    pieces = given["pieces"]
    nodes = [0.0]
    for start, stop, _ in pieces:
        nodes += [start + (stop - start) * (i + 1) / n for i in range(n)]
    rod = Rod.from_curvature(
        np.array(nodes),
        EI=piecewise(pieces, 1, given["EI"]),
        curvature0=piecewise(pieces, 0, 0.0),
        belly=BEHIND.get(given["b"], -5.0),
    )
    string = TautString(across=given["b"], along=given["a"])
    turn = float(ends(rod.angle0[None])[1][0])
    frame = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    tie = rod.position0[-1] + np.array([given["a"], given["b"]]) @ frame
    slack = float(np.hypot(*(tie - given["q"])))
    lengths = slack - np.linspace(0.001, 0.35, 350) * slack
    path = pull(
        rod,
        [clamp(0)],
        string,
        [given["q"]] * len(lengths),
        lengths,
        begin=(*given["q"], slack),
        settings=TIGHT,
        strict=False,
    )
    above = int(np.argmax(path.tension > tension))
    length, rate = lengths[above], 0.0
    before = lengths[above - 1], float(path.tension[above - 1])
    now = length, float(path.tension[above])
    for _ in range(60):
        rate = (now[1] - before[1]) / (now[0] - before[0])
        length = now[0] + (tension - now[1]) / rate
        path = pull(
            rod,
            [clamp(0)],
            string,
            [given["q"]],
            length,
            begin=(0.0, 0.0, 0.0),
            start=path,
            settings=TIGHT,
        )
        before, now = now, (length, float(path.tension[-1]))
        if abs(now[1] / tension - 1.0) < 1e-12 or now[0] == before[0]:
            break
    B, GJ = (piecewise(pieces, i, given[key]) for i, key in ((2, "B"), (3, "GJ")))
    return path, B, GJ


def run(n_elements: int) -> Mapping[str, Array]:
    """Solve all rows: shift, roll and turn of the tip, and factors at the critical tensions."""
    found: dict[str, list[Array]] = {"push": [], "off the middle": []}
    for table in TABLES.values():
        for row in table["rows"]:
            path, B, GJ = pulled(table, row["T"], n_elements)
            for nock in NOCKS.values():
                state = Sideways(path, B, GJ, nock=nock)
                for name, way in (
                    ("push", state.push(1.0)),
                    ("off the middle", state.off_centre(1.0)),
                ):
                    found[name].append(np.array([way.shift[-1], way.roll[-1], way.turn[-1]]))
    critical = []
    for name, key in (("curl_soft_in_twist", "held"), ("narrow_tip", "free")):
        path, B, GJ = pulled(TABLES[name], TABLES[name][f"critical_T_{key}"], n_elements)
        critical.append(Sideways(path, B, GJ, nock=NOCKS[key]).factor)
    return {
        **{name: np.array(rows).ravel() for name, rows in found.items()},
        "critical": np.array(critical),
    }


def expected(key: str) -> Array:
    """Read a response of all rows."""
    rows = [row for table in TABLES.values() for row in table["rows"]]
    return np.array([row[f"per_{key}_{nock}"] for row in rows for nock in NOCKS]).ravel()


CASE = Case(
    title="curled and narrow tips under a string",
    source="shooting of Kirchhoff's equations, linearised; critical where its determinant vanishes",
    kind="recomputed digits (by shooting, 40 against 80 steps)",
    expected={
        "push": expected("side_force"),
        "off the middle": expected("tie_offset"),
        "critical": np.ones(2),
    },
    run=run,
    tolerance=1e-8,
    reason="discretisation",
    n_elements=8,
    coarse=2,
    order=6.0,
)
