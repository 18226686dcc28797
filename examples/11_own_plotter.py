"""Put two bows side by side into a plotter of one's own, and change what one of them shows.

Run it: python examples/11_own_plotter.py (needs the extra "view")
"""

from pathlib import Path

import pyvista as pv

from bowfem import Design, walk
from bowfem.show import Scene

DESIGNS = Path(__file__).parent / "designs"


def run(names: tuple[str, str] = ("wagtail", "curlew")) -> tuple[pv.Plotter, list[Scene]]:
    """Show two bows, one at full draw, one at brace."""
    plotter = pv.Plotter(shape=(1, 2), off_screen=True, window_size=[1000, 640])
    scenes = []
    for view, name in enumerate(names):
        plotter.subplot(0, view)
        bow = walk(Design.from_file(DESIGNS / f"{name}.toml"))
        scenes.append(Scene(bow, "yield", plotter=plotter, system="metric"))
    scenes[1].update(0, "bending")
    return plotter, scenes


if __name__ == "__main__":
    plotter, scenes = run()
    plotter.screenshot("two_bows.png")
    plotter.close()
    for scene in scenes:
        print(scene.label().replace("\n", "; "))
