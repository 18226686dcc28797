"""Processes that the program starts beside its own."""

from __future__ import annotations

import os
import signal
import threading
import time
from types import FrameType

#: How often one looks whether its parent is there, and how soon an interrupt is tried again, s.
LOOK, SOON = 1.0, 0.02


def leave_with(parent: int) -> None:
    """End this process when the one that made it, by its number, has gone."""

    def look() -> None:
        while os.getppid() == parent:
            time.sleep(LOOK)
        os._exit(1)

    threading.Thread(target=look, daemon=True).start()


def interrupt_outside_callbacks() -> None:
    """Keep an interrupt back while the compiler calls back from compiled code, then let it come.

    An exception there is printed and lost: the command would go on.
    """

    def raised(number: int, frame: FrameType | None) -> None:
        while frame is not None:
            if "llvmlite" in frame.f_code.co_filename:
                again = threading.Timer(SOON, os.kill, (os.getpid(), number))
                again.daemon = True
                again.start()
                return
            frame = frame.f_back
        raise KeyboardInterrupt

    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, raised)
