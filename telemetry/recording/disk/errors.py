"""What the system says about a file, in one sentence with what to do."""

from __future__ import annotations

import errno
import os
from pathlib import Path

from telemetry.errors import NotThereError, StorageError

_FULL = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}
_SILENT = {
    getattr(errno, name)
    for name in ("EIO", "ENXIO", "ENODEV", "ETIMEDOUT", "ESTALE", "EHOSTDOWN", "EHOSTUNREACH", "ENETDOWN", "ENETUNREACH",
                 "ENOTCONN", "ECONNRESET", "ECONNABORTED", "EREMOTEIO", "ENOMEDIUM")
    if hasattr(errno, name)
}  # fmt: skip
"""What a drive, or the way to it, says when it is gone; anything else is an answer."""


def storage_error(error: OSError, path: Path, *, reading: bool = False, capturing: bool = False) -> StorageError:
    """One sentence for what the system says about a file. ``capturing``: what came before it is safe in a journal."""
    kept = "; what was captured so far is kept" if capturing else ""
    if error.errno in _FULL:
        return StorageError(
            f"the disk is full{kept}",
            where=str(path),
            todo="Make room on this disk and start again",
        )
    if error.errno in {errno.EACCES, errno.EPERM}:
        return StorageError(
            ("no permission to read this file" if reading else "no permission to write here") + kept,
            where=str(path),
            todo="Choose another folder or change its permissions",
        )
    if error.errno == errno.EROFS:
        return StorageError(f"this disk can only be read{kept}", where=str(path), todo="Choose another folder")
    if error.errno == errno.ENAMETOOLONG:
        return StorageError("this name is too long for the disk", where=str(path), todo="Choose a shorter one")
    words = (error.strerror or str(error)).lower()
    if error.errno == errno.EISDIR:
        return StorageError("this is a folder", where=str(path), todo="Give a file")
    if error.errno == errno.EINVAL and not reading and not capturing:
        told_by_us = words != os.strerror(errno.EINVAL).lower()
        what = words if told_by_us else "this cannot be a file's name here"
        return StorageError(what, where=str(path), todo="Choose another name")
    if error.errno in {errno.ENOENT, errno.ENOTDIR}:
        return NotThereError("there is no such file or folder", where=str(path), todo="Check the name")
    if error.errno == errno.EEXIST:
        return StorageError("this file is there already", where=str(path), todo="Choose another name")
    if error.errno in _SILENT:
        todo = "Check the drive or its connection"
        return StorageError(f"the disk does not answer ({words}){kept}", where=str(path), todo=todo)
    if error.errno in {errno.EMFILE, errno.ENFILE}:
        return StorageError("too many files are open", where=str(path), todo="Close other programs, or raise 'ulimit -n'")
    what = "this cannot be read" if reading else "this cannot be written"
    return StorageError(f"{what} ({words}){kept}", where=str(path), todo="Look at what is there, or choose another name")
