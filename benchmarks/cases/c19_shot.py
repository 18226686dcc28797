"""The shot of a straight tapered bow with an elastic string: speed, time, tension at exit."""

from collections.abc import Mapping

import numpy as np

from benchmarks.cases import Array, Case, shot_table
from bowfem.rod import MovingRod, Rod, TautString, clamp, let_go, natural_frequencies, pull

TABLE = shot_table("S10_straight_bow")
BOW, CASES = TABLE["base_parameters"], TABLE["cases"]
STEP = 1e-5
STRING = TautString(EA=BOW["EA"], across=0.0)


def run(n_elements: int) -> Mapping[str, Array]:
    """Draw, let two arrows go, extrapolate from two steps; swing about brace."""
    taper = BOW["taper"] / BOW["L"]
    limb = Rod.straight(BOW["L"], n_elements, EI=lambda s: BOW["EI0"] * (1.0 - taper * s))
    nock = [(0.0, x) for x in np.linspace(BOW["brace"], BOW["full"], 21)]
    begin = (0.0, BOW["brace"], 0.63)
    drawn = pull(limb, [clamp(0)], STRING, nock, CASES[0]["l0"], begin=begin)

    def half(state: int) -> MovingRod:
        tip = BOW["tip_mass_each"]
        mass = BOW["mass_per_length"]
        return MovingRod(drawn, [clamp(0)], mass, state, STRING, tip_mass=tip)

    own = 0.5 * BOW["nock_mass"]
    speeds = []
    for arrow in (BOW["arrow"], CASES[1]["changed"]["ma"]):
        rough, fine = (
            let_go(half(-1), 0.03, nock_mass=own, carried=0.5 * arrow, after=0.0, step=step)
            for step in (2.0 * STEP, STEP)
        )
        assert rough.release is not None and fine.release is not None
        speeds.append(-(4.0 * fine.release.speed - rough.release.speed) / 3.0)
    return {
        "speed": np.array(speeds),
        "frequency": natural_frequencies(half(0), 3, nock_mass=own),
    }


CASE = Case(
    title="straight bow, shot and frequencies at brace",
    source="the same equations by a rod of rotations; DOP853 and a multibody library agree (table)",
    kind="independent integration",
    expected={
        "speed": np.array([case["v"] for case in CASES]),
        "frequency": np.array(CASES[0]["frequencies_braced_no_arrow_Hz"][:3]),
    },
    run=run,
    tolerance=1e-6,
    reason="consistent mass, fourth order; two steps extrapolated",
    n_elements=40,
    coarse=10,
    order=3.5,
)
