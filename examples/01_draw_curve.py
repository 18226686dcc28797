"""Read a design, walk it from brace to full draw, print the report, save the draw curve.

Run it: python examples/01_draw_curve.py [DESIGN.toml]
"""

import sys
from pathlib import Path

from bowfem import Design
from bowfem.bow import Walk, walk
from bowfem.findings import Findings
from bowfem.show import draw_curve, draw_report

DESIGN = Path(__file__).parent / "designs" / "wagtail.toml"


def run(path: str | Path = DESIGN) -> Walk:
    return walk(Design.from_file(path))


if __name__ == "__main__":
    found = run(*sys.argv[1:2])
    print(draw_report(Findings.from_walk(found), "us"))
    draw_curve(found).figure.savefig("draw_curve.png")
