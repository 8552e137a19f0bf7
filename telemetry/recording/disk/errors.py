"""What the system says about a file, in one sentence with what to do."""

from __future__ import annotations

import errno
from pathlib import Path

from telemetry.errors import StorageError


def storage_error(error: OSError, path: Path, *, reading: bool = False) -> StorageError:
    """One sentence for what the system says about a file."""
    if error.errno in {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}:
        return StorageError(
            "the disk is full; what was captured so far is kept",
            where=str(path),
            todo="Make room on this disk and start again",
        )
    if error.errno in {errno.EACCES, errno.EPERM}:
        return StorageError(
            "no permission to " + ("read this file" if reading else "write here"),
            where=str(path),
            todo="Choose another folder or change its permissions",
        )
    if error.errno == errno.EROFS:
        return StorageError("this disk can only be read", where=str(path), todo="Choose another folder")
    if error.errno == errno.ENAMETOOLONG:
        return StorageError("this name is too long for the disk", where=str(path), todo="Choose a shorter one")
    if error.errno in {errno.EISDIR, errno.EINVAL}:
        return StorageError("this cannot be a file's name here", where=str(path), todo="Choose another name")
    if error.errno in {errno.ENOENT, errno.ENOTDIR}:
        return StorageError("there is no such file or folder", where=str(path), todo="Check the name")
    return StorageError(
        f"the disk does not answer ({(error.strerror or str(error)).lower()})",
        where=str(path),
        todo="Check the drive or its connection; what was written before is kept",
    )
