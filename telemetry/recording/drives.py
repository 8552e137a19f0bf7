"""A recording in which the robot drove several times: each drive becomes a recording of its own, beside it.

Cut by sample, so a text that was fetched, all of which arrived at once, is cut as well as a capture.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from telemetry.recording.assemble import Assembler
from telemetry.recording.cut import records_from, write_cut
from telemetry.recording.disk.replacing import free_name
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.journal.trail import StreamState
from telemetry.recording.load import Recording
from telemetry.stream.drives import RunFound, drives

GoesOn = Callable[[int, int], bool]
"""Told the drive at work and how many there are; the answer False stops the work."""
_TOGETHER = 500
"""So many lines are decoded before what they gave is let go."""


def drives_in(recording: Recording) -> int:
    """How many drives are in a run: more than one, where it was ended too late and the drives can be told apart."""
    return len(drives(recording.table))


def cut_into_drives(recording: Recording, goes_on: GoesOn = lambda _number, _of: True) -> list[Path]:
    """Each drive as a recording of its own beside this one, which stays as it is; their paths. Raises SidelongError.

    The labels are kept but for the truth, which is that of one run only. Where ``goes_on`` stops the work or it fails,
    nothing is left of what was made; where it is stopped, the list is empty.
    """
    found = drives(recording.table)
    if found and found[-1].last == recording.table.rows - 1:
        found[-1] = replace(found[-1], last=sys.maxsize)  # what the robot said after its last sample belongs to it
    out: list[Path] = []
    done = False
    try:
        for number, (drive, records) in enumerate(zip(found, _stretches(recording.path, found), strict=True), start=1):
            if not goes_on(number, len(found)):
                return []
            out.append(_keep(recording, drive, records, number))
        done = goes_on(len(found), len(found))
        return out if done else []
    finally:
        if not done:
            for path in out:
                path.unlink(missing_ok=True)


def _keep(recording: Recording, drive: RunFound, records: Sequence[Record], number: int) -> Path:
    marks = [(mark.arrival_us, mark.text) for mark in recording.marks if drive.first <= mark.row <= drive.last]
    with free_name(recording.path.parent, f"{recording.path.stem} run {number}") as target:
        meta = replace(recording.meta, id="", name=target.stem, truth=None, made="")
        write_cut(records, target, meta.begun(_made(recording, drive)), marks)
    return target


def _made(recording: Recording, drive: RunFound) -> datetime:
    """When the drive began; of a fetched text, as long after its beginning as the robot's clock says."""
    if recording.meta.fetched and recording.meta.made:
        t_us = recording.table.columns["t_us"]
        after = timedelta(microseconds=max(0, int(t_us[drive.first]) - int(t_us[0])))
        return datetime.fromisoformat(recording.meta.made) + after
    return datetime.fromtimestamp(drive.begin_us / 1e6).astimezone()


def _stretches(path: Path, found: Sequence[RunFound]) -> Iterator[list[Record]]:
    """What each drive's samples came from, line by line, after the header lines that held at its beginning."""
    waiting = iter(found)
    drive = next(waiting, None)
    held: list[Record] = []
    for row, record, header in _by_line(path):
        if drive is not None and row > drive.last:
            yield held
            held, drive = [], next(waiting, None)
        if drive is None:
            return
        if row < drive.first:
            continue
        if not held and record.kind is RecordKind.BYTES and header:
            held.append(Record(RecordKind.BYTES, record.arrival_ns, header))
        if held or record.kind is RecordKind.BYTES:
            held.append(record)
    if drive is not None:
        yield held


def _by_line(path: Path) -> Iterator[tuple[int, Record, bytes]]:
    """(number of the next sample, line or other record, the header lines that hold there)."""
    assembler, standing = Assembler(), StreamState()
    count = 0
    for record in records_from(path)[0]:
        if record.kind is RecordKind.META:
            assembler.feed(record)  # before any row is asked for: it may name the columns
            continue
        if record.kind is not RecordKind.BYTES:
            if record.kind is RecordKind.GAP:
                standing.half = b""
            yield assembler.rows, record, standing.header
            assembler.feed(record)
            continue
        for payload in record.payload.splitlines(keepends=True):
            line = Record(RecordKind.BYTES, record.arrival_ns, payload)
            yield assembler.rows, line, standing.header
            count += 1
            assembler.feed(line, more=count % _TOGETHER != 0)
            standing.pass_by(payload)
