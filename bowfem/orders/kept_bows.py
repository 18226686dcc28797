"""Bows of a study kept as they are made, so that what is stopped goes on where it was.

A file of one line, which says what study it is of, and a record a batch, added whole at its end:
first bow and number of bows, the figures' columns one after another, reasons, and a checksum. What
a death has left half written at the end is cut off.
"""

from __future__ import annotations

import hashlib
import json
import os
import struct
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

import bowfem
from bowfem.errors import InputError
from bowfem.files import write_refusal

Array = NDArray[np.float64]

MAGIC = b"bowfem bows 1 "
#: First bow, bows, columns, bytes of the reasons; and the checksum.
_HEAD, _SUM = struct.Struct("<4Q"), struct.Struct("<I")


class KeptBows:
    """A file of bows.

    Parameters
    ----------
    path : str or path
        The file; it is made where there is none.
    study : str
        All that the bows depend on.

    Raises
    ------
    InputError
        The file is of something else, or cannot be written.
    """

    def __init__(self, path: str | os.PathLike[str], study: str) -> None:
        self.path = os.fspath(path)
        digest = hashlib.sha256(f"{bowfem.__version__}\n{study}".encode()).hexdigest()
        self.title = MAGIC + digest.encode() + b"\n"
        self.records: list[tuple[int, Array, list[str]]] = []
        try:
            self._open()
        except OSError as error:
            raise write_refusal("keep", self.path, error) from None

    def _open(self) -> None:
        with open(self.path, "ab+") as file:
            file.seek(0)
            content = file.read()
            if content[: len(self.title)] != self.title[: len(content)]:
                allowed = "a new file, or one that this same study of the same version has begun"
                raise InputError("keep", ascii(self.path), allowed)
            whole = self._read(content)
            file.truncate(whole)
            if not whole:
                file.write(self.title)

    def _read(self, content: bytes) -> int:
        """Read all whole records; return where they end."""
        at = len(self.title)
        if len(content) < at:
            return 0
        while len(content) >= at + _HEAD.size:
            first, count, columns, words = _HEAD.unpack_from(content, at)
            end = at + _HEAD.size + 8 * count * columns + words
            if len(content) < end + _SUM.size or words > len(content):
                break
            if _SUM.unpack_from(content, end)[0] != zlib.crc32(content[at:end]):
                break
            begin = at + _HEAD.size
            values = np.frombuffer(content, "<f8", count * columns, begin)
            reasons = json.loads(content[end - words : end])
            self.records.append((first, values.reshape(columns, count).T, reasons))
            at = end + _SUM.size
        return at

    def add(self, first: int, figures: Array, reasons: Sequence[str]) -> None:
        """Add a batch: its first bow's number, figures (bows, columns) and reasons.

        Raises
        ------
        InputError
            It cannot be written; what was there before stays.
        """
        words = json.dumps(list(reasons)).encode()
        head = _HEAD.pack(first, *figures.shape, len(words))
        record = head + np.asarray(figures.T, "<f8").tobytes() + words
        try:
            with open(self.path, "ab") as file:
                file.write(record + _SUM.pack(zlib.crc32(record)))
        except OSError as error:
            raise write_refusal("keep", self.path, error) from None
