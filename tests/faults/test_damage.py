"""Journal and recording cut short, or with a byte changed, anywhere: data, or one clear message; never silence."""

from __future__ import annotations

import random
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from recording.streams import stream
from recording.test_recording import same, write_journal

from telemetry.errors import RecordingError, SidelongError
from telemetry.recording.disk import storage
from telemetry.recording.follow import Follower
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.library import look_at
from telemetry.recording.load import Recording, decode, load
from telemetry.recording.make import make_recording, recover
from telemetry.recording.meta import Meta
from telemetry.sample import SampleTable

PIECES = [*stream(400), b"1,no\n", b"> prompt\n"]
WHOLE = b"".join(PIECES)


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, bytes, Recording]:
    """(journal, recording, what is in it)."""
    path = tmp_path_factory.mktemp("good") / "run.h5"
    journal = write_journal(path, PIECES, Meta(name="good")).read_bytes()
    make_recording(path.with_name("run.h5.journal"))
    return journal, path.read_bytes(), load(path)


def places(size: int, count: int = 200) -> list[int]:
    """Evenly spread, and the same every time."""
    return [i * size // count for i in range(count)]


def test_a_recording_cut_anywhere_says_so(good: tuple[bytes, bytes, Recording], tmp_path: Path) -> None:
    data, path = good[1], tmp_path / "run.h5"
    for place in places(len(data)):
        path.write_bytes(data[:place])
        with pytest.raises(RecordingError) as said:
            load(path)
        assert str(path) in str(said.value)
        assert said.value.todo
        entry = look_at(path)
        assert (entry.state, bool(entry.problem)) == ("damaged", True)


def test_a_recording_with_any_byte_changed_is_right_or_says_what_is_wrong(
    good: tuple[bytes, bytes, Recording], tmp_path: Path
) -> None:
    data, right, path = good[1], good[2], tmp_path / "run.h5"
    seen = {"unharmed": 0, "read again": 0, "refused": 0, "raw refused": 0}
    for place in places(len(data)):
        path.write_bytes(data[:place] + bytes([data[place] ^ 0x55]) + data[place + 1 :])
        run = loaded_or_none(path)
        if run is None:
            assert look_at(path).state == "damaged"
            seen["refused"] += 1
            continue
        same(run.table, right.table)
        assert run.meta == right.meta
        if run.damage:
            assert "read again from the raw bytes" in run.damage[0]
            seen["read again"] += 1
            continue
        raw = raw_or_why_not(run)
        if isinstance(raw, str):
            assert "raw bytes" in raw
            seen["raw refused"] += 1
            continue
        assert raw == WHOLE
        seen["unharmed"] += 1
    print(seen)
    assert all(seen.values())


def loaded_or_none(path: Path) -> Recording | None:
    try:
        return load(path)
    except SidelongError:
        return None


def raw_or_why_not(run: Recording) -> bytes | str:
    try:
        return b"".join(part for _, part in run.raw())
    except RecordingError as error:
        return str(error)


def followed(path: Path) -> Follower:
    follower = Follower(path)
    follower._asked = -1.0
    while follower.poll():
        pass
    follower.close()
    return follower


def lines_of(table: SampleTable) -> set[int]:
    return set(table.columns["n"].tolist()) if table.rows else set()


def colours(table: SampleTable) -> list[str]:
    return ["-" if index < 0 else table.colours[index] for index in table.columns["colour"].tolist()]


def is_part_of(table: SampleTable, right: SampleTable) -> None:
    """Every sample is one of the right ones, value by value."""
    if not table.rows:
        return
    row_of = {n: i for i, n in enumerate(right.columns["n"].tolist())}
    rows = [row_of[n] for n in table.columns["n"].tolist()]
    assert colours(table) == [colours(right)[row] for row in rows]
    for name, values in table.columns.items():
        if name not in {"arrival_us", "boot", "colour"}:
            assert [repr(value) for value in values.tolist()] == [repr(right.columns[name][row].item()) for row in rows], (
                name
            )


def test_a_journal_cut_anywhere_keeps_all_before_the_cut(
    good: tuple[bytes, bytes, Recording], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(storage, "_sync", lambda fd: None)  # the real disk would take most of the time
    data, right, path = good[0], good[2], tmp_path / "run.h5"
    journal = tmp_path / "run.h5.journal"
    ends = _bytes_before(data)
    for place in places(len(data)):
        journal.write_bytes(data[:place])
        said = recover(tmp_path)
        if not path.exists():
            assert ends(place) == 0
            assert len(said) == bool(place), "an empty file bears no mark of ours"
            assert not said or "nothing" in str(said[0]) or "breaks off" in str(said[0])
            continue
        run = load(path)
        raw = b"".join(part for _, part in run.raw())
        assert len(raw) == ends(place)
        assert WHOLE.startswith(raw)
        is_part_of(run.table, right.table)
        path.unlink()


def _bytes_before(data: bytes):
    """How many bytes of the stream are whole in the first n bytes of the journal."""
    sizes, at = [], 36
    for piece in [None, *PIECES]:
        length = int.from_bytes(data[at + 12 : at + 16], "little")
        at += 24 + length + 4
        sizes.append((at, 0 if piece is None else len(piece)))
    return lambda place: sum(size for end, size in sizes if end <= place)


def test_a_journal_with_any_byte_changed_loses_only_that_piece_and_says_so(
    good: tuple[bytes, bytes, Recording], tmp_path: Path
) -> None:
    data, right, journal = good[0], good[2], tmp_path / "run.h5.journal"
    for place in places(len(data)):
        journal.write_bytes(data[:place] + bytes([data[place] ^ 0xAA]) + data[place + 1 :])
        follower = followed(tmp_path / "run.h5")
        assert follower.summary.damage
        is_part_of(follower.table, right.table)
        # One piece is a line here: itself is lost, and the line after it, whose beginning is not certain.
        assert len(lines_of(right.table) - lines_of(follower.table)) <= 102


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_power_cut_that_loses_and_mixes_the_last_blocks_makes_nothing_up(
    good: tuple[bytes, bytes, Recording], tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    """Blocks after the last sync: some are zeros, some hold older blocks, the length may be anything."""
    journal, _, right = good
    block = 512
    synced = data.draw(st.integers(1, len(journal) // block - 4)) * block
    blocks = [journal[at : at + block] for at in range(synced, len(journal), block)]
    state = st.sampled_from(["there", "there", "zeros", "older", "gone"])
    tail = b""
    for one in blocks:
        fate = data.draw(state)
        if fate == "gone":
            break
        older = data.draw(st.integers(0, synced // block - 1)) * block if fate == "older" else 0
        tail += {"there": one, "zeros": bytes(len(one)), "older": journal[older : older + len(one)]}[fate]
    folder = tmp_path_factory.mktemp("cut")
    (folder / "run.h5.journal").write_bytes(journal[:synced] + tail)
    before = lines_of(followed_bytes(folder, journal[:synced]))
    (said,) = recover(folder)
    assert not said.error
    run = load(folder / "run.h5")
    is_part_of(run.table, right.table)
    # The last line before the cut was not whole; the rest was safe.
    assert len(before - lines_of(run.table)) <= 1
    assert tail == b"".join(blocks) or run.summary.damage or not tail.strip(b"\0") or len(tail) == 0 or run.summary.end == ""


def followed_bytes(folder: Path, data: bytes) -> SampleTable:
    part = folder / "part.h5.journal"
    part.write_bytes(data)
    table = followed(folder / "part.h5").table
    part.unlink()
    return table


@settings(max_examples=100, deadline=None)
@given(st.lists(st.binary(max_size=200), max_size=20))
def test_every_byte_in_is_a_sample_a_note_a_header_or_kept(pieces: list[bytes]) -> None:
    """The recording room's own share: also with gaps anywhere, nothing vanishes."""
    records = [Record(RecordKind.META, 0, Meta().to_json().encode())]
    for i, piece in enumerate(pieces):
        records.append(Record(RecordKind.BYTES, i * 1000, piece))
        if i % 3 == 2:
            records.append(Record(RecordKind.GAP, i * 1000, b"gap"))
    assembler, _ = decode(iter(records))
    tally = assembler.decoder.tally
    assert tally.bytes_in == sum(map(len, pieces))
    assert tally.bytes_in == tally.line_ends + sum(tally.bytes_of.values()) + tally.waiting


def test_damage_of_many_places_at_once_never_raises_anything_else(
    good: tuple[bytes, bytes, Recording], tmp_path: Path
) -> None:
    rng = random.Random(7)
    for data, name in ((good[0], "run.h5.journal"), (good[1], "other.h5")):
        for _ in range(60):
            spoilt = bytearray(data)
            for _ in range(rng.choice([2, 10, 100])):
                spoilt[rng.randrange(len(spoilt))] = rng.randrange(256)
            (tmp_path / name).write_bytes(spoilt)
            with suppress(SidelongError):
                is_part_of(load(tmp_path / name).table, good[2].table)
