"""Round, racetrack and elliptical tubes: area, both second moments, moduli, width."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, columns, reference
from bowfem.section import Outline, Pipe, circle, ellipse, racetrack

ROUND = [reference("09", "circular_tube")[unit] for unit in ("in_units", "mm_units")]
STADIUM = columns(reference("09", "stadium_from_pipe"))
ELLIPSE = columns(reference("09", "elliptical_tube"))


def outlines() -> dict[str, list[Outline]]:
    """Build the reference's tubes; the ellipses from round tubes of their perimeter."""
    rows = zip(*(ELLIPSE[k] for k in ("constwall_perimeter", "t", "b_mid")), strict=True)
    return {
        "round": [circle(Pipe(row["D"], row["t"])) for row in ROUND],
        "racetrack": [
            racetrack(Pipe(26.67, 2.87), min(height, 26.67)) for height in STADIUM["height"]
        ],
        "ellipse": [ellipse(Pipe(p / np.pi + t, t), 2.0 * b + t) for p, t, b in rows],
    }


def run(n_elements: int) -> Mapping[str, Array]:
    """Read the properties off the outlines; ``n_elements`` has no meaning here."""
    shapes = outlines()
    found = {}
    for shape, parts in shapes.items():
        found[f"A, {shape}"] = np.array([o.area for o in parts])
        found[f"I weak, {shape}"] = np.array([o.second_moment_weak for o in parts])
        found[f"I strong, {shape}"] = np.array([o.second_moment_strong for o in parts])
    found["J, round"] = np.array([o.torsion_constant for o in shapes["round"]])
    track = shapes["racetrack"]
    found["width, racetrack"] = np.array([o.width for o in track])
    found["S, racetrack"] = found["I weak, racetrack"] / np.array([o.fibre for o in track])
    return found


EXPECTED = {
    f"{new}, round": np.array([row[old] for row in ROUND])
    for new, old in (("A", "A"), ("I weak", "I"), ("I strong", "I"), ("J", "J"))
}
EXPECTED |= {
    f"{new}, racetrack": STADIUM[old]
    for new, old in (
        ("A", "A"),
        ("I weak", "I_weak"),
        ("I strong", "I_strong"),
        ("width", "width"),
        ("S", "S_weak"),
    )
}
EXPECTED |= {
    f"{new}, ellipse": ELLIPSE[f"constwall_{old}"]
    for new, old in (("A", "A"), ("I weak", "I_weak"), ("I strong", "I_strong"))
}

CASE = Case(
    title="tubes: area, second moments, moduli",
    source="closed forms; ellipse of constant wall by quadrature of its offset",
    kind="recomputed digits (11)",
    expected=EXPECTED,
    run=run,
    tolerance=1e-9,
    reason="digits of the reference; quadrature round the flattest ellipse",
)
