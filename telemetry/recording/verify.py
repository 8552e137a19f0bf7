"""Reads every bit of a recording and says what is not as it was written.

Since layout 3 every part has its CRC-32. Where one was written without, the raw bytes are decoded again and held against the
samples: bytes of a short one have a CRC-32 too, that of the .xz format. What is whole so far is then read as other programs
read it, every object of it: a damaged dimension scale means nothing to Sidelong and shuts the file to xarray.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from telemetry.errors import RecordingError, SidelongError, StorageError
from telemetry.recording.hdf5.expendable import visited
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import SUFFIX
from telemetry.recording.library import recordings_in
from telemetry.recording.load import decode, labels, records_of


@dataclass(frozen=True, slots=True)
class Verified:
    """One file. ``problem`` empty: whole. ``by``: what it was held against, ``CRC-32`` or ``raw bytes``."""

    path: Path
    problem: str = ""
    by: str = "CRC-32"


def verify(path: Path) -> Verified:
    """One recording or journal, read to its last bit."""
    try:
        if path.name.endswith(SUFFIX):
            return _journal(path)
        others = visited(path)
        found = _recording(path)
        return found if found.problem else replace(found, problem=others)
    except (RecordingError, StorageError) as error:
        return Verified(path, error.what)


def verify_folder(folder: Path, progress: Callable[[float], None] | None = None) -> Iterator[Verified]:
    """Every recording and journal in ``folder``. Raises StorageError where there is no such folder."""
    names = recordings_in(folder)
    for number, name in enumerate(names, start=1):
        yield verify(folder / name)
        if progress is not None:
            progress(number / len(names))


def _recording(path: Path) -> Verified:
    file = RecordingFile(path, by_hdf5=True)
    try:
        by = "CRC-32" if "crc32" in file.document else "raw bytes"
        meta, summary = labels(file)
        columns, events = file.columns(), file.events()
        if columns is None or events is None:
            return Verified(path, "; ".join(dict.fromkeys(file.damage)), by)
        for _ in file.raw():
            pass
        if by == "CRC-32" or not file.document["bytes"]:
            return Verified(path, "", by)
        try:
            _, table = decode(records_of(file, meta, summary))
        except SidelongError as error:
            return Verified(path, f"its raw bytes cannot be read ({error.what})", by)
        other = [
            channel
            for channel, values in columns.items()
            if channel not in table.columns
            or not np.array_equal(values, table.columns[channel], equal_nan=values.dtype.kind == "f")
        ]
        return Verified(path, f"its raw bytes say otherwise of {', '.join(other)}" if other else "", by)
    finally:
        file.close()


def _journal(path: Path) -> Verified:
    reader = JournalReader(path)
    try:
        writing = reader.has_writer
        while reader.read():
            pass
        while not writing and reader.read(final=True):
            pass
        return Verified(path, "; ".join(reader.damage))
    finally:
        reader.close()
