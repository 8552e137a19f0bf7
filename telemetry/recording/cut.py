"""Cut one run out of a capture that goes on: the stretch between two moments becomes a recording of its own.

The capture's journal is only read, so a run can be kept after it has happened, and nothing is lost between two runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from telemetry.errors import RecordingError, StorageError
from telemetry.recording.assemble import Assembler
from telemetry.recording.document import utf8
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import Record, RecordKind, journal_path
from telemetry.recording.journal.trail import LONGEST_LINE, StreamState, Trail, Waypoint, whole_lines
from telemetry.recording.load import labels, records_of
from telemetry.recording.make import write_recording
from telemetry.recording.meta import Meta

CUT_END = "cut out of a longer capture"


class NothingArrivedError(RecordingError):
    """In that time; so there is nothing to keep."""


def cut(
    capture: Path,
    target: Path,
    begin_us: int,
    end_us: int,
    meta: Meta,
    *,
    marks: Sequence[tuple[int, str]] = (),
    trail: Trail | None = None,
) -> Assembler:
    """Write what arrived from ``begin_us`` to ``end_us`` (Unix time) to ``target``, with the labels ``meta``.

    The stream is cut at line ends, and the header lines that were valid at the beginning stand before it. ``marks``: moments
    of the user, (Unix us, text). ``capture``: the capture's recording; while it goes on, only its journal is there.
    ``trail``: that of a follower of this capture, so that not everything before the stretch has to be read again. Raises
    NothingArrivedError, and StorageError where it cannot be written.
    """
    waypoint = trail.before(begin_us * 1000) if trail is not None else None
    source, standing = records_from(capture, waypoint)
    records = list(_stretch(source, begin_us * 1000, end_us * 1000, standing))
    if not any(record.kind is RecordKind.BYTES for record in records):
        raise NothingArrivedError(
            "nothing arrived in this time, so there is no run to keep",
            todo="Check the link to the robot.",
        )
    return write_cut(records, target, meta, marks)


def write_cut(
    records: Sequence[Record], target: Path, meta: Meta, marks: Sequence[tuple[int, str]], *, end: str = CUT_END
) -> Assembler:
    """Write ``records``, in order and with bytes among them, as a recording; the rest as in ``cut``."""
    first_ns, last_ns = records[0].arrival_ns, records[-1].arrival_ns
    whole = [Record(RecordKind.META, first_ns, meta.to_json().encode()), *records]
    whole += [Record(RecordKind.MARK, max(at_us * 1000, first_ns), utf8(text)) for at_us, text in marks]
    whole[1:] = sorted(whole[1:], key=lambda record: record.arrival_ns)
    whole.append(Record(RecordKind.END, last_ns, end.encode()))
    return write_recording(iter(whole), target, most_bytes=sum(len(record.payload) for record in whole))


def records_from(capture: Path, waypoint: Waypoint | None = None) -> tuple[Iterator[Record], StreamState]:
    """All records so far, or those from ``waypoint`` on: of the journal, or of the recording it has become meanwhile."""
    try:
        reader = JournalReader(journal_path(capture))
    except StorageError:
        if not capture.exists():
            raise
        return _made(capture), StreamState()
    if waypoint is not None and reader.go_on_at(waypoint.place, waypoint.number):
        return _growing(reader), waypoint.standing.copy()
    return _growing(reader), StreamState()


def _growing(reader: JournalReader) -> Iterator[Record]:
    try:
        while records := reader.read():
            yield from records
    finally:
        reader.close()


def _made(recording: Path) -> Iterator[Record]:
    file = RecordingFile(recording)
    try:
        yield from records_of(file, *labels(file))
    finally:
        file.close()


def _stretch(records: Iterable[Record], begin_ns: int, end_ns: int, standing: StreamState) -> Iterator[Record]:
    """The records of the stretch, cut at line ends, the header before them. ``standing``: where ``records`` begin."""
    begun = given = skipping = False
    last_ns = begin_ns
    for record in records:
        if record.arrival_ns > end_ns:
            break
        if record.kind is not RecordKind.BYTES:
            if record.kind is RecordKind.GAP and standing.half:
                # What was on its way when the link went away stays what it is: half a line.
                if given:
                    yield Record(RecordKind.BYTES, last_ns, standing.half)
                standing.half, skipping = b"", False
            if begun and record.kind in {RecordKind.GAP, RecordKind.RESUMED, RecordKind.LINK}:
                yield record
            continue
        last_ns = record.arrival_ns
        if record.arrival_ns < begin_ns:
            standing.pass_by(record.payload)
            continue
        if not begun:
            # A line that began before the stretch belongs to what was before it.
            begun, skipping = True, bool(standing.half)
        lines, half = whole_lines(standing.half + record.payload)
        if skipping and lines:
            first, _, lines = lines.partition(b"\n")
            standing.learn(first + b"\n")
            skipping = False
        if len(half) > LONGEST_LINE:
            lines, half = lines + half, b""
        if lines:
            yield Record(RecordKind.BYTES, record.arrival_ns, lines if given else standing.header + lines)
            given = True
        standing.half = half
    if begun and standing.half and not given:
        # Not one line end: nothing that can be read, but all there is.
        yield Record(RecordKind.BYTES, last_ns, standing.header + standing.half)
