"""A file written beside its name and given the name in one step, so that it is the old or the new one, never half of it."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.storage import Disk, ImageFile

PART: Final = ".part"


@contextmanager
def replacing(disk: Disk, path: Path) -> Iterator[ImageFile]:
    """What is written to the image becomes ``path`` when the block ends well; else nothing is left of it.

    Raises StorageError.
    """
    part = path.with_name(path.name + PART)
    try:
        image = disk.open_image(part)
    except OSError as error:
        raise storage_error(error, part) from error
    try:
        yield image
        image.sync()
        image.close()
        disk.replace(part, path)
        disk.sync_folder(path.parent)
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
    try:
        target, part = _reserve(folder, stem)
    except OSError as error:
        raise storage_error(error, folder) from error
    try:
        yield target
    finally:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)


def _reserve(folder: Path, stem: str) -> tuple[Path, Path]:
    """The file it will be written to, made first: that can succeed for one of two only."""
    folder.mkdir(parents=True, exist_ok=True)
    number = 1
    while True:
        target = folder / (f"{stem}.h5" if number == 1 else f"{stem} ({number}).h5")
        part = target.with_name(target.name + PART)
        number += 1
        try:
            part.open("xb").close()
        except FileExistsError:
            continue
        if not target.exists():
            return target, part
        part.unlink(missing_ok=True)


def _abandon(disk: Disk, image: ImageFile, part: Path) -> None:
    with contextlib.suppress(OSError):
        image.close()
    with contextlib.suppress(OSError):
        disk.remove(part)
