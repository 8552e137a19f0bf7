"""Files with holes: some claim terabytes, and hold nothing. Where the system does not tell, a file is all data."""

from __future__ import annotations

import errno
import os
from typing import Final

_BLOCK: Final = 512
_PACKED: Final = 16
"""A file system that packs what it keeps, or has not kept it yet, takes less room; nowhere that much less."""


def data_from(fd: int, at: int) -> int:
    """Where at or behind byte ``at`` the file holds data again; its end where it holds none."""
    seek_data = getattr(os, "SEEK_DATA", None)
    if seek_data is None:
        return at
    try:
        return max(at, os.lseek(fd, at, seek_data))
    except OSError as error:
        return max(at, os.fstat(fd).st_size) if error.errno == errno.ENXIO else at


def held_bytes(info: os.stat_result) -> int:
    """Bytes that the file takes on the disk, where that is far less than its length; else its length."""
    kept = getattr(info, "st_blocks", None)
    if kept is None or kept * _BLOCK * _PACKED >= info.st_size:
        return info.st_size
    return int(kept) * _BLOCK
