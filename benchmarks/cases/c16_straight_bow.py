"""A straight bow with a rigid grip, braced and drawn: Kooi's KL bow, as remembered, three tapers.

All lengths are over the draw, forces over W0 over the draw squared. The string's length is the one
that braces the bow at the height given. Energy is the limbs', at full draw less at brace.
"""

from collections.abc import Mapping

import numpy as np
from scipy.optimize import brentq

from benchmarks.cases import TIGHT, Array, Case, reference
from bowfem.rod import Path, Rod, TautString, clamp, pull

BOW = reference("16", "elastica_KL_like")
HALF, GRIP, BRACE = (BOW["params"][key] for key in ("L", "Lg", "OH"))
CASES = BOW["cases"]
#: The reference names its draws by four digits; they divide the draw into eight.
DRAWS = np.linspace(BRACE, 1.0, 9)
assert [f"{draw:.4f}" for draw in DRAWS[1::2]] == list(CASES[0]["F_over_W0"])[1::2]
#: Where the linear taper has fallen to its floor, and the root taper, from the tip, over the limb.
FLOOR = 1e-3


def limb(n_elements: int, beta: float) -> Rod:
    """Build the upper limb, rod X along the bow; elements crowd toward the tip."""
    length = HALF - GRIP
    nodes = 1.0 - (1.0 - np.linspace(0.0, 1.0, n_elements + 1)) ** 3
    if beta:  # a node where the taper stops
        end = 1.0 - FLOOR ** (1.0 / beta)
        nodes = np.append(np.concatenate([nodes[nodes < end - 1e-4], [end]]), 1.0)
    return Rod.from_curvature(
        nodes * length,
        EI=lambda s: np.maximum((1.0 - s / length) ** beta, FLOOR),
        origin=(GRIP, 0.0),
    )


def braced(rod: Rod, length: float) -> Path:
    """String the limb with its nock point at brace height, wherever that leaves the force."""
    nock = (0.0, BRACE)
    slack = float(np.hypot(HALF, BRACE))
    steps = np.linspace(slack, length, 9)[1:]
    return pull(
        rod,
        [clamp(0)],
        TautString(),
        [nock] * steps.size,
        steps,
        begin=(*nock, slack),
        settings=TIGHT,
    )


def drawn(n_elements: int, beta: float) -> tuple[Path, float]:
    """Brace and draw; return the path and the string's half length."""
    rod = limb(n_elements, beta)
    short, long = HALF - 0.05, HALF - 0.01
    length = float(
        np.asarray(brentq(lambda size: braced(rod, size).pull[-1, 1], short, long, xtol=1e-12))
    )
    nock = np.column_stack([np.zeros(DRAWS.size), DRAWS])
    path = pull(
        rod,
        [clamp(0)],
        TautString(),
        nock,
        length,
        begin=(0.0, 0.0, 0.0),
        start=braced(rod, length),
        settings=TIGHT,
    )
    return path, length


def energy_share(path: Path) -> float:
    """Energy of the draw over weight times draw length: Kooi's static quality."""
    stored = 2.0 * path.energy.sum(axis=1)
    return float((stored[-1] - stored[0]) / (2.0 * path.pull[-1, 1]))


def run(n_elements: int) -> Mapping[str, Array]:
    """Draw the three bows."""
    found = []
    for case in CASES:
        path, length = drawn(n_elements, case["beta"])
        found.append([length, path.tension[0], energy_share(path), *(2.0 * path.pull[1:, 1])])
    table = np.array(found)
    return {"string": table[:, 0], "T at brace": table[:, 1], "q": table[:, 2], "F": table[:, 3:]}


CASE = Case(
    title="straight bow, draw curve and energy",
    source="shooting; bow after Kooi, J. Engng Math. 15 (1981), parameters from memory",
    kind="recomputed digits (8; q by Simpson's rule on 33 points)",
    expected={
        "string": [case["string_half_length"] for case in CASES],
        "T at brace": [case["brace_tension_over_W0"] for case in CASES],
        "q": [case["q"] for case in CASES],
        "F": [list(case["F_over_W0"].values())[1:] for case in CASES],
    },
    run=run,
    tolerance=1e-5,
    reason="Simpson's rule of the reference's energy, 2e-6; forces agree to 5e-9",
    n_elements=16,
)
