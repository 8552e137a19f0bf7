"""Makes a recording of a journal: beside it, then renamed into place; only then the journal goes.

May be broken off anywhere and begun again: as long as the journal is there, everything is.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any, Final

from telemetry.errors import RecordingError, SidelongError, StorageError
from telemetry.recording.assemble import Assembler
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.lock import is_locked, recording_lock, try_lock
from telemetry.recording.disk.replacing import replacing, sweep
from telemetry.recording.disk.storage import Disk, SystemDisk
from telemetry.recording.hdf5.expendable import written_by_us
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.hdf5.writer import RecordingWriter
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import SUFFIX, Record, RecordKind, recording_path
from telemetry.recording.load import load
from telemetry.recording.meta import Meta

BROKEN_OFF: Final = "the capture was broken off"

Progress = Callable[[float], None]
"""Called with the share done so far, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Recovered:
    """What became of a journal that was left behind. ``recording`` None: nothing had been captured yet."""

    journal: Path
    recording: Path | None
    rows: int
    damage: tuple[str, ...]
    error: str = ""

    def __str__(self) -> str:
        if self.error:
            return f"{self.journal.name} was left behind and cannot be made into a recording now: {self.error}"
        if self.recording is None:
            return f"{self.journal.name} was left behind by a capture that had received nothing; it is gone now"
        samples = f"{self.rows} sample{'s' * (self.rows != 1)}"
        text = f"{self.recording.name} was recovered from a capture that was broken off: {samples}"
        return f"{text}; missing: {'; '.join(self.damage)}" if self.damage else text


def write_recording(
    records: Iterator[Record],
    path: Path,
    *,
    disk: Disk | None = None,
    extra: dict[str, Any] | None = None,
    damage: Callable[[], list[str]] = list,
    most_bytes: int | None = None,
) -> Assembler:
    """Decode ``records`` and write them to ``path`` (beside, then renamed). Raises StorageError; leaves nothing half done.

    ``extra`` joins the document; ``damage`` is asked at the end. ``most_bytes``: as in RecordingWriter.
    """
    assembler = Assembler()
    with replacing(disk or SystemDisk(), path, new=True) as image, RecordingWriter(image, most_bytes=most_bytes) as writer:
        for record, chunks in assembler.feed_many(records):
            if record.kind is RecordKind.BYTES:
                writer.raw(record.arrival_ns // 1000, record.payload, assembler.rows)
            for chunk in chunks:
                writer.append(chunk)
            writer.check()
        for chunk in assembler.finish():
            writer.append(chunk)
        writer.raw(assembler.summary.last_us, b"", assembler.rows)
        assembler.summary.damage = damage()
        writer.finish(*_document(assembler, extra or {}))
        writer.check()
    written_by_us(path)
    return assembler


def make_recording(
    journal: Path,
    *,
    disk: Disk | None = None,
    progress: Progress | None = None,
    release: Callable[[], None] | None = None,
) -> tuple[Path, Assembler]:
    """The recording of a journal that nobody writes any more; the journal goes. Returns its path and what was decoded.

    A recording that is there already and holds all that this journal holds stays as it is; another one is never
    overwritten. ``release`` is called before the journal is removed (Windows removes no open file).
    """
    disk = disk or SystemDisk()
    target = recording_path(journal)
    size = journal.stat().st_size
    records, reader = _opened(journal, progress)
    try:
        first = next(records, None)
        if first is None:
            if size:  # an empty file bears no mark of ours
                disk.remove(journal)
            return target, Assembler()
        with ExitStack() as held:
            target, made = _made_of(target, _journal_id(first), journal, held)
            if made is None:
                made = write_recording(
                    chain([first], records),
                    target,
                    disk=disk,
                    extra={"journal": _journal_id(first)},
                    damage=lambda: reader.damage,
                    most_bytes=size,
                )
    except OSError as error:
        raise storage_error(error, target) from error
    finally:
        reader.close()
    if release is not None:
        release()
    try:
        if journal.stat().st_size == size:  # else somebody has written on: what came is not in the recording
            disk.remove(journal)
            disk.sync_folder(journal.parent)
    except PermissionError:
        pass  # Windows, while somebody follows it: the next start finds the recording there and removes the journal
    except OSError as error:
        raise storage_error(error, journal) from error
    return target, made


def recover(folder: Path, *, disk: Disk | None = None, progress: Progress | None = None) -> list[Recovered]:
    """Make recordings of all journals in ``folder`` that nobody writes any more. Raises nothing for a single bad one."""
    disk = disk or SystemDisk()
    out: list[Recovered] = []
    sweep(folder, disk)
    try:
        journals = sorted(path for path in folder.glob(f"*{SUFFIX}") if path.is_file() and path.stat().st_size)
    except OSError:
        return out
    for number, journal in enumerate(journals):
        so_far = _part_of(progress, number, len(journals)) if progress is not None else None
        found = _recover_one(journal, disk, so_far)
        if so_far is not None:
            so_far(1.0)  # what in it is no record is passed over without a word
        if found is not None:
            out.append(found)
    return out


def _part_of(progress: Progress, number: int, count: int) -> Progress:
    """How far one of several jobs is, as a share of all."""
    return lambda share: progress((number + share) / count)


def _recover_one(journal: Path, disk: Disk, progress: Progress | None) -> Recovered | None:
    """None: somebody is writing it, or it is gone."""
    try:
        with journal.open("r+b") as held:
            if is_locked(held.fileno()) or not try_lock(held.fileno()) or not journal.exists():
                return None
            target, assembler = make_recording(journal, disk=disk, progress=progress)
    except FileNotFoundError:
        return None
    except OSError as error:
        return Recovered(journal, None, 0, (), str(storage_error(error, journal)))
    except SidelongError as error:
        return Recovered(journal, None, 0, (), str(error))
    summary = assembler.summary
    return Recovered(journal, target if target.exists() else None, summary.rows, tuple(summary.damage))


def _opened(journal: Path, progress: Progress | None = None) -> tuple[Iterator[Record], JournalReader]:
    reader = JournalReader(journal)
    return _all(reader, progress), reader


def _all(reader: JournalReader, progress: Progress | None) -> Iterator[Record]:
    size = max(1, reader.path.stat().st_size)
    while True:
        records = reader.read()
        if not records:
            break
        yield from records
        if progress is not None:
            progress(min(1.0, reader.place / size))
    while True:
        records = reader.read(final=True)
        if not records:
            return
        yield from records


def _journal_id(first: Record) -> str:
    """What tells this journal from others: the id in its labels, else its first words."""
    if first.kind is RecordKind.META:
        try:
            return Meta.from_json(first.text).id
        except RecordingError:
            return ""
    return ""


def _made_of(target: Path, made_of: str, journal: Path, held: ExitStack) -> tuple[Path, Assembler | None]:
    """``target`` or a name like it that is free, locked; with what was decoded where it holds all that the journal holds."""
    plain, number = target, 2
    while True:
        if os.path.lexists(target):
            if made_of and _id_of(target) == made_of and (whole := _held_by(target, journal)) is not None:
                return target, whole
        elif held.enter_context(recording_lock(target)) and not os.path.lexists(target):
            return target, None
        target = plain.with_stem(f"{plain.stem}-{number}")
        number += 1


def _id_of(path: Path) -> str:
    """The id of the journal that a recording was made of; empty where it says none."""
    try:
        file = RecordingFile(path)
        file.close()
    except (RecordingError, StorageError):
        return ""
    return str(file.document.get("journal", ""))


def _held_by(path: Path, journal: Path) -> Assembler | None:
    """What the journal holds, decoded, where the recording holds every bit of it; None where anything is missing there.

    One id is no proof: a folder kept in step between two computers has recordings of half a journal.
    """
    records, reader = _opened(journal)
    assembler, wanted = Assembler(), hashlib.sha256()
    try:
        for record, _ in assembler.feed_many(records):
            if record.kind is RecordKind.BYTES:
                wanted.update(record.payload)
        for _ in assembler.finish():
            pass
    finally:
        reader.close()
    try:
        run = load(path)
        there = hashlib.sha256()
        for _, data in run.raw():
            there.update(data)
    except SidelongError:
        return None
    ours, theirs = assembler.summary, run.summary
    alike = (ours.rows, ours.end, len(ours.gaps), ours.marks) == (theirs.rows, theirs.end, len(theirs.gaps), theirs.marks)
    return assembler if alike and run.damage == reader.damage and there.digest() == wanted.digest() else None


def _document(assembler: Assembler, extra: dict[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    meta, summary = assembler.meta, assembler.summary
    document = {
        "meta": meta.to_dict(),
        "summary": summary.to_dict(),
        "colours": summary.colours,
        "units": summary.units,
    } | extra
    return document, title_attributes(meta)


def title_attributes(meta: Meta) -> dict[str, str]:
    """What CF asks for about the whole file, for people and other programs."""
    kind = "built-in robot (simulated)" if meta.simulated else "robot's line stream"
    made = f"recorded by Sidelong {meta.versions.get('sidelong', '')}".strip()
    return {
        "title": meta.name or "run",
        "source": kind,
        "history": f"{meta.made} {made}".strip(),
        "comment": meta.remarks or "-",
    }
