"""Who writes a journal holds a lock on it, given back by the system itself however the process ends.

The lock lies on the journal file, so nothing is left over that would have to be judged by age or process number. On Windows
it covers one byte far behind the end, because there a locked region cannot be read by others. Where a drive knows no locks
(some network drives), a writer is one that has touched the journal lately; ``Capture`` does so every second.
"""

from __future__ import annotations

import hashlib
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from telemetry.beside import lock_beside, open_plain

_FAR: Final = 1 << 60
FRESH_S: Final = 10.0


def _touched_lately(fd: int) -> bool:
    return abs(time.time() - os.fstat(fd).st_mtime) < FRESH_S


if sys.platform == "win32":
    import msvcrt

    def try_lock(fd: int) -> bool:
        """Take the lock of the open file ``fd`` if nobody has it. Never waits."""
        place = os.lseek(fd, 0, os.SEEK_CUR)
        try:
            os.lseek(fd, _FAR, os.SEEK_SET)
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        finally:
            os.lseek(fd, place, os.SEEK_SET)
        return True

    def unlock(fd: int) -> None:
        """Give the lock back."""
        place = os.lseek(fd, 0, os.SEEK_CUR)
        try:
            os.lseek(fd, _FAR, os.SEEK_SET)
            msvcrt.locking(fd, msvcrt.LK_UNLCK, 1)
        except OSError:
            pass
        finally:
            os.lseek(fd, place, os.SEEK_SET)

    def is_locked(fd: int) -> bool:
        """Whether somebody, possibly this process through another opening, holds the lock."""
        if not try_lock(fd):
            return True
        unlock(fd)
        return False

else:
    import fcntl

    def try_lock(fd: int) -> bool:
        """Take the lock of the open file ``fd`` if nobody has it. Never waits.

        A file system without locks counts as nobody has it: ask ``is_locked`` before taking over what may be another's.
        """
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            return True
        return True

    def unlock(fd: int) -> None:
        """Give the lock back."""
        try:
            fcntl.flock(fd, fcntl.LOCK_UN)
        except OSError:
            return

    def is_locked(fd: int) -> bool:
        """Whether somebody, possibly this process through another opening, holds the lock. Takes nothing from a writer."""
        try:
            fcntl.flock(fd, fcntl.LOCK_SH | fcntl.LOCK_NB)
        except BlockingIOError:
            return True
        except OSError:
            return _touched_lately(fd)
        fcntl.flock(fd, fcntl.LOCK_UN)
        return False


WAIT_S: Final = 20.0
"""Longer than a recording of hours takes to be written anew."""


@contextmanager
def recording_lock(path: Path, *, wait_s: float = WAIT_S) -> Iterator[bool]:
    """While the block lasts, no other program of ours gives ``path`` its name or changes it; False: another is about to.

    A recording is changed by giving its name to a changed copy, so the lock lies on a file beside it. Raises OSError where
    that cannot be made.
    """
    name = lock_beside(path, hashlib.sha256(os.fsencode(path.name.casefold())).hexdigest()[:16])
    fd = _locked(name, time.monotonic() + wait_s)
    try:
        yield fd is not None
    finally:
        if fd is not None:
            _let_go(fd, name)


def _locked(name: Path, until: float) -> int | None:
    while True:
        try:
            fd = open_plain(name, make=True)
        except PermissionError:
            if os.name != "nt":
                raise
            fd = -1  # Windows, while its last holder removes it
        if fd >= 0:
            if try_lock(fd) and is_file_of(name, fd):
                return fd
            os.close(fd)
        if time.monotonic() >= until:
            return None
        time.sleep(0.005)


def _let_go(fd: int, name: Path) -> None:
    """Removed while it is held, so that whoever waits for it finds that it is gone and makes another."""
    if os.name != "nt":
        with suppress(OSError):
            name.unlink()
    os.close(fd)
    if os.name == "nt":
        with suppress(OSError):
            name.unlink()


def is_file_of(path: Path, fd: int) -> bool:
    """Whether the open file ``fd`` is the one that has this name."""
    try:
        return os.path.samestat(path.stat(), os.fstat(fd))
    except FileNotFoundError:
        return False
