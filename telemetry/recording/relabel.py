"""Changes the labels of a recording in place: a changed copy is made safe and renamed over it, nothing is ever half done."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import h5py

from telemetry.course import parse_course
from telemetry.course.truth import check_truth
from telemetry.errors import RecordingError, StorageError, TruthError
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.disk.lock import recording_lock
from telemetry.recording.disk.replacing import replacing
from telemetry.recording.disk.storage import Disk, SystemDisk
from telemetry.recording.hdf5.attributes import write_attributes, write_document
from telemetry.recording.hdf5.expendable import written_by_us
from telemetry.recording.hdf5.image import SafeImage
from telemetry.recording.hdf5.opening import ANEW, BROKEN
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import journal_path
from telemetry.recording.load import labels
from telemetry.recording.make import title_attributes
from telemetry.recording.meta import Meta


def relabel(path: Path, change: Callable[[Meta], Meta], *, disk: Disk | None = None) -> Meta:
    """Replace the labels of the recording by ``change`` of them; returns the new ones.

    Raises TruthError or CourseError for labels that do not fit each other, RecordingError or StorageError for the file; then
    it is as it was.
    """
    path = path.resolve()  # what a link points to is changed, not the link
    if not path.exists():
        if journal_path(path).exists():
            raise _being_captured(path)
        RecordingFile(path).close()  # says that it is not there, before a lock is made beside it
    try:
        with recording_lock(path) as held:
            if not held:
                raise StorageError(
                    "another program is changing this recording", where=str(path), todo="Try again when it has finished"
                )
            return _relabel(path, change, disk or SystemDisk())
    except OSError as error:
        raise storage_error(error, path) from error


def _relabel(path: Path, change: Callable[[Meta], Meta], disk: Disk) -> Meta:
    file = RecordingFile(path)
    try:
        meta, _ = labels(file)
        document = file.document
    finally:
        file.close()
    new = change(meta)
    if new == meta:
        return meta
    _check(new)
    _write(path, document | {"meta": new.to_dict()}, new, disk)
    return new


def set_truth(path: Path, truth: tuple[str, ...] | None) -> Meta:
    """Say what really stood there; None: not known."""
    return relabel(path, lambda meta: replace(meta, truth=truth))


def add_tags(path: Path, tags: tuple[str, ...], *, remove: bool = False) -> Meta:
    """Add tags, or take them away."""

    def change(meta: Meta) -> Meta:
        kept = tuple(tag for tag in meta.tags if tag not in tags) if remove else tuple(dict.fromkeys(meta.tags + tags))
        return replace(meta, tags=kept)

    return relabel(path, change)


def rename(path: Path, name: str) -> Meta:
    """Call the run otherwise; the file keeps its name."""
    return relabel(path, lambda meta: replace(meta, name=name))


def remark(path: Path, text: str) -> Meta:
    """Replace the remarks."""
    return relabel(path, lambda meta: replace(meta, remarks=text))


def _check(meta: Meta) -> None:
    course = parse_course(meta.course) if meta.course else None
    if meta.truth is None:
        return
    if course is None:
        raise TruthError("a truth needs a course, which says what the slots are", todo="Set the course first")
    check_truth(meta.truth, course)


def _write(path: Path, document: dict[str, object], meta: Meta, disk: Disk) -> None:
    with replacing(disk, path) as image:
        with path.open("rb") as old:
            shutil.copyfileobj(old, image, 1 << 20)
        safe = SafeImage(image, size=path.stat().st_size)
        try:
            with h5py.File(safe, "r+", libver=("v110", "v110")) as file:
                write_attributes(file, title_attributes(meta))
                write_document(file, document)
        except BROKEN as error:  # a short one is read past HDF5, which may find damage where nothing of ours lies
            safe.check()
            raise RecordingError(
                "the recording is damaged, so its labels cannot be changed", where=str(path), todo=ANEW
            ) from error
        safe.check()
    written_by_us(path)


def _being_captured(path: Path) -> StorageError:
    reader = JournalReader(journal_path(path))
    busy = reader.has_writer
    reader.close()
    if busy:
        return StorageError("this run is being captured right now", where=str(path), todo="Set its labels when it has ended")
    return StorageError("this capture was broken off", where=str(path), todo="List the folder once with: sidelong runs")
