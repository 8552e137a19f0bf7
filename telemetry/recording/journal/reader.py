"""Reads journals, damaged ones too: what is whole comes out, what is not is counted and said."""

from __future__ import annotations

import os
import zlib
from pathlib import Path
from typing import Final

from telemetry.beside import open_to_read
from telemetry.errors import RecordingError
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.holes import data_from
from telemetry.recording.disk.lock import is_file_of, is_locked
from telemetry.recording.document import utf8
from telemetry.recording.journal.records import CRC, HEADER, LONGEST, MAGIC, PIECE, RECORD, VERSION, Record, RecordKind

_HALF_ROUND: Final = 1 << 31
"""Records are numbered modulo 2**32: what seems farther ahead than half of that lies behind."""
_READ: Final = 1 << 16
_MOST_READ: Final = 1 << 24
_SPARE_CRC_BYTES: Final = 1 << 26
"""So many bytes may be summed in vain where a record seems to begin and none does; from then on only short ones are sought.
A journal of which every word looks like a beginning must not take minutes."""


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
            self._file = os.fdopen(open_to_read(path), "rb", buffering=0)
        except OSError as error:
            raise storage_error(error, path, reading=True) from error
        self._tail = bytearray()
        self._place = 0
        self._number = 0
        self._sync_word: bytes | None = None
        self._sought = 0
        """Bytes of the tail in which no record begins, as far as is known."""
        self._in_vain = 0
        self._let_go = 0
        """Bytes of the damaged stretch before the tail: nothing begins in them, so they are not held."""

    @property
    def place(self) -> int:
        """Bytes of the file that have been read and understood."""
        return self._place

    @property
    def number(self) -> int:
        """That of the record that comes next."""
        return self._number

    @property
    def has_writer(self) -> bool:
        """Whether a capture is still writing (or another program is making the recording)."""
        return is_locked(self._file.fileno())

    def find_again(self) -> bool:
        """Go on in the file that has the journal's name now, where the writer had to put it back; whether it is another one.

        Such a file begins with all that this one holds.
        """
        try:
            if is_file_of(self.path, self._file.fileno()):
                return False
            file = self.path.open("rb", buffering=0)
        except OSError:
            return False
        place, begin = self._file.tell(), HEADER.size
        self._file.seek(0)
        if self._file.read(begin) != file.read(begin) or file.seek(0, os.SEEK_END) < place:
            self._file.seek(place)
            file.close()
            return False
        file.seek(place)
        self._file.close()
        self._file = file
        return True

    def go_on_at(self, place: int, number: int) -> bool:
        """Read on from byte ``place``, where record ``number`` begins, as another reader of this file has found it.

        False, and nothing has happened, where the beginning of the file does not show that it is a journal.
        """
        if not self._begun(last=False):
            try:
                self._tail += self._file.read(_READ)
            except OSError as error:
                raise storage_error(error, self.path, reading=True) from error
            if not self._begun(last=False):
                return False
        self._file.seek(place)
        self._tail.clear()
        self._sought = 0
        self._place, self._number = place, number
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
            self._pass_hole()
            # A record, or a damaged stretch, may be longer than one read: nothing whole yet is not the end of the file.
            if records or not new:
                return records
            most = min(2 * most, _MOST_READ)

    def _pass_hole(self) -> None:
        """Within a damaged stretch a hole of the file is passed over: it may be terabytes."""
        if self._let_go and not any(self._tail):
            here = self._file.tell()
            there = data_from(self._file.fileno(), here)
            self._file.seek(there)
            self._let_go += there - here
            self._place += there - here

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
        if len(self._tail) < HEADER.size + RECORD.size + CRC.size and not last:
            return False
        if len(self._tail) < HEADER.size:
            if self._tail and not MAGIC.startswith(bytes(self._tail[: len(MAGIC)])):
                self._not_ours()
            self.damage.append("the journal breaks off before anything was kept in it")
            self._tail.clear()
            return False
        magic, version, word, self.made_ns, _, check = HEADER.unpack_from(self._tail)
        if check == zlib.crc32(self._tail[: HEADER.size - 4]) and magic == MAGIC:
            if version > VERSION:
                raise RecordingError(
                    f"it was written by a newer Sidelong (journal version {version})",
                    where=str(self.path),
                    todo="Update Sidelong to read it",
                )
            self._sync_word = word
        else:
            self._sync_word = bytes(self._tail[HEADER.size : HEADER.size + 4])
            if self._parse(HEADER.size) is None:
                self._not_ours()
            self.damage.append("the journal's header is damaged; its records are read all the same")
            self.made_ns = 0
        del self._tail[: HEADER.size]
        self._place = HEADER.size
        return True

    def _not_ours(self) -> None:
        raise RecordingError("this is not a journal of a capture", where=str(self.path), todo="Choose another file")

    def _parse(self, at: int, longest: int = LONGEST) -> tuple[int, int, int, int] | None:
        """(kind, number, arrival, end) of the whole and sound record at ``at``, else None."""
        tail = self._tail
        if len(tail) < at + RECORD.size + CRC.size:
            return None
        word, kind, number, length, arrival_ns = RECORD.unpack_from(tail, at)
        end = at + RECORD.size + length
        if word != self._sync_word or length > longest or len(tail) < end + CRC.size:
            return None
        if CRC.unpack_from(tail, end)[0] != zlib.crc32(memoryview(tail)[at:end]):
            self._in_vain += length
            return None
        return kind, number, arrival_ns, end

    def _records(self, last: bool) -> list[Record]:
        out: list[Record] = []
        at = 0
        arrival_ns = self.made_ns
        while at < len(self._tail):
            found = self._parse(at)
            if found is not None and self._let_go:
                self._missing(out, at, at, arrival_ns, at)
            if found is None:
                later = self._search(at + 1)
                if later is None and not last:
                    if not self._begins(at):
                        self._let_go += self._sought - at
                        at = self._sought
                    break
                self._missing(out, at, later if later is not None else len(self._tail), arrival_ns, later)
                if later is None:
                    at = len(self._tail)
                    break
                at = later
                continue
            kind, number, arrival_ns, end = found
            ahead = (number - self._number) & 0xFFFFFFFF
            if ahead >= _HALF_ROUND:
                self.damage.append(f"an older piece came again at byte {self._place + at} and was left out")
            else:
                if ahead and not (out and out[-1].kind is RecordKind.DAMAGE):
                    self._missing(out, at, at, arrival_ns, at)
                self._number = (number + 1) & 0xFFFFFFFF
                payload = bytes(self._tail[at + RECORD.size : end])
                if kind in _KINDS:
                    out.append(Record(_KINDS[kind], arrival_ns, payload))
                    self.ended = self.ended or kind == RecordKind.END
            at = end + CRC.size
        del self._tail[:at]
        self._place += at
        self._sought = max(0, self._sought - at)
        return out

    def _search(self, start: int) -> int | None:
        """Where the next sound record begins. What was looked at and cannot become one is not looked at again."""
        assert self._sync_word is not None
        waiting: int | None = None
        at = self._tail.find(self._sync_word, max(start, self._sought))
        while at >= 0:
            longest = LONGEST if self._in_vain < _SPARE_CRC_BYTES else PIECE
            if self._parse(at, longest) is not None:
                return at
            if waiting is None and self._half(at, longest):
                waiting = at
            at = self._tail.find(self._sync_word, at + 1)
        # The last three bytes may be the beginning of a sync word.
        self._sought = waiting if waiting is not None else max(self._sought, len(self._tail) - 3)
        return None

    def _begins(self, at: int) -> bool:
        """Whether a record may begin there, of which more bytes are to come."""
        begin = bytes(self._tail[at : at + 4])
        return self._sync_word is not None and self._sync_word.startswith(begin) and self._half(at, LONGEST)

    def _half(self, at: int, longest: int) -> bool:
        """Whether more bytes might make a record of what begins at ``at``."""
        if len(self._tail) < at + RECORD.size:
            return True
        length = RECORD.unpack_from(self._tail, at)[3]
        return bool(length <= longest and len(self._tail) < at + RECORD.size + length + CRC.size)

    def _missing(self, out: list[Record], at: int, end: int, arrival_ns: int, later: int | None) -> None:
        records = 0
        if later is not None:
            found = self._parse(later)
            records = (found[1] - self._number) & 0xFFFFFFFF if found else 0
        size, start, self._let_go = end - at + self._let_go, self._place + at - self._let_go, 0
        what = f"{size} bytes of the journal at byte {start} are damaged"
        if later is None:
            what = f"the journal breaks off within its last piece ({size} bytes of it are left out)"
        elif 0 < records < _HALF_ROUND:
            what += f", {records} piece{'s' * (records != 1)} of the stream with them"
        self.damage.append(what)
        out.append(Record(RecordKind.DAMAGE, arrival_ns, utf8(what)))


_KINDS: Final = {int(kind): kind for kind in RecordKind if kind is not RecordKind.DAMAGE}
