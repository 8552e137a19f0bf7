"""Killed at every step of a capture, the making of the recording and the renaming included; and full at every one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from recording.test_recording import same

from faults.faulty_disk import FaultyDisk, is_full
from faults.one_capture import PIECES, capture
from telemetry.errors import StorageError
from telemetry.recording.capture import Capture
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.load import decode, load
from telemetry.recording.make import recover

STRIDES = pytest.mark.parametrize("stride", [5, pytest.param(1, marks=pytest.mark.soak)])
"""Every fifth step in the fast tests; all of them outside."""
WHOLE = b"".join(PIECES)


def check_whole_prefix(folder: Path, least: int) -> int:
    """The recording holds a prefix of the stream, at least ``least`` bytes of it, rightly decoded; gives its bytes."""
    run = load(folder / "run.h5")
    reads = list(run.raw())
    raw = b"".join(data for _, data in reads)
    assert WHOLE.startswith(raw)
    assert len(raw) >= least
    assert not run.damage or all("breaks off within its last piece" in what for what in run.damage)
    records = [Record(RecordKind.META, 0, run.meta.to_json().encode())]
    _, again = decode(iter([*records, *(Record(RecordKind.BYTES, at * 1000, data) for at, data in reads)]))
    if not run.damage:
        same(run.table, again)
    for part in folder.glob(".sidelong-*"):
        os.utime(part, (1.0, 1.0))
    assert recover(folder) == []
    assert [path.name for path in folder.iterdir()] == ["run.h5"]
    return len(raw)


def stream_bytes(folder: Path, size: int) -> int:
    """Bytes of the stream in the first ``size`` bytes of the journal, or of it whole where it is gone."""
    from telemetry.recording.journal.reader import JournalReader

    journal = folder / "run.h5.journal"
    if not journal.exists():
        return len(WHOLE) if size else 0
    part = folder / "part"
    part.write_bytes(journal.read_bytes()[:size])
    reader = JournalReader(part)
    kept = sum(len(record.payload) for record in reader.read() if record.kind is RecordKind.BYTES)
    reader.close()
    part.unlink()
    return kept


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks to die quickly")
@STRIDES
def test_killed_at_every_step_nothing_is_lost(tmp_path: Path, stride: int) -> None:
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parent.parent)}
    script = [sys.executable, "-m", "faults.one_capture", str(tmp_path), str(stride)]
    done = subprocess.run(script, env=environment, capture_output=True, text=True, check=True, timeout=100)
    tries = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(tries) > 60 // stride, "the capture is expected to ask more of the disk"
    print(f"{len(tries) - 1} kills at steps of the file layer")
    assert tries[-1]["code"] == 0
    for one in tries:
        folder = tmp_path / str(one["step"])
        least = stream_bytes(folder, one["journal_bytes"])
        said = recover(folder)
        assert recover(folder) == []
        assert all(not found.error for found in said)
        if (folder / "run.h5").exists():
            check_whole_prefix(folder, least)
        else:
            assert least == 0
            assert not any(path.stat().st_size for path in folder.glob("*.journal"))


@STRIDES
def test_full_at_every_step_nothing_is_lost_and_it_is_said(tmp_path: Path, stride: int) -> None:
    step, failed = 0, 0
    while True:
        folder = tmp_path / str(step)
        folder.mkdir()
        disk = FaultyDisk(step, is_full)
        sizes: list[int] = [0]
        disk.told = sizes.append
        error = None
        try:
            error = run_to_the_end(folder, disk)
        except StorageError as refused:
            error = refused
        if error is not None:
            failed += 1
            assert "the disk is full" in str(error)
        least = stream_bytes(folder, sizes[-1])
        # Room was made, and Sidelong starts again.
        recover(folder)
        if (folder / "run.h5").exists():
            check_whole_prefix(folder, least)
        else:
            assert least == 0
        if disk.steps <= step:
            break
        step += stride
    print(f"{failed} of {step // stride} full disks at steps of the file layer stood in the way")
    assert failed > 40 // stride


def run_to_the_end(folder: Path, disk: FaultyDisk) -> Exception | None:
    """As the command does it: the error that ended it, if any."""
    held: list[Capture] = []
    original = Capture.start

    def start(self: Capture) -> None:
        held.append(self)
        original(self)

    Capture.start = start  # type: ignore[method-assign]
    try:
        capture(folder, disk)
    finally:
        Capture.start = original  # type: ignore[method-assign]
    return held[0].error if held else None
