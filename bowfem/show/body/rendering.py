"""Whether this machine can render: looked at before a renderer is asked, which might abort."""

from __future__ import annotations

import ctypes
import os
import sys
from contextlib import suppress
from importlib.util import find_spec

from bowfem.errors import BowfemError

#: Libraries of which one renders where there is no display, and what VTK calls its window.
OFF_SCREEN = {
    "libEGL.so.1": "vtkEGLRenderWindow",
    "libOSMesa.so.8": "vtkOSOpenGLRenderWindow",
    "libOSMesa.so.6": "vtkOSOpenGLRenderWindow",
}


def check_rendering(*, window: bool = False) -> None:
    """Refuse where nothing can be rendered, before a renderer is asked, which might abort.

    Parameters
    ----------
    window : bool
        Whether a window is to open.

    Raises
    ------
    BowfemError
        pyvista is missing, or there is neither a display nor a library to do without.
    """
    if find_spec("pyvista") is None:
        raise BowfemError("the viewer needs pyvista: install bowfem with its extra 'view'")
    shown = os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")
    if not sys.platform.startswith("linux") or shown:
        return
    if window:
        raise BowfemError(
            "there is no display to open a window on: write --still, --film or --web instead"
        )
    forced = os.environ.get("VTK_DEFAULT_OPENGL_WINDOW")
    for name, kind in OFF_SCREEN.items():
        if forced in OFF_SCREEN.values() and forced != kind:
            continue  # VTK would crash without the library of the window it is told to take
        with suppress(OSError):
            library = ctypes.CDLL(name)
            if "EGL" in name and not _egl_devices(library):
                continue
            # or VTK looks for a display first, and complains
            os.environ.setdefault("VTK_DEFAULT_OPENGL_WINDOW", kind)
            return
    raise BowfemError(
        "nothing can be rendered here: there is no display, and neither EGL nor OSMesa to do "
        "without one; install libegl1 and libgl1-mesa-dri (Debian's names) or their like"
    )


def _egl_devices(library: ctypes.CDLL) -> int:
    """Count the devices EGL can render on: VTK crashes where the library has no driver.

    Numbers are those of EGL 1.5 and EGL_EXT_device_enumeration (from memory).
    """
    library.eglQueryString.restype = ctypes.c_char_p
    library.eglGetProcAddress.restype = ctypes.c_void_p
    known = library.eglQueryString(None, 0x3055) or b""  # extensions of no display: the client's
    address = library.eglGetProcAddress(b"eglQueryDevicesEXT")
    if b"EGL_EXT_platform_device" not in known or not address:
        return 0
    kind = ctypes.CFUNCTYPE(
        ctypes.c_uint, ctypes.c_int, ctypes.c_void_p, ctypes.POINTER(ctypes.c_int)
    )
    count = ctypes.c_int(0)
    return count.value if kind(address)(0, None, ctypes.byref(count)) else 0
