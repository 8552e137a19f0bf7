"""The few things capture asks of a disk, in one place, so that tests can let each of them fail."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Protocol

from telemetry.beside import create, give_new_name
from telemetry.recording.disk.lock import try_lock


class AppendFile(Protocol):
    """A file that is only ever written at its end (or cut)."""

    def write(self, data: bytes) -> None:
        """Write all of ``data`` at the end, past every buffer of the program. Raises OSError."""

    def sync(self) -> None:
        """Return when what was written would survive a power cut, as far as the system tells. Raises OSError."""

    def cut(self, length: int) -> None:
        """Make the file ``length`` bytes long. Raises OSError."""

    def read_at(self, place: int, size: int) -> bytes:
        """Up to ``size`` bytes from ``place`` on. Raises OSError."""

    def fileno(self) -> int:
        """The descriptor, for locks."""

    def close(self) -> None:
        """May be called twice."""


class Disk(Protocol):
    """What capture and the making of a recording ask of the file system."""

    def create(self, path: Path) -> AppendFile:
        """A new file; FileExistsError where there is one."""

    def open_image(self, path: Path) -> ImageFile:
        """A new file for random access, its lock taken; FileExistsError where there is one."""

    def replace(self, source: Path, target: Path) -> None:
        """Give ``source`` the name ``target`` in one step."""

    def place(self, source: Path, target: Path) -> None:
        """The same, but FileExistsError where ``target`` is there."""

    def remove(self, path: Path) -> None:
        """Delete; no error where it is not there."""

    def sync_folder(self, folder: Path) -> None:
        """Make names in ``folder`` survive a power cut, where the system can."""

    def free_bytes(self, folder: Path) -> int:
        """Room left on the disk that holds ``folder``."""


class ImageFile(Protocol):
    """A file HDF5 builds its image in. The names are those h5py asks a file object for."""

    def seek(self, offset: int, whence: int = 0) -> int:
        """As ``io``."""

    def tell(self) -> int:
        """As ``io``."""

    def readinto(self, buffer: bytearray | memoryview) -> int:
        """As ``io``."""

    def write(self, data: bytes | memoryview) -> int:
        """As ``io``."""

    def truncate(self, size: int | None = None) -> int:
        """As ``io``."""

    def flush(self) -> None:
        """As ``io``."""

    def sync(self) -> None:
        """As in AppendFile."""

    def close(self) -> None:
        """As ``io``."""


class _Append:
    def __init__(self, fd: int) -> None:
        self._fd = fd

    def write(self, data: bytes) -> None:
        view = memoryview(data)
        while view:
            view = view[os.write(self._fd, view) :]

    def sync(self) -> None:
        _sync(self._fd)

    def cut(self, length: int) -> None:
        os.ftruncate(self._fd, length)
        os.lseek(self._fd, length, os.SEEK_SET)

    def read_at(self, place: int, size: int) -> bytes:
        os.lseek(self._fd, place, os.SEEK_SET)
        return os.read(self._fd, size)

    def fileno(self) -> int:
        return self._fd

    def close(self) -> None:
        fd, self._fd = self._fd, -1
        if fd >= 0:
            os.close(fd)


class _Image:
    def __init__(self, path: Path) -> None:
        self._file = os.fdopen(create(path), "w+b", buffering=0)
        try_lock(self._file.fileno())
        self.seek, self.tell, self.truncate = self._file.seek, self._file.tell, self._file.truncate
        self.flush, self.readinto, self.close = self._file.flush, self._file.readinto, self._file.close

    def write(self, data: bytes | memoryview) -> int:
        view = memoryview(data)
        length = len(view)
        while view:
            view = view[self._file.write(view) :]
        return length

    def sync(self) -> None:
        _sync(self._file.fileno())


class SystemDisk:
    """The real file system."""

    def create(self, path: Path) -> AppendFile:
        """See Disk."""
        return _Append(create(path))

    def open_image(self, path: Path) -> ImageFile:
        """See Disk."""
        return _Image(path)

    def replace(self, source: Path, target: Path) -> None:
        """See Disk."""
        source.replace(target)

    def place(self, source: Path, target: Path) -> None:
        """See Disk."""
        give_new_name(source, target)

    def remove(self, path: Path) -> None:
        """See Disk."""
        path.unlink(missing_ok=True)

    def sync_folder(self, folder: Path) -> None:
        """See Disk. Windows cannot open folders; there the file system's own journal has to do."""
        if os.name == "nt":
            return
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        except OSError:
            return
        finally:
            os.close(fd)

    def free_bytes(self, folder: Path) -> int:
        """See Disk."""
        return shutil.disk_usage(folder).free


def _sync(fd: int) -> None:
    """``fsync``; on macOS that leaves data in the drive's own cache, so the stronger call is tried there first."""
    try:
        import fcntl

        fcntl.fcntl(fd, fcntl.F_FULLFSYNC)  # type: ignore[attr-defined, unused-ignore]
    except (ImportError, AttributeError, OSError):
        os.fsync(fd)
