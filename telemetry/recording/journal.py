"""The journal: everything that arrived, in order, appended and never changed; the one truth of a capture.

File: a header (magic, version, a sync word of four random bytes, Unix ns of creation, CRC-32), then records. A record:
sync word, kind, running number, length, arrival (Unix ns), payload, CRC-32 of all that. The sync word is another one in
every file, so neither what a robot sends nor old blocks of the disk can look like a record; after damage the reader
searches for the next one, and the running number tells how many are missing. All numbers little-endian.
"""

from __future__ import annotations

import contextlib
import errno
import os
import struct
import threading
import time
import zlib
from dataclasses import dataclass
from enum import IntEnum
from pathlib import Path
from typing import Final

from telemetry.errors import RecordingError, StorageError
from telemetry.recording.document import utf8
from telemetry.recording.lock import is_locked, try_lock
from telemetry.recording.meta import Meta
from telemetry.recording.storage import AppendFile, Disk, SystemDisk

SUFFIX: Final = ".journal"
MAGIC: Final = b"\x89SLJ\r\n\x1a\n"
VERSION: Final = 1
PIECE: Final = 4096
"""Longest payload of bytes in one record: what one damaged byte can cost."""

_HEADER: Final = struct.Struct("<8sI4sqQI")
_RECORD: Final = struct.Struct("<4sB3xIIq")
_CRC: Final = struct.Struct("<I")
_LONGEST: Final = 1 << 24
_READ: Final = 1 << 16


class Kind(IntEnum):
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

    kind: Kind
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
        head = _HEADER.pack(MAGIC, VERSION, self._sync_word, made_ns, 0, 0)[:-4]
        self._append(head + _CRC.pack(zlib.crc32(head)) + self._record(Kind.META, made_ns, meta.to_json().encode()))
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
            if _is(self.path, self._file.fileno()):
                return False
        except OSError:
            return False  # a drive that cannot say so just now: the next write will tell
        with self._swapping:
            lost = self._file
            try:
                self.path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise storage_error(error, self.path) from error
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
        self._append(b"".join(self._record(Kind.BYTES, arrival_ns, piece) for piece in pieces))

    def many(self, records: list[tuple[Kind, int, bytes]]) -> None:
        """Several records in one write; BYTES of any length."""
        out = []
        for kind, arrival_ns, payload in records:
            if kind is Kind.BYTES and len(payload) > PIECE:
                out += [self._record(kind, arrival_ns, payload[at : at + PIECE]) for at in range(0, len(payload), PIECE)]
            else:
                out.append(self._record(kind, arrival_ns, payload))
        self._append(b"".join(out))

    def meta(self, arrival_ns: int, meta: Meta) -> None:
        """Labels that hold from now on; the last ones count."""
        self._append(self._record(Kind.META, arrival_ns, meta.to_json().encode()))

    def gap(self, arrival_ns: int, reason: str) -> None:
        """From here on bytes are missing."""
        self._append(self._record(Kind.GAP, arrival_ns, utf8(reason)))

    def resumed(self, arrival_ns: int, reason: str = "") -> None:
        """Bytes arrive again."""
        self._append(self._record(Kind.RESUMED, arrival_ns, utf8(reason)))

    def mark(self, arrival_ns: int, text: str = "") -> None:
        """A moment the user marks."""
        self._append(self._record(Kind.MARK, arrival_ns, utf8(text)))

    def end(self, arrival_ns: int, reason: str = "") -> None:
        """The capture is over, as it was meant to be."""
        self._append(self._record(Kind.END, arrival_ns, utf8(reason)))

    def sync(self) -> None:
        """Return when all would survive a power cut."""
        with self._swapping:
            try:
                self._file.sync()
            except OSError as error:
                raise storage_error(error, self.path) from error

    def close(self) -> None:
        """Give the lock back. May be called twice."""
        self._file.close()

    def _record(self, kind: Kind, arrival_ns: int, payload: bytes) -> bytes:
        body = _RECORD.pack(self._sync_word, kind, self._number, len(payload), arrival_ns) + payload
        self._number = (self._number + 1) & 0xFFFFFFFF
        return body + _CRC.pack(zlib.crc32(body))

    def _append(self, data: bytes) -> None:
        try:
            self._file.write(data)
        except OSError as error:
            # Where that fails too, the reader steps over half a record.
            with contextlib.suppress(OSError):
                self._file.cut(self._length)
            raise storage_error(error, self.path) from error
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
        if try_lock(file.fileno()) and _is(path, file.fileno()):
            return file
        file.close()
        time.sleep(0.01)
    raise _in_use(path)


def _is(path: Path, fd: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(fd))
    except FileNotFoundError:
        return False


def _in_use(path: Path) -> StorageError:
    what = "a capture into this file is running or was broken off"
    return StorageError(what, where=str(path), todo="Choose another file name")


class JournalReader:
    """Reads a journal whole or while it grows: ``read()`` gives the records that came since the last call.

    ``damage`` lists in words what could not be read. Raises RecordingError where the file is no journal at all or was
    written by a newer version.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.damage: list[str] = []
        self.made_ns = 0
        self.ended = False
        try:
            self._file = path.open("rb", buffering=0)
        except OSError as error:
            raise storage_error(error, path, reading=True) from error
        self._tail = bytearray()
        self._place = 0
        self._number = 0
        self._sync_word: bytes | None = None

    @property
    def place(self) -> int:
        """Bytes of the file that have been read and understood."""
        return self._place

    @property
    def has_writer(self) -> bool:
        """Whether a capture is still writing (or another program is making the recording)."""
        return is_locked(self._file.fileno())

    def find_again(self) -> bool:
        """Go on in the file that has the journal's name now, where the writer had to put it back; whether it is another one.

        Such a file begins with all that this one holds.
        """
        try:
            if _is(self.path, self._file.fileno()):
                return False
            file = self.path.open("rb", buffering=0)
        except OSError:
            return False
        place, begin = self._file.tell(), _HEADER.size
        self._file.seek(0)
        if self._file.read(begin) != file.read(begin) or file.seek(0, os.SEEK_END) < place:
            self._file.seek(place)
            file.close()
            return False
        file.seek(place)
        self._file.close()
        self._file = file
        return True

    def read(self, *, final: bool = False, most: int = _READ) -> list[Record]:
        """New records, from about ``most`` bytes of the file, or as many as the next one needs; empty: nothing new is whole.

        ``final``: nothing will be written any more, so a half record at the end is damage and not a record to wait for;
        give it again until it returns nothing.
        """
        while True:
            try:
                new = self._file.read(most)
            except OSError as error:
                raise storage_error(error, self.path, reading=True) from error
            if not new and not (final and self._tail):
                return []
            self._tail += new
            last = final and not new
            records = self._records(last) if self._begun(last) else []
            # A record, or a damaged stretch, may be longer than one read: nothing whole yet is not the end of the file.
            if records or not new:
                return records

    def close(self) -> None:
        """May be called twice."""
        self._file.close()

    def _begun(self, last: bool) -> bool:
        """Whether the header has been read; reads it as soon as it is there."""
        if self._sync_word is not None:
            return True
        try:
            return self._start(last)
        except RecordingError:
            self.close()
            raise

    def _start(self, last: bool) -> bool:
        """Read the header; False: not enough bytes yet."""
        if len(self._tail) < _HEADER.size + _RECORD.size + _CRC.size and not last:
            return False
        if len(self._tail) < _HEADER.size:
            if self._tail and not MAGIC.startswith(bytes(self._tail[: len(MAGIC)])):
                self._not_ours()
            self.damage.append("the journal breaks off before anything was kept in it")
            self._tail.clear()
            return False
        magic, version, word, self.made_ns, _, check = _HEADER.unpack_from(self._tail)
        if check == zlib.crc32(self._tail[: _HEADER.size - 4]) and magic == MAGIC:
            if version > VERSION:
                raise RecordingError(
                    f"it was written by a newer Sidelong (journal version {version})",
                    where=str(self.path),
                    todo="Update Sidelong to read it",
                )
            self._sync_word = word
        else:
            self._sync_word = bytes(self._tail[_HEADER.size : _HEADER.size + 4])
            if self._parse(_HEADER.size) is None:
                self._not_ours()
            self.damage.append("the journal's header is damaged; its records are read all the same")
            self.made_ns = 0
        del self._tail[: _HEADER.size]
        self._place = _HEADER.size
        return True

    def _not_ours(self) -> None:
        raise RecordingError("this is no journal of a capture", where=str(self.path), todo="Choose another file")

    def _parse(self, at: int) -> tuple[int, int, int, int] | None:
        """(kind, number, arrival, end) of the whole and sound record at ``at``, else None."""
        tail = self._tail
        if len(tail) < at + _RECORD.size + _CRC.size:
            return None
        word, kind, number, length, arrival_ns = _RECORD.unpack_from(tail, at)
        end = at + _RECORD.size + length
        if word != self._sync_word or length > _LONGEST or len(tail) < end + _CRC.size:
            return None
        if _CRC.unpack_from(tail, end)[0] != zlib.crc32(memoryview(tail)[at:end]):
            return None
        return kind, number, arrival_ns, end

    def _records(self, last: bool) -> list[Record]:
        out: list[Record] = []
        at = 0
        arrival_ns = self.made_ns
        while at < len(self._tail):
            found = self._parse(at)
            if found is None:
                later = self._search(at + 1)
                if later is None and not last:
                    break
                self._missing(out, at, later if later is not None else len(self._tail), arrival_ns, later)
                if later is None:
                    at = len(self._tail)
                    break
                at = later
                continue
            kind, number, arrival_ns, end = found
            ahead = (number - self._number) & 0xFFFFFFFF
            if ahead >= 1 << 31:
                self.damage.append(f"an older piece came again at byte {self._place + at} and was left out")
            else:
                if ahead and not (out and out[-1].kind is Kind.DAMAGE):
                    self._missing(out, at, at, arrival_ns, at)
                self._number = (number + 1) & 0xFFFFFFFF
                payload = bytes(self._tail[at + _RECORD.size : end])
                if kind in _KINDS:
                    out.append(Record(_KINDS[kind], arrival_ns, payload))
                    self.ended = self.ended or kind == Kind.END
            at = end + _CRC.size
        del self._tail[:at]
        self._place += at
        return out

    def _search(self, start: int) -> int | None:
        assert self._sync_word is not None
        at = self._tail.find(self._sync_word, start)
        while at >= 0:
            if self._parse(at) is not None:
                return at
            at = self._tail.find(self._sync_word, at + 1)
        return None

    def _missing(self, out: list[Record], at: int, end: int, arrival_ns: int, later: int | None) -> None:
        records = 0
        if later is not None:
            found = self._parse(later)
            records = (found[1] - self._number) & 0xFFFFFFFF if found else 0
        what = f"{end - at} bytes of the journal at byte {self._place + at} are damaged"
        if later is None:
            what = f"the journal breaks off within its last piece ({end - at} bytes of it are left out)"
        elif 0 < records < 1 << 31:
            what += f", {records} piece{'s' * (records != 1)} of the stream with them"
        self.damage.append(what)
        out.append(Record(Kind.DAMAGE, arrival_ns, utf8(what)))


_KINDS: Final = {int(kind): kind for kind in Kind if kind is not Kind.DAMAGE}


def payload_json(record: Record, path: Path) -> Meta:
    """The labels in a META record."""
    return Meta.from_json(record.text, where=str(path))


def storage_error(error: OSError, path: Path, *, reading: bool = False) -> StorageError:
    """One sentence for what the system says about a file."""
    if error.errno in {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)}:
        return StorageError(
            "the disk is full; what was captured so far is kept",
            where=str(path),
            todo="Make room on this disk and start again",
        )
    if error.errno in {errno.EACCES, errno.EPERM}:
        return StorageError(
            "no permission to " + ("read this file" if reading else "write here"),
            where=str(path),
            todo="Choose another folder or change its permissions",
        )
    if error.errno == errno.EROFS:
        return StorageError("this disk can only be read", where=str(path), todo="Choose another folder")
    if error.errno == errno.ENAMETOOLONG:
        return StorageError("this name is too long for the disk", where=str(path), todo="Choose a shorter one")
    if error.errno in {errno.EISDIR, errno.EINVAL}:
        return StorageError("this cannot be a file's name here", where=str(path), todo="Choose another name")
    if error.errno in {errno.ENOENT, errno.ENOTDIR}:
        return StorageError("there is no such file or folder", where=str(path), todo="Check the name")
    return StorageError(
        f"the disk does not answer ({(error.strerror or str(error)).lower()})",
        where=str(path),
        todo="Check the drive or its connection; what was written before is kept",
    )
