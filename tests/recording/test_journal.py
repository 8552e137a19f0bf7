"""The journal: append-only, findable after damage, never mistaken for something else."""

from __future__ import annotations

import errno
import os
import struct
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recording.test_recording import T0_NS
from telemetry.errors import RecordingError, StorageError
from telemetry.recording.disk.errors import storage_error
from telemetry.recording.follow import Follower
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import (
    CRC,
    HEADER,
    LONGEST,
    PIECE,
    RECORD,
    VERSION,
    JournalWriter,
    Record,
    RecordKind,
    journal_path,
    recording_path,
)
from telemetry.recording.load import load
from telemetry.recording.make import recover
from telemetry.recording.meta import Meta

ITEMS = st.lists(
    st.tuples(
        st.sampled_from([RecordKind.BYTES, RecordKind.GAP, RecordKind.RESUMED, RecordKind.MARK]),
        st.binary(min_size=1, max_size=3 * PIECE),
    ),
    max_size=12,
)


def read_all(path: Path) -> tuple[list[Record], list[str]]:
    reader = JournalReader(path)
    out: list[Record] = []
    while records := reader.read(most=500):
        out += records
    while records := reader.read(final=True):
        out += records
    reader.close()
    return out, reader.damage


def joined(records: list[Record]) -> list[tuple[RecordKind, bytes]]:
    """Kinds and payloads, with neighbouring bytes put together again."""
    out: list[tuple[RecordKind, bytes]] = []
    for record in records:
        if out and out[-1][0] is RecordKind.BYTES is record.kind:
            out[-1] = (RecordKind.BYTES, out[-1][1] + record.payload)
        else:
            out.append((record.kind, record.payload))
    return out


@settings(max_examples=50, deadline=None)
@given(ITEMS)
def test_what_is_written_is_read(tmp_path_factory: pytest.TempPathFactory, items: list[tuple[RecordKind, bytes]]) -> None:
    path = tmp_path_factory.mktemp("j") / "run.h5.journal"
    writer = JournalWriter(path, Meta(name="x"), made_ns=T0_NS)
    writer.many([(kind, T0_NS + i, data) for i, (kind, data) in enumerate(items)])
    writer.close()
    records, damage = read_all(path)
    assert damage == []
    assert Meta.from_json(records[0].text).name == "x"
    assert joined(records[1:]) == joined([Record(kind, 0, data) for kind, data in items])
    assert path.stat().st_size == writer.length


@pytest.mark.parametrize("size", [PIECE - 1, PIECE, PIECE + 1, 3 * PIECE])
def test_every_byte_that_arrives_at_once_is_written(tmp_path: Path, size: int) -> None:
    data = bytes(number % 251 for number in range(size))
    writer = JournalWriter(tmp_path / "run.h5.journal", Meta(), made_ns=T0_NS)
    writer.received(T0_NS, data)
    writer.close()
    records, damage = read_all(tmp_path / "run.h5.journal")
    assert damage == []
    assert joined(records)[1] == (RecordKind.BYTES, data)


def test_a_link_that_came_back_is_not_down(tmp_path: Path) -> None:
    writer = JournalWriter(journal_path(tmp_path / "run.h5"), Meta(), made_ns=T0_NS)
    writer.received(T0_NS, b"#t/ms,red\n1,1\n")
    follower = Follower(tmp_path / "run.h5")
    down = []
    for step in (lambda: None, lambda: writer.gap(T0_NS + 10**9, "the link dropped"),
                 lambda: writer.received(T0_NS + 2 * 10**9, b"2,1\n")):  # fmt: skip
        step()
        follower.poll()
        down.append(follower.link_is_down)
    follower.close()
    writer.close()
    assert down == [False, True, False]


def test_a_run_whose_robot_says_that_it_is_simulated_is_so_whatever_its_labels_say(tmp_path: Path) -> None:
    writer = JournalWriter(journal_path(tmp_path / "run.h5"), Meta(), made_ns=T0_NS)
    writer.received(T0_NS, b"#t/ms,red\n!1,simulated robot, level practice\n1,1\n")
    writer.close()
    recover(tmp_path)
    assert load(tmp_path / "run.h5").meta.simulated


def test_labels_longer_than_one_read_are_read_and_all_that_follows(tmp_path: Path) -> None:
    path = tmp_path / "run.h5.journal"
    writer = JournalWriter(path, Meta(remarks="x" * 300_000), made_ns=T0_NS)
    writer.received(T0_NS, b"17,1020,rust\n")
    writer.close()
    (said,) = recover(tmp_path)
    assert said.recording is not None
    assert not said.damage
    file = RecordingFile(said.recording)
    assert b"".join(data for _, data in file.raw()) == b"17,1020,rust\n"
    file.close()


@pytest.mark.parametrize("hole", [1_000, 70_000, 300_000])
def test_a_hole_of_any_size_costs_only_itself(tmp_path: Path, hole: int) -> None:
    """After a power cut a disk may hold zeros where blocks were never written."""
    path = tmp_path / "run.h5.journal"
    writer = JournalWriter(path, Meta(), made_ns=T0_NS)
    for i in range(20_000):
        writer.received(T0_NS + i, b"%05d\n" % i)
    writer.close()
    data = path.read_bytes()
    path.write_bytes(data[:20_000] + bytes(hole) + data[20_000 + hole :])
    records, damage = read_all(path)
    kept = b"".join(record.payload for record in records if record.kind is RecordKind.BYTES)
    assert kept.startswith(b"00000\n")
    assert kept.endswith(b"19999\n")
    assert len(kept) > (20_000 - hole // (writer.length // 20_000) - 3) * 6
    assert len(damage) == 1


@settings(max_examples=100, deadline=None)
@given(ITEMS, st.data())
def test_a_growing_journal_is_read_in_any_pieces(
    tmp_path_factory: pytest.TempPathFactory, items: list[tuple[RecordKind, bytes]], data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("j")
    writer = JournalWriter(folder / "whole", Meta(), made_ns=T0_NS)
    writer.many([(kind, T0_NS + i, payload) for i, (kind, payload) in enumerate(items)])
    writer.end(T0_NS)
    writer.close()
    whole = (folder / "whole").read_bytes()
    cuts = sorted(data.draw(st.lists(st.integers(0, len(whole)), max_size=8)))
    growing = folder / "growing"
    growing.write_bytes(b"")
    reader = JournalReader(growing)
    records: list[Record] = []
    for begin, end in zip([0, *cuts], [*cuts, len(whole)], strict=True):
        with growing.open("ab") as file:
            file.write(whole[begin:end])
        while more := reader.read():
            records += more
    assert reader.ended
    assert reader.damage == []
    assert records == read_all(folder / "whole")[0]
    reader.close()


def test_the_robot_cannot_send_a_record(tmp_path: Path) -> None:
    """A journal within a journal, cut so that the reader has to search, is still only what the robot sent."""
    inner = JournalWriter(tmp_path / "inner", Meta(name="inner"), made_ns=T0_NS)
    inner.received(T0_NS, b"1,2,3\n")
    inner.close()
    writer = JournalWriter(tmp_path / "outer", Meta(name="outer"), made_ns=T0_NS)
    start = writer.length
    writer.received(T0_NS, (tmp_path / "inner").read_bytes())
    writer.received(T0_NS, b"after\n")
    writer.close()
    data = bytearray((tmp_path / "outer").read_bytes())
    data[start + 5] ^= 0xFF
    (tmp_path / "outer").write_bytes(data)
    records, damage = read_all(tmp_path / "outer")
    assert [record.kind for record in records] == [RecordKind.META, RecordKind.DAMAGE, RecordKind.BYTES]
    assert records[-1].payload == b"after\n"
    assert "1 piece of the stream" in damage[0]


def test_a_newer_journal_is_refused(tmp_path: Path) -> None:
    JournalWriter(tmp_path / "j", Meta(), made_ns=T0_NS).close()
    data = bytearray((tmp_path / "j").read_bytes())
    data[8:12] = struct.pack("<I", VERSION + 1)
    data[32:36] = struct.pack("<I", zlib.crc32(data[:32]))
    (tmp_path / "j").write_bytes(data)
    with pytest.raises(RecordingError, match="newer Sidelong"):
        read_all(tmp_path / "j")


def with_records(path: Path, *records: tuple[int, bytes]) -> tuple[list[Record], list[str]]:
    """A journal, made where it is not there yet, with (running number, payload) of records at its end."""
    if not path.exists():
        JournalWriter(path, Meta(), made_ns=T0_NS).close()
    word = path.read_bytes()[HEADER.size : HEADER.size + 4]
    with path.open("ab") as file:
        for number, payload in records:
            record = RECORD.pack(word, RecordKind.BYTES, number, len(payload), T0_NS) + payload
            file.write(record + CRC.pack(zlib.crc32(record)))
    return read_all(path)


def test_a_piece_that_comes_again_is_left_out(tmp_path: Path) -> None:
    """A disk that was cut off from power may hold a block in two places."""
    records, damage = with_records(tmp_path / "j", (1, b"one\n"), (2, b"two\n"), (1, b"one\n"), (3, b"three\n"))
    assert b"".join(record.payload for record in records[1:]) == b"one\ntwo\nthree\n"
    assert len(damage) == 1
    assert "an older piece came again" in damage[0]


@pytest.mark.parametrize(("size", "kept"), [(LONGEST, True), (LONGEST + 1, False)])
def test_no_record_is_longer_than_the_longest(tmp_path: Path, size: int, kept: bool) -> None:
    records, damage = with_records(tmp_path / "j", (1, bytes(size)), (2, b"two\n"))
    assert [len(record.payload) for record in records if record.kind is RecordKind.BYTES] == [size] * kept + [4]
    assert bool(damage) is not kept


def test_bytes_between_two_records_are_damage_of_no_piece(tmp_path: Path) -> None:
    with_records(tmp_path / "j", (1, b"one\n"))
    with (tmp_path / "j").open("ab") as file:
        file.write(b"spilt")
    records, damage = with_records(tmp_path / "j", (2, b"two\n"))
    assert [record.kind for record in records[1:]] == [RecordKind.BYTES, RecordKind.DAMAGE, RecordKind.BYTES]
    assert len(damage) == 1
    assert "piece" not in damage[0]


@pytest.mark.parametrize("data", [b"hello", b"x" * 1000, bytes(1000)])
def test_what_is_no_journal_is_refused(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "j").write_bytes(data)
    with pytest.raises(RecordingError, match="not a journal"):
        read_all(tmp_path / "j")


def test_names_go_both_ways() -> None:
    assert recording_path(journal_path(Path("a/run.h5"))) == Path("a/run.h5")
    assert journal_path(journal_path(Path("run"))) == Path("run.journal")


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EACCES, "no permission"),
        (errno.EROFS, "only be read"),
        (errno.ENOENT, "no such file"),
        (errno.EIO, "does not answer"),
        (errno.ELOOP, "cannot be written"),
        (errno.EMFILE, "too many files"),
        (errno.EBUSY, "cannot be written"),
        (errno.EISDIR, "this is a folder"),
    ],
)
def test_what_the_system_says_becomes_one_sentence(number: int, words: str) -> None:
    error = storage_error(OSError(number, "text of the system"), Path("run.h5"))
    assert words in str(error)
    assert error.todo
    assert "kept" not in str(error), "only a capture has kept anything"
    assert ("does not answer" in str(error)) == (number == errno.EIO)


def test_only_a_capture_says_that_what_was_captured_is_kept() -> None:
    full = OSError(errno.ENOSPC, "text of the system")
    assert "captured so far is kept" in str(storage_error(full, Path("run.h5"), capturing=True))
    for number in (errno.EIO, errno.EROFS, errno.EACCES, errno.EINVAL):
        assert "captured so far is kept" in str(storage_error(OSError(number, "text"), Path("run.h5"), capturing=True))


def test_only_a_name_that_cannot_be_is_called_so() -> None:
    wrong = OSError(errno.EINVAL, os.strerror(errno.EINVAL))
    assert "cannot be a file's name" in str(storage_error(wrong, Path("a:b.h5")))
    assert "name" not in storage_error(wrong, Path("run.h5"), reading=True).what
    assert "name" not in storage_error(wrong, Path("run.h5"), capturing=True).what


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="no such file or folder"):
        JournalWriter(tmp_path / "none" / "run.journal", Meta(), made_ns=T0_NS)


@pytest.mark.parametrize("at_the_end", [False, True])
def test_a_hole_of_terabytes_is_passed_over_and_counted(tmp_path: Path, at_the_end: bool) -> None:
    """In bounded memory: what lies in a damaged stretch is not held."""
    journal = JournalWriter(journal_path(tmp_path / "run.h5"), Meta(name="hole"), made_ns=T0_NS)
    for number in range(100):
        journal.received(T0_NS + number, b"%d\n" % number)
    journal.close()
    data = journal.path.read_bytes()
    at = len(data) if at_the_end else data.rindex(data[HEADER.size : HEADER.size + 4])  # a record's sync word
    hole = 1 << 41 if hasattr(os, "SEEK_DATA") else 1 << 26
    with journal.path.open("r+b") as file:
        file.truncate(at)
        file.truncate(at + hole)
        file.seek(at + hole)
        file.write(data[at:])
    reader, found, most = JournalReader(journal.path), bytearray(), 0
    while records := reader.read(final=True):
        found += b"".join(one.payload for one in records if one.kind is RecordKind.BYTES)
        most = max(most, len(reader._tail))
    reader.close()
    assert bytes(found) == b"".join(b"%d\n" % number for number in range(100))
    assert most < 1 << 25
    words = "the journal breaks off within its last piece ({} bytes" if at_the_end else "{} bytes of the journal at byte"
    assert [words.format(hole) in said for said in reader.damage] == [True]
