"""Writing results: a file is there whole or not at all."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path

from bowfem.errors import InputError


def write_refusal(
    key: str, path: str | os.PathLike[str], error: OSError | ValueError
) -> InputError:
    """Return the error that says why a place cannot be written to."""
    reason = getattr(error, "strerror", None) or str(error)
    return InputError(key, ascii(os.fspath(path)), f"a place to write to ({reason})")


def check_folder(path: str | os.PathLike[str], key: str) -> None:
    """Refuse a folder that cannot be made, before any work is done for it.

    Raises
    ------
    InputError
        The path, or one above it, is a file; or what is there cannot be written to.
    """
    try:
        there = Path(path).resolve()
        while not there.exists():
            there = there.parent
        if not there.is_dir():
            raise NotADirectoryError(0, f"{there.name} is no folder")
        if not os.access(there, os.W_OK | os.X_OK):
            raise PermissionError(0, f"no permission to write in {there.name or there}")
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        raise write_refusal(key, path, error) from None


def check_file(path: str | os.PathLike[str], key: str) -> None:
    """Refuse a file that cannot be written, before any work is done for it.

    Raises
    ------
    InputError
        The path is a folder, or its folder is missing or cannot be written to.
    """
    try:
        if Path(path).is_dir():
            raise IsADirectoryError(0, "it is a folder")
        if not Path(path).resolve().parent.is_dir():
            raise FileNotFoundError(0, "its folder is missing")
    except (OSError, ValueError) as error:
        raise write_refusal(key, path, error) from None
    check_folder(Path(path).resolve().parent, key)


def write_whole(path: str | os.PathLike[str], data: bytes, key: str) -> None:
    """Write a file by way of a draft beside it, so that no half of it is ever seen.

    Parameters
    ----------
    path : str or path
        Where to; its folder exists.
    data : bytes
        The whole content.
    key : str
        Name of the argument, for the message.

    Raises
    ------
    InputError
        The place cannot be written to; what was there before is untouched.
    """
    try:
        target = Path(path).resolve()
        if target.exists() and not target.is_file():  # a pipe or a device is written to, not moved
            target.write_bytes(data)
            return
        handle, draft = tempfile.mkstemp(
            dir=target.parent, prefix=f".{target.name}.", suffix=".part"
        )
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(draft, _mode(target))
            os.replace(draft, target)
        except BaseException:
            with suppress(OSError):
                os.unlink(draft)
            raise
    except (OSError, ValueError) as error:
        raise write_refusal(key, path, error) from None


def _mode(target: Path) -> int:
    """Return the permissions of a file: those it has, or those of a new one."""
    with suppress(OSError):
        return target.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def make_folder(path: str | os.PathLike[str], key: str) -> Path:
    """Make a folder and those above it, where missing.

    Raises
    ------
    InputError
        It cannot be made.
    """
    try:
        folder = Path(path)
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise write_refusal(key, path, error) from None
    return folder
