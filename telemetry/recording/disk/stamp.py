"""What tells a file from every other, and from itself before it was written to."""

from __future__ import annotations

import os
import stat
from pathlib import Path

Stamp = tuple[int, int, int, int]
"""Size, time of change (ns), number on its disk, and when the system last noted a change of it (ns).

Whoever packs files for others can choose the first two, but not the last two.
"""


def stamp_of(info: os.stat_result) -> Stamp:
    """The stamp of what ``os.stat`` says."""
    return info.st_size, info.st_mtime_ns, info.st_ino, info.st_ctime_ns


def plain_stamp(path: Path) -> Stamp | None:
    """The stamp of a plain file; None where it is a pipe, device or folder, which must not be waited for. Raises OSError."""
    info = path.stat()
    return stamp_of(info) if stat.S_ISREG(info.st_mode) else None
