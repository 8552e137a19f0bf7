"""A file written beside its name and given the name in one step, so that it is the old or the new one, never half of it."""

from __future__ import annotations

import contextlib
import os
import stat
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from telemetry.beside import is_ours, open_plain, part_beside
from telemetry.errors import StorageError
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.lock import is_file_of, recording_lock, try_lock
from telemetry.recording.disk.storage import Disk, ImageFile

STALE_S: Final = 3600.0
"""Younger than this, what lies beside may be in the making on a drive that knows no locks."""


@contextmanager
def replacing(disk: Disk, path: Path, *, new: bool = False) -> Iterator[ImageFile]:
    """What is written to the image becomes ``path`` when the block ends well; else nothing is left of it.

    ``new``: nothing may be there yet, and what comes to be there meanwhile is not overwritten. Raises StorageError.
    """
    part = part_beside(path)
    try:
        image = disk.open_image(part)
    except OSError as error:
        raise storage_error(error, path) from error
    try:
        yield image
        image.sync()
        image.close()
        if new:
            disk.place(part, path)
        else:
            disk.replace(part, path)
        disk.sync_folder(path.parent)
    except FileExistsError as error:
        _abandon(disk, image, part)
        raise _taken(path) from error
    except OSError as error:
        _abandon(disk, image, part)
        raise storage_error(error, path) from error
    except BaseException:
        _abandon(disk, image, part)
        raise


@contextmanager
def free_name(folder: Path, stem: str) -> Iterator[Path]:
    """``stem``.h5 in ``folder``, or that with a number where it is taken; nobody else is given it until the block ends.

    Other programs may be about to keep a run of the same second here. Raises StorageError.
    """
    with contextlib.ExitStack() as held:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            number = 1
            while True:
                target = folder / (f"{stem}.h5" if number == 1 else f"{stem} ({number}).h5")
                number += 1
                if os.path.lexists(target) or not held.enter_context(recording_lock(target, wait_s=0.0)):
                    continue
                if not os.path.lexists(target):
                    break
        except OSError as error:
            raise storage_error(error, folder) from error
        yield target


def sweep(folder: Path, disk: Disk) -> None:
    """Remove what was half written when something broke off: only what bears our mark, is old, and is held by nobody."""
    with contextlib.suppress(OSError), os.scandir(folder) as listing:
        for item in listing:
            if is_ours(item.name):
                with contextlib.suppress(OSError):
                    _sweep_one(folder / item.name, disk)


def _sweep_one(part: Path, disk: Disk) -> None:
    info = part.lstat()
    if not stat.S_ISREG(info.st_mode) or time.time() - info.st_mtime <= STALE_S:
        return
    fd = open_plain(part)
    try:
        ours = try_lock(fd) and is_file_of(part, fd)
        if ours and os.name != "nt":
            disk.remove(part)
    finally:
        os.close(fd)
    if ours and os.name == "nt":
        disk.remove(part)  # Windows removes no open file


def _taken(path: Path) -> StorageError:
    return StorageError("this file is there already", where=str(path), todo="Choose another name")


def _abandon(disk: Disk, image: ImageFile, part: Path) -> None:
    with contextlib.suppress(OSError):
        image.close()
    with contextlib.suppress(OSError):
        disk.remove(part)
