"""Show a bow as a body at full draw, off screen: tube, string, the hottest spot cut open.

Run it: python examples/05_viewer_still.py [DESIGN.toml]
"""

import sys
from pathlib import Path

from bowfem import Design
from bowfem.bow import walk
from bowfem.show.body.viewer import Scene
from bowfem.show.body.viewing import image_bytes

DESIGN = Path(__file__).parent / "designs" / "curlew.toml"


def run(path: str | Path = DESIGN) -> Scene:
    return Scene(walk(Design.from_file(path)), "stress", system="metric")


if __name__ == "__main__":
    scene = run(*sys.argv[1:2])
    Path("viewer_still.png").write_bytes(image_bytes(scene.picture()))
    scene.plotter.close()
    print(scene.label())
