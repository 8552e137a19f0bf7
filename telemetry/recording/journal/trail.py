"""Places in a growing journal from which it can be read on, so that the last minute of a long capture is found at once."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from typing import Final

from telemetry.recording.journal.records import Record, RecordKind

APART_NS: Final = 5_000_000_000
MOST: Final = 512
"""Places at once. Where there would be more, every other one is forgotten: memory does not grow with the hours."""
LONGEST_LINE: Final = 1 << 16
"""Bytes without a line end, longer than any line: no line."""


class StreamState:
    """How a stream stands at some place in it: the header lines that hold there, and the line that is not whole yet."""

    def __init__(self) -> None:
        self.half = b""
        self._latest: dict[bytes, bytes] = {}

    def copy(self) -> StreamState:
        """As it is now."""
        other = StreamState()
        other.half, other._latest = self.half, dict(self._latest)
        return other

    def pass_by(self, data: bytes) -> None:
        """These bytes came next."""
        lines, half = whole_lines(self.half + data)
        self.half = half[-LONGEST_LINE:]
        self.learn(lines)

    def learn(self, lines: bytes) -> None:
        """Keep the latest header line of each kind: columns, codes, ranges, wraps."""
        if b"#" not in lines:
            return
        for line in lines.split(b"\n"):
            if line.startswith(b"#"):
                word = line[1:].split(b",", 1)[0].split(b"/", 1)[0]
                kind = word if word in {b"codes", b"range", b"wrap"} else b"columns"
                self._latest[kind] = line.rstrip(b"\r") + b"\n"

    @property
    def header(self) -> bytes:
        """The lines as they should stand at the beginning: columns first."""
        return b"".join(self._latest[kind] for kind in (b"columns", b"codes", b"range", b"wrap") if kind in self._latest)


def whole_lines(data: bytes) -> tuple[bytes, bytes]:
    """What ends in a line end, and the rest."""
    cut_at = data.rfind(b"\n") + 1
    return data[:cut_at], data[cut_at:]


@dataclass(frozen=True, slots=True)
class Waypoint:
    """Before ``place`` nothing is later than ``newest_ns``; ``number`` is the next record's, ``standing`` the stream's."""

    newest_ns: int
    place: int
    number: int
    standing: StreamState


class Trail:
    """Learns from the records as a follower meets them. ``apart_ns``: how far its places are from each other."""

    def __init__(self, apart_ns: int = APART_NS) -> None:
        self._apart_ns = apart_ns
        self._standing = StreamState()
        self._newest_ns = 0
        self._waypoints: list[Waypoint] = []

    def pass_by(self, records: list[Record], place: int, number: int) -> None:
        """``records`` came next in the journal; after them it goes on at byte ``place`` with record ``number``."""
        if not records:
            return
        run: list[bytes] = []
        for record in records:
            if record.kind is RecordKind.BYTES:
                run.append(record.payload)
            elif record.kind is RecordKind.GAP:
                self._standing.pass_by(b"".join(run))
                self._standing.half = b""
                run = []
        self._standing.pass_by(b"".join(run))
        self._newest_ns = max(self._newest_ns, *(record.arrival_ns for record in records))
        if not self._waypoints or self._newest_ns >= self._waypoints[-1].newest_ns + self._apart_ns:
            self._waypoints.append(Waypoint(self._newest_ns, place, number, self._standing.copy()))
            if len(self._waypoints) > MOST:
                del self._waypoints[1::2]
                self._apart_ns *= 2

    def before(self, begin_ns: int) -> Waypoint | None:
        """The last place before which everything arrived before ``begin_ns``; None: only the journal's beginning."""
        found = bisect_left(self._waypoints, begin_ns, key=lambda waypoint: waypoint.newest_ns)
        return self._waypoints[found - 1] if found else None
