"""Pictures, films and pages of the viewer, and its window.

A film is one frame a state, so that it is in step with the walk.
"""

from __future__ import annotations

import io
import os
import tempfile
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import BowfemError, InputError
from bowfem.files import check_file, write_whole
from bowfem.show.body.browser import web_page
from bowfem.show.body.rendering import check_rendering
from bowfem.show.body.viewer import Scene
from bowfem.show.text.tables import printable

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.show.body.swept import State

#: Frames of a film a second.
RATE = 8


def look(walk: Walk, **options: Any) -> None:
    """Open a window with slider, buttons and keys, and wait until it is closed.

    Raises
    ------
    BowfemError
        There is no display.
    """
    check_rendering(window=True)
    scene = Scene(walk, off_screen=False, **options)
    scene.add_controls()
    scene.aim_close_up()
    scene.plotter.show(title=f"{printable(walk.design.name)[:40]}: unstrung to full draw")


def still(
    walk: Walk, path: str | os.PathLike[str], state: State | None = None, **options: Any
) -> None:
    """Write a picture of a state of a walk, by default the last, as PNG; options as of `Scene`.

    Raises
    ------
    InputError
        The file cannot be written.
    BowfemError
        Nothing can be rendered here.
    """
    check_target(path, "--still")
    scene = Scene(walk, **options)
    if state is not None:
        scene.update(state)
    data = image_bytes(scene.picture())
    scene.plotter.close()
    write_whole(path, data, "--still")


def film(walk: Walk, path: str | os.PathLike[str], **options: Any) -> None:
    """Write a film from unstrung to the last state, one frame a state; options as of `Scene`.

    Raises
    ------
    InputError
        The file cannot be written, or its name ends neither in .gif nor in .mp4.
    BowfemError
        Nothing can be rendered here, or what writes mp4 is missing.
    """
    kind = check_target(path, "--film")
    scene = Scene(walk, **options)
    with tempfile.TemporaryDirectory() as folder:
        draft = str(Path(folder) / f"film{kind}")
        (_write_gif if kind == ".gif" else _write_mp4)(scene, draft)
        data = Path(draft).read_bytes()
    scene.plotter.close()
    write_whole(path, data, "--film")


def _write_gif(scene: Scene, path: str) -> None:
    from PIL import Image

    frames = (Image.fromarray(image) for _, image in scene.frames())
    # the colours of the first do for all: its bar shows every one
    first = next(frames).quantize(256)
    others = [each.quantize(palette=first, dither=Image.Dither.NONE) for each in frames]
    wait = round(1000.0 / RATE)
    first.save(path, save_all=True, append_images=others, duration=wait, loop=0)


def _write_mp4(scene: Scene, path: str) -> None:
    # asked for by name: it is an extra that type checkers need not have
    with import_module("imageio.v2").get_writer(path, fps=RATE) as writer:
        for _, image in scene.frames():
            writer.append_data(image)


def web(walk: Walk, path: str | os.PathLike[str], **options: Any) -> None:
    """Write one page to turn and walk the bow in a browser; options as of `web_page`.

    Raises
    ------
    InputError
        The file cannot be written.
    """
    check_target(path, "--web")
    write_whole(path, web_page(walk, **options).encode(), "--web")


#: Endings of the files written.
ENDINGS = {"--still": (".png",), "--film": (".gif", ".mp4"), "--web": (".html", ".htm")}


def check_target(path: str | os.PathLike[str], key: str) -> str:
    """Return the ending of a file's name, in small letters.

    Raises
    ------
    InputError
        The name has another ending than it must, or there is no place to write it.
    BowfemError
        What writes an mp4 is missing.
    """
    ending = Path(path).suffix.lower()
    if ending not in ENDINGS[key]:
        allowed = f"a name that ends in {' or '.join(ENDINGS[key])}"
        raise InputError(key, ascii(os.fspath(path)), allowed)
    check_file(path, key)
    if ending == ".mp4" and not (find_spec("imageio") and find_spec("imageio_ffmpeg")):
        raise BowfemError(
            "an mp4 needs imageio-ffmpeg: install bowfem with its extra 'film', or take a .gif"
        )
    return ending


def image_bytes(image: NDArray[np.uint8]) -> bytes:
    """Return a picture, (height, width, 3), as the content of a PNG file."""
    from matplotlib.image import imsave

    with io.BytesIO() as buffer:
        imsave(buffer, image, format="png")
        return buffer.getvalue()
