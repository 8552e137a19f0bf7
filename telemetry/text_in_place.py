"""A file written beside its name and given the name in one step: the old or the new one, never half of it."""

from __future__ import annotations

import errno
import os
import stat
from contextlib import suppress
from pathlib import Path

from telemetry.beside import create, give_new_name, part_beside, refuse_recording

_DEVICES = Path("/dev")


def write_text(path: Path, text: str, *, new: bool = False) -> None:
    """In UTF-8, each line's end one character. See ``write_bytes``."""
    write_bytes(path, text.encode(), new=new)


def write_bytes(path: Path, data: bytes, *, new: bool = False) -> None:
    """Nothing is left beside where that fails. Raises OSError with ``path``.

    ``new``: FileExistsError where there is a file. A recording is never written over: a word too few on a command line, and
    its name stands where an output's should. What is no plain file is refused, since a pipe in a folder of others would be
    waited for; but what the user names in /dev (``/dev/stdout``, a shell's ``>(...)``) is written into, not replaced.
    """
    try:
        if is_device(path):
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


def is_device(path: Path) -> bool:
    """Whether ``path`` is written into: named in /dev. Raises OSError for any other that is no plain file and no folder."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return False
    if stat.S_ISREG(mode) or stat.S_ISDIR(mode):
        return False
    if _DEVICES not in path.absolute().parents:
        raise OSError(errno.EINVAL, "this is not a plain file (a pipe or a device)")
    return True
