"""A recording read anew from the bytes that arrived, where the names of its columns were forgotten or wrong."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path
from typing import Final

from telemetry.errors import RecordingError
from telemetry.recording.assemble import Assembler
from telemetry.recording.cut import records_from, write_cut
from telemetry.recording.journal.records import RecordKind
from telemetry.recording.load import load
from telemetry.recording.meta import Meta

END: Final = "read again, with other column names"


def read_again(path: Path, target: Path, given: Meta) -> Assembler:
    """Write what arrived in ``path`` to ``target``, its columns named by ``given``; ``path`` stays as it is.

    Labels that ``given`` leaves open are those of ``path``. Raises RecordingError, StorageError.
    """
    recording = load(path)
    records = [record for record in records_from(path)[0] if record.kind is not RecordKind.META]
    if not any(record.kind is RecordKind.BYTES for record in records):
        raise RecordingError("nothing arrived in it, so there is nothing to read", where=str(path))
    bare, kept = Meta(), replace(recording.meta, id="", columns="", truth=None)
    names = [one.name for one in fields(Meta) if one.name not in {"id", "made", "source", "fetched"}]
    said = {name: getattr(given, name) for name in names}
    meta = replace(kept, **{name: value for name, value in said.items() if value != getattr(bare, name)})
    if meta.course == kept.course and meta.truth is None:
        meta = replace(meta, truth=recording.meta.truth)
    return write_cut(records, target, meta, [(mark.arrival_us, mark.text) for mark in recording.marks], end=END)
