"""Cut one run out of a capture that goes on: the stretch between two moments becomes a recording of its own.

The capture's journal is only read, so a run can be kept after it has happened, and nothing is lost between two runs.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from telemetry.errors import RecordingError, StorageError
from telemetry.recording.assemble import Assembler
from telemetry.recording.document import utf8
from telemetry.recording.hdf5_reader import RecordingFile
from telemetry.recording.journal import Kind, Record, journal_path
from telemetry.recording.journal_reader import JournalReader
from telemetry.recording.load import labels, records_of
from telemetry.recording.make import write_recording
from telemetry.recording.meta import Meta

CUT_END = "cut out of a longer capture"
LONGEST_LINE = 1 << 16
"""Bytes without a line end, longer than any line: passed on as they are."""


class NothingArrivedError(RecordingError):
    """In that time; so there is nothing to keep."""


def cut(
    capture: Path, target: Path, begin_us: int, end_us: int, meta: Meta, *, marks: Sequence[tuple[int, str]] = ()
) -> Assembler:
    """Write what arrived from ``begin_us`` to ``end_us`` (Unix time) to ``target``, with the labels ``meta``.

    The stream is cut at line ends, and the header lines that were valid at the beginning stand before it. ``marks``: moments
    of the user, (Unix us, text). ``capture``: the capture's recording; while it goes on, only its journal is there. Raises
    NothingArrivedError, and StorageError where it cannot be written.
    """
    records = list(_stretch(_source(capture), begin_us * 1000, end_us * 1000))
    if not any(record.kind is Kind.BYTES for record in records):
        raise NothingArrivedError(
            "nothing arrived in this time, so there is no run to keep",
            where=str(capture),
            todo="Check the link to the robot.",
        )
    first_ns, last_ns = records[0].arrival_ns, records[-1].arrival_ns
    whole = [Record(Kind.META, first_ns, meta.to_json().encode()), *records]
    whole += [Record(Kind.MARK, max(at_us * 1000, first_ns), utf8(text)) for at_us, text in marks]
    whole[1:] = sorted(whole[1:], key=lambda record: record.arrival_ns)
    whole.append(Record(Kind.END, last_ns, CUT_END.encode()))
    return write_recording(iter(whole), target, most_bytes=sum(len(record.payload) for record in whole))


def _source(capture: Path) -> Iterator[Record]:
    """All records so far: of the journal, or of the recording that it has become in the meantime."""
    journal = journal_path(capture)
    try:
        reader = JournalReader(journal)
    except StorageError:
        if not capture.exists():
            raise
    else:
        try:
            while records := reader.read():
                yield from records
        finally:
            reader.close()
        return
    file = RecordingFile(capture)
    try:
        yield from records_of(file, *labels(file))
    finally:
        file.close()


def _stretch(records: Iterable[Record], begin_ns: int, end_ns: int) -> Iterator[Record]:
    """The records of the stretch, cut at line ends, the header before them."""
    header = _Header()
    half = b""
    begun = given = skipping = False
    last_ns = begin_ns
    for record in records:
        if record.arrival_ns > end_ns:
            break
        if record.kind is not Kind.BYTES:
            if record.kind is Kind.GAP and half:
                # What was on its way when the link went away stays what it is: half a line.
                if given:
                    yield Record(Kind.BYTES, last_ns, half)
                half, skipping = b"", False
            if begun and record.kind in {Kind.GAP, Kind.RESUMED, Kind.LINK}:
                yield record
            continue
        before, last_ns = bool(half), record.arrival_ns
        lines, half = _whole_lines(half + record.payload)
        if record.arrival_ns < begin_ns:
            header.learn(lines)
            continue
        if not begun:
            # A line that began before the stretch belongs to what was before it.
            begun, skipping = True, before
        if skipping and lines:
            first, _, lines = lines.partition(b"\n")
            header.learn(first + b"\n")
            skipping = False
        if lines or len(half) > LONGEST_LINE:
            if len(half) > LONGEST_LINE:
                lines, half = lines + half, b""
            yield Record(Kind.BYTES, record.arrival_ns, lines if given else header.text + lines)
            given = True
    if begun and half and not given:
        # Not one line end: nothing that can be read, but all there is.
        yield Record(Kind.BYTES, last_ns, header.text + half)


def _whole_lines(data: bytes) -> tuple[bytes, bytes]:
    """What ends in a line end, and the rest."""
    cut_at = data.rfind(b"\n") + 1
    return data[:cut_at], data[cut_at:]


class _Header:
    """The latest header line of each kind: columns, codes, ranges, wraps."""

    def __init__(self) -> None:
        self._latest: dict[bytes, bytes] = {}

    def learn(self, lines: bytes) -> None:
        for line in lines.split(b"\n"):
            if line.startswith(b"#"):
                word = line[1:].split(b",", 1)[0].split(b"/", 1)[0]
                kind = word if word in {b"codes", b"range", b"wrap"} else b"columns"
                self._latest[kind] = line.rstrip(b"\r") + b"\n"

    @property
    def text(self) -> bytes:
        """The lines as they should stand at the beginning: columns first."""
        return b"".join(self._latest[kind] for kind in (b"columns", b"codes", b"range", b"wrap") if kind in self._latest)
