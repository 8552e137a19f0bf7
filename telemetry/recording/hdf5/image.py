"""Lets HDF5 write into a file of ours and never meet a full disk.

HDF5 cannot be told of a failed write without losing its balance (its close then fails, or takes the process with it). So it
writes through this object, which keeps the first error to itself, swallows what follows, and tells us at the end.
"""

from __future__ import annotations

from telemetry.recording.disk.storage import ImageFile


class SafeImage:
    """The file object that h5py gets. ``error``: the first OSError, None while all is well."""

    def __init__(self, file: ImageFile, size: int = 0) -> None:
        self._file = file
        self._at = 0
        self._size = size
        self.error: OSError | None = None

    def check(self) -> None:
        """Raise the first error, if there was one."""
        if self.error is not None:
            raise self.error

    def seek(self, offset: int, whence: int = 0) -> int:
        """As ``io``."""
        self._at = offset + (0, self._at, self._size)[whence]
        return self._at

    def tell(self) -> int:
        """As ``io``."""
        return self._at

    def readinto(self, buffer: bytearray | memoryview) -> int:
        """As ``io``; zeros where nothing can be read."""
        got = 0
        if self.error is None:
            try:
                self._file.seek(self._at)
                got = self._file.readinto(buffer)
            except OSError as error:
                self.error = error
        if self.error is not None:
            got = len(buffer)
            buffer[:] = bytes(got)
        self._at += got
        return got

    def read(self, size: int = -1) -> bytes:
        """As ``io``."""
        out = bytearray(self._size - self._at if size < 0 else size)
        return bytes(out[: self.readinto(out)])

    def write(self, data: bytes | memoryview) -> int:
        """As ``io``; always says that all was written."""
        length = len(data)
        if self.error is None:
            try:
                self._file.seek(self._at)
                self._file.write(data)
            except OSError as error:
                self.error = error
        self._at += length
        self._size = max(self._size, self._at)
        return length

    def truncate(self, size: int | None = None) -> int:
        """As ``io``."""
        self._size = self._at if size is None else size
        if self.error is None:
            try:
                self._file.truncate(self._size)
            except OSError as error:
                self.error = error
        return self._size

    def flush(self) -> None:
        """As ``io``; the caller syncs at the end."""
