"""Small files that would take minutes or gigabytes: bounded before they are read."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import pytest
from recording.streams import stream
from recording.test_recording import write_journal

from faults import hostile
from telemetry.course import load_course, parse_course
from telemetry.errors import CourseError, RecordingError, SidelongError
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import RecordKind
from telemetry.recording.load import load
from telemetry.recording.meta import Meta
from telemetry.sample import SampleTable
from telemetry.stream.columns import MOST_CHANNELS
from telemetry.stream.decoder import Decoder


def work_in(reader: JournalReader) -> tuple[int, list]:
    """Bytes summed in vain, and the records found."""
    records = []
    while more := reader.read() or reader.read(final=True):
        records += more
    reader.close()
    return reader._in_vain, records


def test_a_journal_of_which_every_word_looks_like_a_beginning_is_read_in_linear_work(tmp_path: Path) -> None:
    path = tmp_path / "run.h5.journal"
    vain = {}
    for size in (1 << 20, 1 << 21):
        hostile.journal_of_sync_words(path, size)
        vain[size], records = work_in(JournalReader(path))
        assert [record.kind for record in records] in ([], [RecordKind.DAMAGE])
    assert vain[1 << 21] < 3 * (1 << 26), "it gives up long records after a while"


def test_records_behind_such_a_stretch_are_still_found(tmp_path: Path) -> None:
    path = write_journal(tmp_path / "run.h5", stream(300), Meta())
    data = path.read_bytes()
    word = data[12:16]
    middle = len(data) // 2
    path.write_bytes(data[:middle] + (word + b"\x02" * 20) * 20_000 + data[middle:])
    _, records = work_in(JournalReader(path))
    kept = b"".join(record.payload for record in records if record.kind is RecordKind.BYTES)
    whole = b"".join(stream(300))
    assert len(whole) - len(kept) < 200
    assert sum(record.kind is RecordKind.DAMAGE for record in records) == 1


def test_a_course_of_thousands_of_slots_is_refused_at_once() -> None:
    text = '[course]\nname = "x"\n' + "".join(f'[[slot]]\nname = "{i}"\ncolours = ["rust", "leaf"]\n' for i in range(20_000))
    with pytest.raises(CourseError, match="20000 slots"):
        parse_course(text)
    with pytest.raises(CourseError, match="longer than"):
        parse_course("#" * (1 << 21))


def test_hundreds_of_different_headers_do_not_fill_memory() -> None:
    decoder, table = Decoder(), SampleTable()
    for i in range(200):
        for chunk in decoder.feed(f"#t/ms,c{i}/m,d{i}/m\n{i},1,2\n".encode() + b"3,4,5\n" * 20, i):
            table.append(chunk)
    for chunk in decoder.finish():
        table.append(chunk)
    assert len(table.columns) < MOST_CHANNELS + 10
    assert table.rows == 200 * 21
    assert table.columns["column 2"][-1] == 4.0, "what has no channel of its own goes by its place"


@pytest.mark.skipif(sys.platform == "win32", reason="pipes of POSIX")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    for name in ("x.h5", "x.toml", "y.h5.journal"):
        os.mkfifo(tmp_path / name)
    with pytest.raises(RecordingError):
        load(tmp_path / "x.h5")
    with pytest.raises(SidelongError):
        load(tmp_path / "y.h5")
    with pytest.raises(CourseError):
        load_course(tmp_path / "x.toml")
