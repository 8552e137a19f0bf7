"""A journal kept since version 1 of its format: it is read, written again byte for byte, and taken apart by hand."""

from __future__ import annotations

import shutil
import struct
import zlib
from pathlib import Path

import pytest

from recording.test_journal import read_all
from telemetry.recording.journal import records
from telemetry.recording.journal.records import JournalWriter, RecordKind
from telemetry.recording.load import load
from telemetry.recording.make import recover
from telemetry.recording.meta import Meta

GOLDEN = Path(__file__).with_name("journal-1.journal")
T0_NS = 1_767_225_600_000_000_000
"""2026-01-01 00:00 UTC."""
PAYLOADS = [
    (RecordKind.META, 0, b'{"name":"golden","source":"tests"}'),
    (RecordKind.BYTES, 1, b"#t/ms,colour,dist/cm\n10,none,0.0\n"),
    (RecordKind.GAP, 2, b"unplugged"),
    (RecordKind.RESUMED, 3, b"plugged in"),
    (RecordKind.BYTES, 4, b"20,rust,0.5\n"),
    (RecordKind.MARK, 5, b"here"),
    (RecordKind.END, 6, b"stopped by the user"),
]
"""Kind, ms after T0, payload."""


def test_it_is_read() -> None:
    found, damage = read_all(GOLDEN)
    assert not damage
    assert [(one.kind, one.arrival_ns, one.payload) for one in found] == [
        (kind, T0_NS + ms * 1_000_000, payload) for kind, ms, payload in PAYLOADS
    ]


def test_it_is_what_its_document_says() -> None:
    """Taken apart with nothing but struct and zlib: magic, version, sync word, times, lengths, running numbers, CRC-32."""
    data = GOLDEN.read_bytes()
    magic, version, sync, made_ns = struct.unpack_from("<8sI4sq", data)
    assert (magic, version, made_ns) == (b"\x89SLJ\r\n\x1a\n", 1, T0_NS)
    assert struct.unpack_from("<I", data, 32)[0] == zlib.crc32(data[:32])
    at = 36
    for number, (kind, ms, payload) in enumerate(PAYLOADS):
        begin, its_kind, its_number, length, arrival_ns = struct.unpack_from("<4sB3xIIq", data, at)
        assert (begin, its_kind, its_number, arrival_ns) == (sync, kind, number, T0_NS + ms * 1_000_000)
        end = at + 24 + length
        assert data[at + 24 : end] == payload
        assert struct.unpack_from("<I", data, end)[0] == zlib.crc32(data[at:end])
        at = end + 4
    assert at == len(data)


def test_it_is_written_byte_for_byte(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sync = GOLDEN.read_bytes()[12:16]
    monkeypatch.setattr(records.os, "urandom", lambda count: sync[:count])
    writer = JournalWriter(tmp_path / "run.h5.journal", Meta(name="golden", source="tests"), made_ns=T0_NS)
    writer.many([(kind, T0_NS + ms * 1_000_000, payload) for kind, ms, payload in PAYLOADS[1:]])
    writer.close()
    assert (tmp_path / "run.h5.journal").read_bytes() == GOLDEN.read_bytes()


def test_it_becomes_a_recording(tmp_path: Path) -> None:
    shutil.copy(GOLDEN, tmp_path / "run.h5.journal")
    assert recover(tmp_path)
    run = load(tmp_path / "run.h5")
    assert run.table.rows == 1
    assert len(run.table.rejected) == 1  # after an interruption nobody knows whether the first line is whole
    assert run.meta.name == "golden"
    assert [gap.reason for gap in run.gaps] == ["unplugged"]
    assert [mark.text for mark in run.marks] == ["here"]
    assert run.summary.end == "stopped by the user"
