"""A file written beside its name and given the name in one step: the old or the new one, never half of it."""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

from telemetry.beside import create, give_new_name, part_beside, refuse_recording


def write_text(path: Path, text: str, *, new: bool = False) -> None:
    """In UTF-8, each line's end one character. See ``write_bytes``."""
    write_bytes(path, text.encode(), new=new)


def write_bytes(path: Path, data: bytes, *, new: bool = False) -> None:
    """Nothing is left beside where that fails. Raises OSError with ``path``.

    ``new``: FileExistsError where there is a file. A recording is never written over: a word too few on a command line, and
    its name stands where an output's should. What is no plain file (a pipe, ``/dev/stdout``) is written into, not replaced.
    """
    try:
        if _is_open_ended(path):
            with path.open("wb") as file:
                file.write(data)
            return
        refuse_recording(path)
        _in_place(path, data, new)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error


def _in_place(path: Path, data: bytes, new: bool) -> None:
    part = part_beside(path)
    fd = create(part)
    try:
        with os.fdopen(fd, "wb") as file:
            file.write(data)
        if new:
            give_new_name(part, path)
        else:
            part.replace(path)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


def _is_open_ended(path: Path) -> bool:
    try:
        mode = path.stat().st_mode
    except OSError:
        return False
    return not stat.S_ISREG(mode) and not stat.S_ISDIR(mode)
