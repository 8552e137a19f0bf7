"""Opens a recording's file, by its bytes and by HDF5, and says why one does not open."""

from __future__ import annotations

import os
import zlib
from functools import cache
from lzma import LZMAError
from pathlib import Path
from typing import Final

from h5py import h5f, h5p

from telemetry.errors import RecordingError
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.hdf5 import expendable
from telemetry.recording.hdf5.heap import WINDOW, FileBytes, check_heaps

BROKEN: Final = (
    OSError,
    RuntimeError,
    LookupError,
    ValueError,
    TypeError,
    EOFError,
    StopIteration,
    LZMAError,
    zlib.error,
    MemoryError,
)
"""What damage raises, in HDF5 and here."""
ANEW: Final = "Take a copy from a backup, or ingest the robot's text again"
_OTHERWISE: Final = "values don't match"
"""What HDF5 says where a file is open already in this process, in another way."""
_EMPTY: Final = "Name another; if it was a recording, take a copy from a backup or ingest the robot's text again"
_MAGIC: Final = b"\x89HDF\r\n\x1a\n"


def first_bytes(path: Path) -> tuple[bytes, int]:
    """The file's bytes as far as they are looked through, and its size; their heaps are sound. Raises as ``opened``."""
    try:
        # Those of a large file were looked through by the process that read it first.
        with path.open("rb", buffering=0) as plain:
            size = os.fstat(plain.fileno()).st_size
            begin = plain.read(min(WINDOW, size))
            if len(begin) < WINDOW or expendable.in_expendable:
                check_heaps(begin if len(begin) < WINDOW else FileBytes(plain))
            return begin, size
    except BROKEN as error:
        raise _why_not(path, error) from error


def opened(path: Path) -> h5f.FileID:
    """The file, opened by HDF5. Raises RecordingError or StorageError, which says why it cannot be."""
    try:
        return _opened(path)
    except BROKEN as error:
        raise _why_not(path, error) from error


def _opened(path: Path) -> h5f.FileID:
    try:
        return h5f.open(os.fsencode(path), h5f.ACC_RDONLY, _without_lock())
    except OSError as error:
        if _OTHERWISE not in str(error):
            raise
        # Another library of this program has it open, with locks: HDF5 wants all to open one file in one way.
        return h5f.open(os.fsencode(path), h5f.ACC_RDONLY, h5p.create(h5p.FILE_ACCESS))


@cache
def _without_lock() -> h5p.PropFAID:
    """A finished recording never changes, so no lock is needed; network drives often have none."""
    access = h5p.create(h5p.FILE_ACCESS)
    access.set_file_locking(False, True)
    return access


_SUPERBLOCK_BYTES: Final = 44


def _size_meant(head: bytes) -> int:
    """How many bytes the file was to have, as superblock 2 or 3 says (HDF5 file format specification 3.0, II.A); else 0."""
    if len(head) < _SUPERBLOCK_BYTES or head[8] not in {2, 3}:
        return 0
    wide = head[9]
    return int.from_bytes(head[12 + 2 * wide : 12 + 3 * wide], "little")


def _why_not(path: Path, error: Exception) -> RecordingError | Exception:
    """Why a file does not open, in one sentence."""
    try:
        with path.open("rb") as file:
            head = file.read(_SUPERBLOCK_BYTES)
            size = file.seek(0, 2)
    except OSError as system:
        return storage_error(system, path, reading=True)
    if not size:
        return RecordingError("the file is empty, so this is not a recording", where=str(path), todo=_EMPTY)
    if head[:8] != _MAGIC:
        return RecordingError(
            "this is not a recording (not an HDF5 file)", where=str(path), todo="For a robot's text use: sidelong ingest"
        )
    words = str(error)
    if "truncated" in words or size < _size_meant(head):
        return RecordingError(
            f"the recording is cut short ({size} bytes are there)",
            where=str(path),
            todo="Copy it again from where it was made",
        )
    return RecordingError("the recording is damaged and cannot be opened", where=str(path), todo=ANEW)
