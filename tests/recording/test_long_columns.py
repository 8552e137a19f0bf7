"""Recordings of hours: opened without being read, and the same samples whichever stretch is asked for."""

from __future__ import annotations

import io
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.block_column import BlockColumn, first_row, pieces
from telemetry.errors import RecordingError
from telemetry.recording.hdf5 import heap, long_columns, reader
from telemetry.recording.hdf5.columns import ColumnsWriter
from telemetry.recording.journal.records import Record, RecordKind
from telemetry.recording.load import load
from telemetry.recording.make import write_recording
from telemetry.recording.meta import Meta
from telemetry.recording.relabel import relabel

ROWS = 40_000
"""Three blocks."""


def stream(rows: int = ROWS, first: int = 0) -> bytes:
    names = ("none", "rust", "leaf")
    lines = [
        f"{first + i},{i * 2},{names[i % 3]},{i % 100},{'' if i % 7 == 0 else i / 3:}" for i in range(rows)
    ]  # fmt: skip
    return ("#n,t/ms,colour,refl/%,dist/cm\n" + "\n".join(lines) + "\n").encode()


def recording(path: Path, data: bytes, name: str = "long") -> Path:
    meta = Meta(name=name).begun()
    records = [Record(RecordKind.META, 0, meta.to_json().encode())]
    records += [Record(RecordKind.BYTES, 10**15 + at, data[at : at + 60_000]) for at in range(0, len(data), 60_000)]
    write_recording(iter([*records, Record(RecordKind.END, 10**16, b"")]), path)
    return path


@pytest.fixture
def lazily(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "LONG_ROWS", 10)


@pytest.fixture(scope="module")
def long_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return recording(tmp_path_factory.mktemp("long") / "long.h5", stream())


def test_read_when_needed_or_at_once_it_is_the_same(long_run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    whole = load(long_run).table
    monkeypatch.setattr(reader, "LONG_ROWS", 10)
    later = load(long_run).table
    assert list(later.columns) == list(whole.columns)
    for name, column in whole.columns.items():
        assert isinstance(later.columns[name], BlockColumn) or name == "boot"
        assert later.columns[name].dtype == column.dtype
        np.testing.assert_array_equal(np.asarray(later.columns[name]), column, name)


def test_opening_reads_no_sample(long_run: Path, lazily: None, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []
    plain = long_columns.LongColumns._read
    monkeypatch.setattr(long_columns.LongColumns, "_read", lambda self, *what: read.append(what[0]) or plain(self, *what))
    table = load(long_run).table
    assert table.rows == ROWS
    assert read == []
    assert table.columns["dist"][20_001] == pytest.approx(20_001 / 3)
    assert read == ["dist"]


def test_a_damaged_block_is_read_again_from_the_raw_bytes(tmp_path: Path, lazily: None) -> None:
    path = recording(tmp_path / "run.h5", stream())
    with h5py.File(path) as file:
        chunk = file["refl"].id.get_chunk_info(1)
    data = bytearray(path.read_bytes())
    data[chunk.byte_offset + chunk.size // 2] ^= 0x10
    path.write_bytes(data)
    run = load(path)
    assert run.damage == []
    assert run.table.columns["refl"][:100].tolist() == [i % 100 for i in range(100)]
    assert run.table.columns["refl"][20_000:20_100].tolist() == [i % 100 for i in range(20_000, 20_100)]
    assert len(run.damage) == 1
    assert "read again from the raw bytes" in run.damage[0]


def test_labels_may_change_while_it_is_open_another_run_in_its_place_is_said(tmp_path: Path, lazily: None) -> None:
    path = recording(tmp_path / "run.h5", stream())
    run = load(path)
    relabel(path, lambda meta: replace(meta, remarks="a remark " * 200))
    assert run.table.columns["n"][30_000] == 30_000
    recording(tmp_path / "other.h5", stream(ROWS, 5)).replace(path)
    with pytest.raises(RecordingError, match="replaced by another one"):
        run.table.columns["n"][0]


@pytest.mark.parametrize("broken", [OSError("gone"), ValueError("odd")])
def test_what_hdf5_must_read_itself_is_read_at_once(
    long_run: Path, lazily: None, monkeypatch: pytest.MonkeyPatch, broken: Exception
) -> None:
    def fails(*_: object) -> None:
        raise broken

    monkeypatch.setattr(reader, "places_of", fails)
    assert isinstance(load(long_run).table.columns["n"], np.ndarray)


@given(st.integers(0, 57), st.integers(1, 20), st.data())
@settings(deadline=None, max_examples=60)
def test_a_block_column_answers_as_an_array_does(rows: int, block: int, data: st.DataObject) -> None:
    array = np.arange(rows, dtype=np.int64) * 3 % 17
    column: Any = BlockColumn(rows, array.dtype, block, lambda number: array[number * block : (number + 1) * block].copy())
    assert len(column) == rows
    part = data.draw(st.slices(rows))
    np.testing.assert_array_equal(column[part], array[part])
    np.testing.assert_array_equal(column[column > 3], array[array > 3])
    np.testing.assert_array_equal(np.diff(column), np.diff(array))
    np.testing.assert_array_equal(column - 1, array - 1)
    assert column.sum() == array.sum()
    assert first_row([column], rows, lambda one: one == 16) == next(iter(np.flatnonzero(array == 16)), rows)
    if rows:
        picked = data.draw(st.lists(st.integers(-rows, rows - 1)))
        np.testing.assert_array_equal(column[np.array(picked, np.int64)], array[np.array(picked, np.int64)])
        assert [column[one] for one in picked] == [array[one] for one in picked]
    with pytest.raises(IndexError):
        column[rows]


def test_pieces_cover_all_rows_once() -> None:
    assert [list(range(*one)) for one in pieces(7, 3)] == [[0, 1, 2], [3, 4, 5], [6]]
    assert list(pieces(0)) == []


@given(st.binary(max_size=60), st.integers(0, 70), st.binary(min_size=1, max_size=3))
@settings(deadline=None, max_examples=60)
def test_a_files_bytes_are_found_as_in_memory(data: bytes, start: int, what: bytes) -> None:
    before = heap.WINDOW
    heap.WINDOW = 8  # type: ignore[misc]
    try:
        assert heap.FileBytes(io.BytesIO(data)).find(what, start) == data.find(what, min(start, len(data) + 1))
    finally:
        heap.WINDOW = before  # type: ignore[misc]


def test_a_column_that_turns_up_in_the_last_block_is_missing_before(tmp_path: Path) -> None:
    with h5py.File(tmp_path / "long.h5", "w") as file, ThreadPoolExecutor(1) as pool:
        writer = ColumnsWriter(file, pool, most=8)
        for start in range(0, 24, 8):
            writer.append({"t_us": np.arange(start, start + 8) * 1000}, 8)
        writer.append({"t_us": np.arange(24, 28) * 1000, "battery": np.full(4, 7.4)}, 4)
        writer.finish()
        battery = file[writer.encodings["battery"].dataset][:]
    assert len(battery) == 28
    assert np.isnan(battery[:24]).all()
    assert (battery[24:] == 7.4).all()
