"""The journal: everything that arrived, in order, appended and never changed; the one truth of a capture.

File: a header (magic, version, a sync word of four random bytes, Unix ns of creation, CRC-32), then records. A record:
sync word, kind, running number, length, arrival (Unix ns), payload, CRC-32 of all that. The sync word is another one in
every file, so neither what a robot sends nor old blocks of the disk can look like a record; after damage the reader
searches for the next one, and the running number tells how many are missing. All numbers little-endian.
"""

from __future__ import annotations

import contextlib
import os
import struct
import threading
import time
import zlib
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path
from typing import Final

from telemetry.errors import StorageError
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.lock import is_file_of, try_lock
from telemetry.recording.disk.storage import AppendFile, Disk, SystemDisk
from telemetry.recording.document import utf8
from telemetry.recording.meta import Meta

SUFFIX: Final = ".journal"
MAGIC: Final = b"\x89SLJ\r\n\x1a\n"
VERSION: Final = 1
PIECE: Final = 4096
"""Longest payload of bytes in one record: what one damaged byte can cost."""

HEADER: Final = struct.Struct("<8sI4sqQI")
RECORD: Final = struct.Struct("<4sB3xIIq")
CRC: Final = struct.Struct("<I")
LONGEST: Final = 1 << 24


class RecordKind(IntEnum):
    """What a record holds. DAMAGE is never written: the reader puts it where records are missing."""

    META = 1
    BYTES = 2
    GAP = 3
    RESUMED = 4
    MARK = 5
    END = 6
    LINK = 7
    DAMAGE = 255


@dataclass(frozen=True, slots=True)
class Record:
    """One record. ``payload``: the bytes of the stream, JSON (META, LINK) or text (GAP, RESUMED, MARK, END, DAMAGE)."""

    kind: RecordKind
    arrival_ns: int
    payload: bytes

    @property
    def text(self) -> str:
        """The payload as text."""
        return self.payload.decode("utf-8", "replace")


def journal_path(recording: Path) -> Path:
    """The journal that belongs to a recording's path."""
    return recording if recording.name.endswith(SUFFIX) else recording.with_name(recording.name + SUFFIX)


def recording_path(journal: Path) -> Path:
    """The recording that a journal will become."""
    return journal.with_name(journal.name.removesuffix(SUFFIX))


class JournalWriter:
    """Appends to a new journal and holds its lock. Raises StorageError; what was written before stays whole."""

    def __init__(self, path: Path, meta: Meta, *, made_ns: int, disk: Disk | None = None) -> None:
        self.path = path
        self._disk = disk or SystemDisk()
        self._number = 0
        self._sync_word = os.urandom(4)
        self._swapping = threading.Lock()
        self._file = _own(self._disk, path)
        self._length = 0
        head = HEADER.pack(MAGIC, VERSION, self._sync_word, made_ns, 0, 0)[:-4]
        self._append(head + CRC.pack(zlib.crc32(head)) + self._record(RecordKind.META, made_ns, meta.to_json().encode()))
        self.sync()
        self._disk.sync_folder(path.parent)

    @property
    def length(self) -> int:
        """Bytes in the file."""
        return self._length

    def keep_name(self) -> bool:
        """Put the journal back where somebody has removed or renamed it, or its folder; whether that was needed.

        Elsewhere than on Windows that can happen to a file that is open; what is written to it would vanish at its close.
        """
        try:
            if is_file_of(self.path, self._file.fileno()):
                return False
        except OSError:
            return False  # a drive that cannot say so just now: the next write will tell
        with self._swapping:
            lost = self._file
            try:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise storage_error(error, self.path) from error  # what was captured has no name: it is not kept
            file = _own(self._disk, self.path)
            try:
                at = 0
                while data := lost.read_at(at, 1 << 20):
                    file.write(data)
                    at += len(data)
                file.sync()
                self._disk.sync_folder(self.path.parent)
            except OSError as error:
                file.close()
                raise storage_error(error, self.path) from error
            # Readers take the lock for the sign that somebody writes: the new file has it before the old one gives it back.
            self._file = file
            lost.close()
        return True

    def received(self, arrival_ns: int, data: bytes) -> None:
        """What arrived at ``arrival_ns``."""
        pieces = [data[at : at + PIECE] for at in range(0, len(data), PIECE)]
        self._append(b"".join(self._record(RecordKind.BYTES, arrival_ns, piece) for piece in pieces))

    def many(self, records: list[tuple[RecordKind, int, bytes]]) -> None:
        """Several records in one write; BYTES of any length."""
        out = []
        for kind, arrival_ns, payload in records:
            if kind is RecordKind.BYTES and len(payload) > PIECE:
                out += [self._record(kind, arrival_ns, payload[at : at + PIECE]) for at in range(0, len(payload), PIECE)]
            else:
                out.append(self._record(kind, arrival_ns, payload))
        self._append(b"".join(out))

    def meta(self, arrival_ns: int, meta: Meta) -> None:
        """Labels that hold from now on; the last ones count."""
        self._append(self._record(RecordKind.META, arrival_ns, meta.to_json().encode()))

    def gap(self, arrival_ns: int, reason: str) -> None:
        """From here on bytes are missing."""
        self._append(self._record(RecordKind.GAP, arrival_ns, utf8(reason)))

    def resumed(self, arrival_ns: int, reason: str = "") -> None:
        """Bytes arrive again."""
        self._append(self._record(RecordKind.RESUMED, arrival_ns, utf8(reason)))

    def mark(self, arrival_ns: int, text: str = "") -> None:
        """A moment the user marks."""
        self._append(self._record(RecordKind.MARK, arrival_ns, utf8(text)))

    def end(self, arrival_ns: int, reason: str = "") -> None:
        """The capture is over, as it was meant to be."""
        self._append(self._record(RecordKind.END, arrival_ns, utf8(reason)))

    def sync(self) -> None:
        """Return when all would survive a power cut."""
        with self._swapping:
            try:
                self._file.sync()
            except OSError as error:
                raise storage_error(error, self.path) from error  # how much of it the disk took nobody knows

    def close(self) -> None:
        """Give the lock back. May be called twice."""
        self._file.close()

    def _record(self, kind: RecordKind, arrival_ns: int, payload: bytes) -> bytes:
        body = RECORD.pack(self._sync_word, kind, self._number, len(payload), arrival_ns) + payload
        self._number = (self._number + 1) & 0xFFFFFFFF
        return body + CRC.pack(zlib.crc32(body))

    def _append(self, data: bytes) -> None:
        try:
            self._file.write(data)
        except OSError as error:
            # Where that fails too, the reader steps over half a record.
            with contextlib.suppress(OSError):
                self._file.cut(self._length)
            raise storage_error(error, self.path, capturing=self._length > 0) from error
        self._length += len(data)


def _own(disk: Disk, path: Path) -> AppendFile:
    """A new file with its lock taken. Whoever clears up may take an empty file for a leftover in between: then once more."""
    for _ in range(20):
        try:
            file = disk.create(path)
        except FileExistsError as error:
            raise _in_use(path) from error
        except OSError as error:
            raise storage_error(error, path) from error
        if try_lock(file.fileno()) and is_file_of(path, file.fileno()):
            return file
        file.close()
        time.sleep(0.01)
    raise _in_use(path)


def _in_use(path: Path) -> StorageError:
    what = "a capture into this file is running or was broken off"
    return StorageError(what, where=str(path), todo="Choose another file name")
