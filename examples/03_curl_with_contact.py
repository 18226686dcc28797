"""Draw a bow with curls: where the string lies on them, when it lifts off, how the curl is worked.

Run it: python examples/03_curl_with_contact.py [DESIGN.toml]
"""

import sys
from pathlib import Path

from matplotlib.figure import Figure

from bowfem import Design
from bowfem.bow import Walk, walk
from bowfem.findings import DrawLength, Place, pieces_at
from bowfem.show import contact_over_draw, stress_round_curl
from bowfem.units import show

DESIGN = Path(__file__).parent / "designs" / "curlew.toml"


def run(path: str | Path = DESIGN) -> Walk:
    return walk(Design.from_file(path))


def picture(found: Walk) -> Figure:
    figure = Figure(figsize=(7.6, 9.2))
    contact_over_draw(found, figure.add_axes((0.12, 0.64, 0.70, 0.30)))
    stress_round_curl(found, figure.add_axes((0.12, 0.15, 0.70, 0.31)))
    return figure


if __name__ == "__main__":
    found = run(*sys.argv[1:2])
    for state in range(0, found.draw.size, 6):
        runs = [
            f"{show(outer - inner, 'length', 'us', 2)} "
            f"from {Place('s', inner, side=side).text('us')}"
            for side, limb in found.distinct_limbs
            for outer, inner in pieces_at(limb, state)
        ]
        at = DrawLength.of(found, found.draw[state]).text("us")
        print(f"{at:>16}:", *(runs or ["string is free"]))
    picture(found).savefig("curl_with_contact.png", dpi=80)
