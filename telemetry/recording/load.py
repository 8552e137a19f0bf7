"""A recording, whole and ready to replay. The fast path of every comparison: decoded columns, one document, no raw bytes."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

from telemetry.course import Course, Truth, parse_course, parse_truth
from telemetry.errors import RecordingError, SidelongError
from telemetry.recording.assemble import Assembler, Gap, Mark, StreamSummary
from telemetry.recording.document import utf8
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import Record, RecordKind, journal_path
from telemetry.recording.meta import Meta
from telemetry.sample import Columns, SampleTable
from telemetry.stream.clock import ClockFit, fit_clock


@dataclass
class Recording:
    """One run. ``course`` and ``truth`` are None where they are not known; ``damage`` says in words what is missing."""

    path: Path
    meta: Meta
    table: SampleTable
    summary: StreamSummary
    course: Course | None = None
    truth: Truth | None = None
    damage: list[str] = field(default_factory=list)

    @property
    def gaps(self) -> list[Gap]:
        """Where bytes are missing."""
        return self.summary.gaps

    @property
    def marks(self) -> list[Mark]:
        """Moments that the user marked."""
        return self.summary.marks

    @property
    def clock(self) -> list[ClockFit]:
        """How the robot's clock runs against the computer's, one fit a start of the robot; none for a fetched stream."""
        columns = self.table.columns
        if self.meta.fetched or not self.table.rows:
            return []
        return fit_clock(columns["t_us"], columns["arrival_us"], columns["boot"])

    def raw(self) -> Iterator[tuple[int, bytes]]:
        """(arrival in us, bytes) as they came; read from the file now. Raises RecordingError."""
        file = RecordingFile(self.path)
        try:
            yield from file.raw()
        finally:
            file.close()


def load(path: Path | str) -> Recording:
    """Read a recording, about a millisecond for a short run. A journal that is still growing is read as far as it is.

    Damaged samples are decoded again from the raw bytes, and ``damage`` says so. The columns of a long one are only read
    when they are used (block_column.py), and damage in them comes to light then. Raises RecordingError or StorageError,
    and CourseError or TruthError for labels that do not fit.
    """
    path = Path(path)
    if not path.exists() and journal_path(path).exists():
        return _load_journal(path)
    if path == journal_path(path):
        return _load_journal(path)
    file = RecordingFile(path)
    try:
        meta, summary = labels(file)
        found_later: list[str] = []
        table = _table(file, summary, lambda: _columns_again(path, meta, summary, found_later))
        if table is None:
            table, summary = _again(file, meta, summary)
        course, truth = course_and_truth(meta)
        found_later += summary.damage + file.damage
        return Recording(path, meta, table, summary, course, truth, found_later)
    finally:
        file.close()


def labels(file: RecordingFile) -> tuple[Meta, StreamSummary]:
    """The labels and the summary from the document."""
    try:
        meta = Meta.from_dict(file.document.get("meta", {}), where=str(file.path))
        return meta, summary_of(file.document.get("summary", {}))
    except (TypeError, ValueError, AttributeError) as error:
        raise RecordingError("its labels cannot be understood", where=str(file.path), todo="The file is damaged") from error


def summary_of(plain: dict[str, Any]) -> StreamSummary:
    """Read what ``StreamSummary.to_dict`` wrote; what is not known is left out."""
    known = {item.name for item in fields(StreamSummary)}
    kept = {key: value for key, value in plain.items() if key in known}
    kept["gaps"] = [Gap(**gap) for gap in kept.get("gaps", ())]
    kept["marks"] = [Mark(**mark) for mark in kept.get("marks", ())]
    kept["colours"] = tuple(kept.get("colours", ("none",)))
    kept["ranges"] = {name: (low, high) for name, (low, high) in kept.get("ranges", {}).items()}
    return StreamSummary(**kept)


def course_and_truth(meta: Meta) -> tuple[Course | None, Truth | None]:
    """The course and the truth that the labels hold as text."""
    course = parsed_course(meta.course) if meta.course else None
    if course is None or meta.truth is None:
        return course, None
    return course, parse_truth(",".join(meta.truth), course)


@lru_cache(maxsize=64)
def parsed_course(text: str) -> Course:
    """The course of this text; a thousand recordings of one course parse it once."""
    return parse_course(text)


def _table(file: RecordingFile, summary: StreamSummary, again: Callable[[], Columns]) -> SampleTable | None:
    columns, events = file.columns(again), file.events()
    if columns is None or events is None:
        return None
    notes, rejected, console = events
    return SampleTable(
        columns=columns,
        rows=file.document["rows"],
        colours=summary.colours,
        notes=notes,
        rejected=rejected,
        console=console,
        remarks=list(summary.remarks),
        ranges=dict(summary.ranges),
        units=dict(summary.units),
        lost=summary.lost,
    )


def records_of(file: RecordingFile, meta: Meta, summary: StreamSummary) -> Iterator[Record]:
    """The recording as the records of its journal: what it was made from."""
    yield Record(RecordKind.META, 0, meta.to_json().encode())
    at = 0
    gaps = sorted(summary.gaps, key=lambda gap: gap.byte)
    for arrival_us, data in file.raw():
        while gaps and gaps[0].byte <= at:
            gap = gaps.pop(0)
            yield Record(RecordKind.GAP, gap.from_us * 1000, utf8(gap.reason))
        rest = data
        while gaps and gaps[0].byte < at + len(rest):
            gap = gaps.pop(0)
            yield Record(RecordKind.BYTES, arrival_us * 1000, rest[: gap.byte - at])
            rest, at = rest[gap.byte - at :], gap.byte
            yield Record(RecordKind.GAP, gap.from_us * 1000, utf8(gap.reason))
        yield Record(RecordKind.BYTES, arrival_us * 1000, rest)
        at += len(rest)
    for gap in gaps:
        yield Record(RecordKind.GAP, gap.from_us * 1000, utf8(gap.reason))
    if summary.link:
        yield Record(RecordKind.LINK, summary.last_us * 1000, json.dumps(summary.link).encode())


def decode(records: Iterator[Record]) -> tuple[Assembler, SampleTable]:
    """Decode a whole stream of records."""
    assembler, table = Assembler(), SampleTable()
    for _, chunks in assembler.feed_many(records):
        for chunk in chunks:
            table.append(chunk)
    for chunk in assembler.finish():
        table.append(chunk)
    return assembler, table


def _again(file: RecordingFile, meta: Meta, summary: StreamSummary) -> tuple[SampleTable, StreamSummary]:
    """Samples decoded anew from the raw bytes, because something decoded is damaged."""
    try:
        if file.document["rows"] and not file.document["bytes"]:
            raise RecordingError("it holds no raw bytes", where=str(file.path))
        assembler, table = decode(records_of(file, meta, summary))
    except SidelongError as error:
        what = "; ".join(dict.fromkeys(file.damage))
        raise RecordingError(
            f"the recording is damaged: {what}, and so are the raw bytes",
            where=str(file.path),
            todo="Take a copy from a backup, or ingest the robot's text again",
        ) from error
    file.damage[:] = [f"{'; '.join(dict.fromkeys(file.damage))}: the samples were read again from the raw bytes"]
    assembler.summary.marks, assembler.summary.end = summary.marks, summary.end
    assembler.summary.damage = summary.damage
    return table, assembler.summary


def _columns_again(path: Path, meta: Meta, summary: StreamSummary, damage: list[str]) -> Columns:
    """The columns of a long recording in which damage came to light only when it was used."""
    file = RecordingFile(path)
    try:
        file.damage.append("a column is damaged")
        table, _ = _again(file, meta, summary)
        damage += file.damage
        return table.columns
    finally:
        file.close()


def _load_journal(path: Path) -> Recording:
    reader = JournalReader(journal_path(path))
    assembler, table = Assembler(), SampleTable()
    try:
        while records := reader.read():
            for _, chunks in assembler.feed_many(records):
                for chunk in chunks:
                    table.append(chunk)
    finally:
        reader.close()
    if reader.ended:
        for chunk in assembler.finish():
            table.append(chunk)
    course, truth = course_and_truth(assembler.meta)
    return Recording(path, assembler.meta, table, assembler.summary, course, truth, list(reader.damage))
