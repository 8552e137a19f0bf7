"""Journal to recording to table, and what others see in the file."""

from __future__ import annotations

import json
import shutil
import zlib
from pathlib import Path

import h5py
import numpy as np
import pytest
from numpy.testing import assert_array_equal

from recording.streams import stream
from telemetry.errors import RecordingError
from telemetry.recording.follow import Follower
from telemetry.recording.hdf5.layout import BLOCK
from telemetry.recording.journal.records import JournalWriter, Record, RecordKind, journal_path
from telemetry.recording.load import load
from telemetry.recording.make import make_recording, recover, write_recording
from telemetry.recording.meta import Meta
from telemetry.recording.relabel import set_truth
from telemetry.sample import SampleTable

T0_NS = 1_764_000_000_000_000_000


def write_journal(path: Path, pieces: list[bytes], meta: Meta, *, end: bool = True) -> Path:
    journal = JournalWriter(journal_path(path), meta.begun(), made_ns=T0_NS)
    for i, piece in enumerate(pieces):
        journal.received(T0_NS + i * 5_000_000, piece)
    if end:
        journal.end(T0_NS + len(pieces) * 5_000_000, "test over")
    journal.close()
    return journal.path


def same(one: SampleTable, other: SampleTable) -> None:
    assert one.rows == other.rows
    assert one.columns.keys() == other.columns.keys()
    for name, values in one.columns.items():
        assert values.dtype == other.columns[name].dtype, name
        assert_array_equal(values, other.columns[name], err_msg=name)
    assert (one.colours, one.notes, one.rejected, one.console) == (other.colours, other.notes, other.rejected, other.console)
    assert (one.remarks, one.ranges, one.units, one.lost) == (other.remarks, other.ranges, other.units, other.lost)


def followed(path: Path) -> Follower:
    follower = Follower(path)
    while follower.poll():
        pass
    follower.close()
    return follower


def test_a_recording_holds_what_the_journal_held(tmp_path: Path) -> None:
    path = tmp_path / "run.h5"
    pieces = [*stream(300), b"12,oops\n", b"\x00\xff\\garbage\n", b"Traceback (most recent call last):\n", b"9,9"]
    write_journal(path, pieces, Meta(name="one", tags=("wet",), truth=None, height_mm=12.5, simulated=True))
    before = followed(path)
    made, _ = make_recording(journal_path(path))
    assert made == path
    assert not journal_path(path).exists()
    after = load(path)
    same(before.table, after.table)
    assert before.meta == after.meta
    assert before.summary == after.summary
    assert after.table.rows == 300
    assert len(after.table.rejected) >= 2
    assert b"".join(data for _, data in after.raw()) == b"".join(pieces)
    assert [arrival for arrival, _ in after.raw()] == [T0_NS // 1000 + 5000 * i for i in range(len(pieces))]
    same(followed(path).table, after.table)


def test_an_orphan_journal_becomes_a_recording_and_says_so_once(tmp_path: Path) -> None:
    path = tmp_path / "run.h5"
    write_journal(path, stream(100), Meta(), end=False)
    (found,) = recover(tmp_path)
    assert str(found) == "run.h5 was recovered from a capture that was broken off: 100 samples"
    assert recover(tmp_path) == []
    assert load(path).table.rows == 100
    assert not load(path).summary.end


def test_a_running_capture_is_never_recovered(tmp_path: Path) -> None:
    journal = JournalWriter(tmp_path / "run.h5.journal", Meta().begun(), made_ns=T0_NS)
    journal.received(T0_NS, b"1,2\n")
    assert recover(tmp_path) == []
    assert followed(tmp_path / "run.h5").state == "growing"
    journal.close()


def test_a_newer_layout_is_refused(tmp_path: Path) -> None:
    from telemetry.recording.hdf5.attributes import write_document

    path = tmp_path / "run.h5"
    write_journal(path, stream(10), Meta())
    make_recording(journal_path(path))
    with h5py.File(path, "r+") as file:
        document = json.loads(zlib.decompress(file.attrs["sidelong"].tobytes()))
        write_document(file, document | {"layout": 99})
    with pytest.raises(RecordingError, match=r"newer Sidelong \(layout 99"):
        load(path)


def test_columns_of_any_kind_come_back(tmp_path: Path) -> None:
    header = b"#n,t/us,colour,colour.side,odd-name/m,dist/mm,refl/1\n"
    rows = [
        b"%d,%d,rust,,%s,%s,0.5\n" % (i, i * 1000, b"1e300" if i % 3 else b"", b"-0.0" if i % 2 else b"7") for i in range(40)
    ]
    late = [b"#t/ms,speed/cm/s\n", *(b"%d,%d.5\n" % (41 + i, i) for i in range(20))]
    path = tmp_path / "run.h5"
    write_journal(path, [header, *rows, *late], Meta())
    before = followed(path)
    make_recording(journal_path(path))
    after = load(path)
    same(before.table, after.table)
    assert np.signbit(after.table.columns["dist"][1])


def test_a_short_stream_of_very_many_lines_is_one_chunk_a_column(tmp_path: Path) -> None:
    path = tmp_path / "run.h5"
    lines = [b"#t/ms,refl\n", *(b"%d,%d\n" % (i, i % 10) for i in range(24_000)), b"x\n" * 9_000]
    records = [Record(RecordKind.BYTES, T0_NS + i * 1000, line) for i, line in enumerate(lines)]
    write_recording(iter(records), path, most_bytes=sum(map(len, lines)))
    after = load(path)
    assert after.table.rows == 24_000
    assert after.table.columns["refl"].tolist() == [i % 10 for i in range(24_000)]
    assert len(after.table.console) == 9_000
    assert b"".join(data for _, data in after.raw()) == b"".join(lines)


@pytest.mark.parametrize("layout", [1, 2])
def test_a_recording_of_an_earlier_layout_reads_as_ever(tmp_path: Path, layout: int) -> None:
    """``layout-N.h5`` was made when that was the layout; making it again of its raw bytes gives the same."""
    old = load(Path(__file__).with_name(f"layout-{layout}.h5"))
    assert not old.damage
    assert old.table.rows == 155
    path = tmp_path / "run.h5"
    write_recording(iter([Record(RecordKind.BYTES, us * 1000, data) for us, data in old.raw()]), path, most_bytes=10_000)
    same(load(path).table, old.table)
    copy = tmp_path / "copy.h5"
    shutil.copy(old.path, copy)
    set_truth(copy, None)
    same(load(copy).table, old.table)
    assert load(copy).truth is None


@pytest.mark.parametrize("odd_at", [5, BLOCK + 5, 2 * BLOCK + 5])
def test_a_clock_that_once_gives_a_fraction_of_a_millisecond_loses_none(tmp_path: Path, odd_at: int) -> None:
    lines = [b"#t/us,refl/%\n", *(b"%d,%d\n" % (i * 1000 + 7 * (i == odd_at), i % 50) for i in range(2 * BLOCK + 100))]
    records = [Record(RecordKind.BYTES, T0_NS + i * 1_000_000, line) for i, line in enumerate(lines)]
    write_recording(iter(records), tmp_path / "run.h5")
    after = load(tmp_path / "run.h5")
    assert not after.damage
    assert after.table.columns["t_us"].tolist() == [i * 1000 + 7 * (i == odd_at) for i in range(2 * BLOCK + 100)]


@pytest.mark.parametrize(("unit", "written"), [(b"ms", "ms"), (b"us", "us")])
def test_the_robot_s_clock_says_its_unit(tmp_path: Path, unit: bytes, written: str) -> None:
    pieces = [b"#t/%b,refl/%%\n" % unit, *(b"%d,%d\n" % (1001 * i, i) for i in range(20))]
    make_recording(write_journal(tmp_path / "run.h5", pieces, Meta()))
    with h5py.File(tmp_path / "run.h5") as file:
        assert file["robot_time"].attrs["units"].decode() == written
        assert file["robot_time"][:].tolist() == [1001 * i for i in range(20)]
