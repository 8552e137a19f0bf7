"""Columns are read past HDF5 from where their headers say they lie, and nothing else comes out than HDF5 would give."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
from h5py import h5d, h5z

from telemetry.errors import RecordingError
from telemetry.recording.hdf5 import reader
from telemetry.recording.hdf5.attributes import read_bytes, read_text, write_document
from telemetry.recording.hdf5.layout import Encoding
from telemetry.recording.hdf5.object_headers import ObjectHeaders, links_of
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.hdf5.root_header import read_root
from telemetry.recording.library import entries
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta
from telemetry.recording.relabel import rename
from telemetry.recording.verify import verify

from .lookup3 import lookup3
from .streams import stream
from .test_recording import write_journal

SHORT, LONGER = 300, 9000
"""Rows of a file with addresses of 4 bytes, and of one with 8; both have columns of one chunk."""


def _made(folder: Path, rows: int) -> Path:
    return make_recording(write_journal(folder / f"{rows}.h5", stream(rows), Meta()))[0]


@pytest.fixture
def made(tmp_path: Path) -> Path:
    return _made(tmp_path, SHORT)


def _document(path: Path) -> dict[str, Any]:
    file = RecordingFile(path)
    file.close()
    return file.document


def _same(path: Path, columns: dict[str, Any]) -> None:
    run = load(path)
    assert not run.damage
    assert list(run.table.columns) == list(columns)
    for name, values in columns.items():
        np.testing.assert_array_equal(run.table.columns[name], values, err_msg=name)
        assert run.table.columns[name].dtype == values.dtype


@pytest.mark.parametrize("rows", [1, SHORT, LONGER])
def test_every_column_is_found_without_hdf5(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    made = _made(tmp_path, rows)
    by_hdf5 = RecordingFile(made, by_hdf5=True)
    columns = by_hdf5.columns()
    by_hdf5.close()
    assert columns is not None
    monkeypatch.setattr(reader, "one_chunk", lambda *given: pytest.fail("HDF5 was asked"))
    if rows < LONGER:  # there the raw bytes are a dataset
        monkeypatch.setattr(reader, "plain_dataset", lambda *given: pytest.fail("HDF5 was asked"))
    _same(made, columns)
    rename(made, "another name, so that the file is written anew")
    _same(made, columns)


def test_a_document_that_says_where_columns_lie_is_not_asked(made: Path) -> None:
    """As recordings were for a while: a crafted one showed other values than HDF5 gives."""
    columns, document = load(made).table.columns, _document(made)
    data = made.read_bytes()
    with h5py.File(made) as file:
        there = {}
        for name, other in (("refl", "red"), ("red", "refl")):
            chunk = file[other].id.get_chunk_info(0)
            there[name] = [chunk.byte_offset, chunk.size, int(file[other].shuffle)]
    with h5py.File(made, "r+", libver=("v110", "v110")) as file:
        write_document(file, document | {"places": there})
    _same(made, columns)
    # With the checksums of the other column it is damage, and the samples are those of the raw bytes.
    made.write_bytes(data)
    crc32 = document["crc32"] | {"refl": document["crc32"]["red"], "red": document["crc32"]["refl"]}
    with h5py.File(made, "r+", libver=("v110", "v110")) as file:
        write_document(file, document | {"places": there, "crc32": crc32})
    run = load(made)
    assert "damaged" in run.damage[0]
    np.testing.assert_array_equal(run.table.columns["refl"], columns["refl"])
    assert "damaged" in verify(made).problem


@pytest.mark.parametrize("rows", [SHORT, LONGER])
def test_a_changed_header_gives_no_place_or_the_one_that_hdf5_has(tmp_path: Path, rows: int) -> None:
    """Each byte of a header changed in five ways, its checksum put right: what is taken for ours is what HDF5 reads."""
    made = _made(tmp_path, rows)
    data, other, document = made.read_bytes(), tmp_path / "changed.h5", _document(made)
    channel, name, kind = next(one for one in document["columns"] if one[0] == "refl")
    dtype = Encoding(channel, name, kind).dtype
    with h5py.File(made) as file:
        at = h5py.h5o.get_info(file[name].id).addr
    width = 1 << (data[at + 5] & 3)
    end = at + 6 + width + int.from_bytes(data[at + 6 : at + 6 + width], "little")
    assert lookup3(data[at:end]) == struct.unpack("<I", data[end : end + 4])[0]
    agreed = 0
    for position in range(at, at + 140):
        for change in (1, 2, 0x10, 0x80, 0xFF):
            changed = bytearray(data)
            changed[position] ^= change
            changed[end : end + 4] = struct.pack("<I", lookup3(changed[at:end]))
            other.write_bytes(changed)
            with h5py.File(other) as file:
                place = ObjectHeaders(bytes(changed), links_of(file.id)).place(name, dtype, rows)
                if place is None:
                    continue
                try:
                    dataset = h5d.open(file.id, name.encode())
                except (OSError, RuntimeError, KeyError):
                    continue  # it is no dataset for HDF5: no other value
                chunk, how = dataset.get_chunk_info(0), dataset.get_create_plist()
                filters = [how.get_filter(k)[0] for k in range(how.get_nfilters())]
                assert (dataset.dtype, dataset.shape, how.get_chunk()) == (dtype, (rows,), (rows,))
                assert place == (chunk.byte_offset, chunk.size, h5z.FILTER_SHUFFLE in filters)
                assert filters[-1] == h5z.FILTER_DEFLATE
                assert not chunk.filter_mask
                agreed += 1
    assert agreed > 20  # the place itself and its size, what deflate was asked for, flags


def test_a_changed_bit_in_a_chunk_is_told_and_the_samples_come_from_the_raw_bytes(made: Path) -> None:
    columns = load(made).table.columns
    with h5py.File(made) as file:
        chunk = file["refl"].id.get_chunk_info(0)
    data = bytearray(made.read_bytes())
    data[chunk.byte_offset + chunk.size // 2] ^= 4
    made.write_bytes(data)
    run = load(made)
    assert "'refl' is damaged" in run.damage[0]
    np.testing.assert_array_equal(run.table.columns["refl"], columns["refl"])


def test_a_short_recording_is_read_without_hdf5(made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    by_hdf5 = RecordingFile(made, by_hdf5=True)
    columns, events, raw = by_hdf5.columns(), by_hdf5.events(), list(by_hdf5.raw())
    by_hdf5.close()
    assert columns is not None
    monkeypatch.setattr(reader, "opened", lambda path: pytest.fail("HDF5 was asked"))
    _same(made, columns)
    file = RecordingFile(made)
    assert file.try_all()
    assert file.events() == events
    assert list(file.raw()) == raw
    rename(made, "another name, so that the file is written anew")
    _same(made, columns)


def _either(file: h5py.File, name: str) -> bytes | None:
    try:
        return read_text(file.id, name)
    except TypeError:
        return read_bytes(file.id, name)


def test_a_changed_root_gives_what_hdf5_reads_or_nothing(made: Path, tmp_path: Path) -> None:
    """Each byte of the root's own header changed in three ways, its checksum put right."""
    data, other = made.read_bytes(), tmp_path / "changed.h5"
    at = int.from_bytes(data[12 + 3 * data[9] : 12 + 4 * data[9]], "little")
    end = at + 12 + int.from_bytes(data[at + 10 : at + 12], "little")
    assert lookup3(data[at:end]) == struct.unpack("<I", data[end : end + 4])[0]
    assert read_root(data) is not None
    taken = 0
    for position in range(at, end):
        for change in (1, 0x10, 0xFF):
            changed = bytearray(data)
            changed[position] ^= change
            changed[end : end + 4] = struct.pack("<I", lookup3(changed[at:end]))
            root = read_root(bytes(changed))
            if root is None:
                continue
            other.write_bytes(changed)
            try:
                with h5py.File(other) as file:
                    links = links_of(file.id)
                    values = {name: _either(file, name) for name in root.attributes}
            except (OSError, RuntimeError, LookupError):
                continue  # nothing comes of it for HDF5, and no other value here: all that is used has a CRC-32
            assert (root.links, root.attributes) == (links or root.links, values)  # it may refuse to say its links
            taken += 1
    assert taken > 300  # names and texts of the root, and where its objects lie


@pytest.mark.parametrize("value", [7, np.zeros((2, 2), np.uint8), np.array([b"a", b"b"]), np.float64(1)])
def test_an_attribute_of_others_is_read_by_hdf5(made: Path, value: Any) -> None:
    with h5py.File(made, "r+", libver=("v110", "v110")) as file:
        file.attrs["theirs"] = value
    assert read_root(made.read_bytes()) is None
    assert not load(made).damage


def test_a_file_that_is_open_for_writing_or_cut_short_is_hdf5s_business(made: Path) -> None:
    data = made.read_bytes()
    assert read_root(data[:11] + b"\1" + data[12:]) is None
    assert read_root(data[:-1]) is None
    assert read_root(data + b"\0") is None


def test_a_changed_bit_in_the_raw_bytes_is_said_in_a_list(made: Path) -> None:
    data = bytearray(made.read_bytes())
    data[data.index(b"\xfd7zXZ\0") + 100] ^= 1
    made.write_bytes(data)
    found = entries(made.parent)[0]
    assert found.state == "damaged"
    assert "the raw bytes are damaged" in found.problem
    assert not load(made).damage  # which has nothing to do with its samples


def test_damage_where_nothing_of_ours_lies_is_said_when_labels_change_and_by_verify(made: Path) -> None:
    data = bytearray(made.read_bytes())
    data[data.index(b"CF-1.11")] ^= 1
    made.write_bytes(data)
    assert not load(made).damage
    with pytest.raises(RecordingError, match="its labels cannot be changed"):
        rename(made, "another")
    assert made.read_bytes() == data
    assert verify(made).problem
