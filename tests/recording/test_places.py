"""Columns are read where the document says they lie, and only what has the document's checksum counts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest

from telemetry.errors import RecordingError
from telemetry.recording.hdf5 import reader
from telemetry.recording.hdf5.attributes import write_document
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.recording.relabel import rename
from telemetry.recording.verify import verify

from .streams import stream
from .test_recording import write_journal


@pytest.fixture
def made(tmp_path: Path) -> Path:
    return make_recording(write_journal(tmp_path / "run.h5", stream(300), Meta()))[0]


def _document(path: Path) -> dict[str, Any]:
    file = RecordingFile(path)
    file.close()
    return file.document


def _with_places(path: Path, places: object) -> None:
    document = _document(path) | {"places": places}
    with h5py.File(path, "r+", libver=("v110", "v110")) as file:
        write_document(file, document)


def _same(path: Path, columns: dict[str, Any]) -> None:
    run = load(path)
    assert not run.damage
    assert list(run.table.columns) == list(columns)
    for name, values in columns.items():
        np.testing.assert_array_equal(run.table.columns[name], values, err_msg=name)
        assert run.table.columns[name].dtype == values.dtype


def test_every_column_is_found_at_its_place_without_hdf5(made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    by_hdf5 = RecordingFile(made, by_hdf5=True)
    columns = by_hdf5.columns()
    by_hdf5.close()
    assert columns is not None
    assert len(_document(made)["places"]) == len(_document(made)["columns"])
    monkeypatch.setattr(reader, "one_chunk", lambda *given: pytest.fail("HDF5 was asked"))
    monkeypatch.setattr(reader, "plain_dataset", lambda *given: pytest.fail("HDF5 was asked"))
    _same(made, columns)
    rename(made, "another name, so that the file is written anew")
    _same(made, columns)


def test_a_place_where_something_else_lies_is_no_place(made: Path) -> None:
    columns, places = load(made).table.columns, _document(made)["places"]
    names = list(places)
    swapped = {name: places[other] for name, other in zip(names, names[1:] + names[:1], strict=True)}
    for wrong in (
        swapped,
        {name: [start + 1, size, shuffled] for name, (start, size, shuffled) in places.items()},
        {name: [start, size - 1, shuffled] for name, (start, size, shuffled) in places.items()},
        {name: [start, size, 1 - shuffled] for name, (start, size, shuffled) in places.items()},
        {name: [1 << 60, 1 << 60, 0] for name in places},
        {name: [0, 0, 0] for name in places},
        {"no column": [0, 10, 0]},
        {},
    ):
        _with_places(made, wrong)
        _same(made, columns)
        assert verify(made).problem == ""


@pytest.mark.parametrize("odd", [[], {"refl": [1, 2]}, {"refl": [-1, 2, 0]}, {"refl": ["1", 2, 0]}, {"refl": [1.0, 2, 0]}])
def test_what_are_no_places_is_no_document(made: Path, odd: object) -> None:
    _with_places(made, odd)
    with pytest.raises(RecordingError):
        load(made)


def test_a_changed_bit_in_a_chunk_is_told_and_the_samples_come_from_the_raw_bytes(made: Path) -> None:
    columns = load(made).table.columns
    start, size, _ = _document(made)["places"]["refl"]
    data = bytearray(made.read_bytes())
    data[start + size // 2] ^= 4
    made.write_bytes(data)
    run = load(made)
    assert "'refl' is damaged" in run.damage[0]
    np.testing.assert_array_equal(run.table.columns["refl"], columns["refl"])
