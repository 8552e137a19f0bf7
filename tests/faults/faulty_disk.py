"""A file layer that dies, or is full, at the n-th thing asked of it. Everything before it has really happened."""

from __future__ import annotations

import errno
import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from telemetry.recording.disk.storage import AppendFile, ImageFile, SystemDisk


class FaultyDisk(SystemDisk):
    """``at``: number of the step at which ``fault`` is called (from 0). Of a write half is done before that.

    ``steps`` counts what was asked so far. After each whole append to a journal ``told`` gets the bytes of the file.
    """

    def __init__(self, at: int, fault: Callable[[str], None], told: Callable[[int], None] = lambda size: None) -> None:
        self.at, self.fault, self.told = at, fault, told
        self.steps = 0
        self._lock = threading.Lock()

    def step(self, what: str, half: Callable[[], Any] = lambda: None) -> None:
        with self._lock:
            here = self.steps
            self.steps += 1
            if here == self.at:
                half()
        if here >= self.at:
            self.fault(what)

    def create(self, path: Path) -> AppendFile:
        self.step("create")
        return _Append(self, super().create(path))

    def open_image(self, path: Path) -> ImageFile:
        self.step("open image")
        return _Image(self, super().open_image(path))

    def replace(self, source: Path, target: Path) -> None:
        self.step("replace")
        super().replace(source, target)
        self.step("after replace")

    def remove(self, path: Path) -> None:
        self.step("remove")
        super().remove(path)

    def sync_folder(self, folder: Path) -> None:
        self.step("sync folder")
        super().sync_folder(folder)


class _Append:
    def __init__(self, disk: FaultyDisk, file: AppendFile) -> None:
        self._disk, self._file = disk, file
        self._size = 0
        self.fileno, self.close, self.cut, self.read_at = file.fileno, file.close, file.cut, file.read_at

    def write(self, data: bytes) -> None:
        self._disk.step("append", lambda: self._file.write(data[: len(data) // 2]))
        self._file.write(data)
        self._size += len(data)
        self._disk.told(self._size)

    def sync(self) -> None:
        self._disk.step("sync")
        self._file.sync()


class _Image:
    def __init__(self, disk: FaultyDisk, file: ImageFile) -> None:
        self._disk, self._file = disk, file
        self.seek, self.tell, self.readinto = file.seek, file.tell, file.readinto
        self.flush, self.close = file.flush, file.close

    def write(self, data: bytes | memoryview) -> int:
        view = memoryview(data)
        self._disk.step("write image", lambda: self._file.write(view[: len(view) // 2]))
        return self._file.write(data)

    def truncate(self, size: int | None = None) -> int:
        self._disk.step("truncate image")
        return self._file.truncate(size)

    def sync(self) -> None:
        self._disk.step("sync image")
        self._file.sync()


def dies(what: str) -> None:
    """As kill -9 does: nothing is tidied up, nothing is flushed."""
    os._exit(77)


def is_full(what: str) -> None:
    """No more room: whatever wants some fails; what gives some back, or only names things, works."""
    if what in {"create", "append", "open image", "write image", "truncate image", "sync", "sync image"}:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
