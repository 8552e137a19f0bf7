"""Files changed behind the back of their checksums: data, or an error in words; never a traceback, never for ever.

``fuzz_reader.py`` does the same, guided by coverage and for as long as one likes; what it found stands here too.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from recording.streams import stream
from recording.test_recording import same, write_journal

from faults.spoilers import journal_changed, recording_changed, text_changed
from telemetry.course import load_course, parse_course
from telemetry.errors import CourseError, PaletteError, RecordingError, SidelongError, StrategyError
from telemetry.palette_default import default_palette
from telemetry.palette_file import palette_from, palette_text, read_palette
from telemetry.reading.load import load_strategy
from telemetry.recording.disk import storage
from telemetry.recording.hdf5.heap import check_heaps, for_the_heap
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.library import look_at
from telemetry.recording.load import decode, load
from telemetry.recording.make import make_recording, recover
from telemetry.recording.meta import Meta
from telemetry.replay.baseline.file import read_agreed
from telemetry.report.recording_text import describe
from telemetry.sources.synthetic.run import built_in_course

PIECES = [*stream(120), b"1,no\n", b"> prompt\n", b"#codes,1=rust\n", b"!9000,read,tag 1,rust\n"]
COURSE = built_in_course("row").text
TRIES = 80


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> tuple[bytes, Path]:
    """(journal, recording)."""
    path = tmp_path_factory.mktemp("good") / "run.h5"
    journal = write_journal(path, PIECES, Meta(name="good", course=COURSE)).read_bytes()
    make_recording(path.with_name("run.h5.journal"))
    return journal, path


@pytest.fixture(autouse=True)
def _no_sync(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(storage, "_sync", lambda fd: None)  # the real disk would take most of the time


def changed(change: Callable[[bytes, random.Random], bytes], data: bytes, seed: int) -> bytes:
    """One to three changes on top of each other; a file that is beyond changing stays as it was."""
    lot = random.Random(seed)
    for _ in range(lot.choice([1, 1, 3])):
        with suppress(Exception):
            data = change(data, lot)
    return data


def open_all(path: Path) -> None:
    look_at(path)
    run = load(path)
    describe(run)
    for _ in run.raw():
        pass


def test_recordings(good: tuple[bytes, Path], tmp_path: Path) -> None:
    data = good[1].read_bytes()
    refused = 0
    for seed in range(TRIES):
        (tmp_path / "run.h5").write_bytes(changed(recording_changed, data, seed))
        try:
            open_all(tmp_path / "run.h5")
        except SidelongError:
            refused += 1
    assert 5 < refused < TRIES - 5, "some changes are harmless, some are not"


def test_journals(good: tuple[bytes, Path], tmp_path: Path) -> None:
    for seed in range(TRIES):
        (tmp_path / "run.h5.journal").write_bytes(changed(journal_changed, good[0], seed))
        for found in recover(tmp_path):
            if found.recording is not None:
                with suppress(SidelongError):
                    open_all(found.recording)
                found.recording.unlink()
        (tmp_path / "run.h5.journal").unlink(missing_ok=True)


@pytest.mark.parametrize(
    ("text", "read"), [(COURSE, load_course), (palette_text(default_palette()), read_palette)], ids=["course", "palette"]
)
def test_texts(text: str, read: Callable[[Path], object], tmp_path: Path) -> None:
    refused = 0
    for seed in range(5 * TRIES):
        (tmp_path / "file.toml").write_bytes(changed(text_changed, text.encode(), seed))
        try:
            read(tmp_path / "file.toml")
        except SidelongError:
            refused += 1
    assert refused > TRIES


@pytest.mark.parametrize("number", ["0x" + "f" * 5000, "1" + "0" * 400, "1" + "0" * 5000, "nan", "-inf"])
def test_numbers_that_no_float_holds(number: str) -> None:
    course = '[course]\nname = "x"\n[[slot]]\nname = "a"\ncolours = ["rust"]\nat_cm = '
    with pytest.raises(CourseError):
        parse_course(course + number)
    palette = palette_text(default_palette())
    with pytest.raises(PaletteError):
        palette_from(palette.replace("rate_hz = ", f"rate_hz = {number} # ", 1), "palette.toml")


def test_brackets_without_end() -> None:
    with pytest.raises(CourseError, match="not valid TOML"):
        parse_course("a = " + "[" * 5000)
    with pytest.raises(PaletteError, match="not valid TOML"):
        palette_from("a = " + "[" * 5000, "palette.toml")
    with pytest.raises(RecordingError, match="labels of this run are not"):
        Meta.from_json("[" * 100_000)


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "1" * 5000])
def test_strategies_and_agreed_readings_that_toml_cannot_hold(tmp_path: Path, text: str) -> None:
    path = tmp_path / "file.toml"
    path.write_text(text)
    with pytest.raises(StrategyError, match="not valid TOML"):
        load_strategy(str(path))
    with pytest.raises(SidelongError, match="not a file of agreed readings"):
        read_agreed(path)


def test_a_link_remark_without_end_is_none() -> None:
    records = [Record(RecordKind.META, 0, Meta().to_json().encode()), Record(RecordKind.LINK, 0, b"[" * 100_000)]
    assert decode(iter(records))[0].summary.link == {}


def test_labels_that_utf_8_cannot_hold_come_back(tmp_path: Path) -> None:
    """A file name on Linux may be any bytes; Python hands them on as half characters."""
    meta = Meta(name="run \udcff", source="ingest ru\udce4.txt", remarks="\udc80")
    path, _ = make_recording(write_journal(tmp_path / "run.h5", PIECES, meta))
    assert load(path).meta.name == meta.name
    assert load(path).meta.source == meta.source
    describe(load(path))


def test_no_zero_in_the_heap_makes_hdf5_walk_for_ever(good: tuple[bytes, Path], tmp_path: Path) -> None:
    """HDF5 2.0 does, where the length of a free stretch is zero; each length that stands in the heap is tried here."""
    data = good[1].read_bytes()
    heap = data.index(b"GCOL")
    end = heap + int.from_bytes(data[heap + 8 : heap + 12], "little")
    places, at = [heap + 8], heap + 16
    while at + 16 <= end:
        places += [at, at + 8]
        length = int.from_bytes(data[at + 8 : at + 12], "little")
        at += 16 + (length + 7) // 8 * 8 if data[at : at + 2] != b"\0\0" else length
    assert len(places) > 20
    for place in places:
        for changed_to in (b"\0\0\0\0", b"\xff\xff\xff\x7f", b"\x01\0\0\0"):
            if data[place : place + 4] == changed_to:
                continue
            spoilt = data[:place] + changed_to + data[place + 4 :]
            (tmp_path / "run.h5").write_bytes(spoilt)
            try:
                check_heaps(spoilt)
                run = load(tmp_path / "run.h5")
            except (ValueError, RecordingError):
                assert look_at(tmp_path / "run.h5").state == "damaged"
                continue
            same(run.table, load(good[1]).table)


def test_the_heap_is_filled_as_well_as_it_can_be() -> None:
    assert for_the_heap({"a": 3000, "b": 1000, "c": 700}, 10) == {"a", "c"}
    assert for_the_heap({"a": 5000}, 10) == frozenset()
    assert for_the_heap({}, 10) == frozenset()
