"""A line on the terminal that tells how far a long job is, and when it will be done."""

from __future__ import annotations

import sys
import time

#: Least time between two tellings, s, and letters of the bar.
TELL, BAR = 0.3, 30


class Progress:
    """Tell on a terminal how far a job is; on anything else say nothing.

    Parameters
    ----------
    what : str
        What is counted.
    """

    def __init__(self, what: str) -> None:
        self.what, self.begin, self.told = what, time.monotonic(), 0.0
        self.first = 0

    def __call__(self, done: int, total: int) -> None:
        """Tell that so many of so many are done."""
        now = time.monotonic()
        if not sys.stderr.isatty() or (now - self.told < TELL and done < total):
            return
        if not self.first:  # what came before the first batch is no measure of the rest
            self.first, self.begin = done, now
        self.told = now
        left = (
            ""
            if done <= self.first
            else (f", {(now - self.begin) / (done - self.first) * (total - done):.0f} s left")
        )
        bar = "#" * (BAR * done // total)
        line = f"\r{bar:<{BAR}} {done} of {total} {self.what}{left}    "
        print(line, end="" if done < total else "\n", file=sys.stderr, flush=True)
