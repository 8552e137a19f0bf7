"""Our own reader of short recordings gives what HDF5 gives, or leaves the file to it; thousands: ``faults.two_readers``.

That one stays a script: of a file that is damaged HDF5 may die in other ways from run to run.
"""

from __future__ import annotations

import random
from contextlib import closing
from pathlib import Path

import h5py
import numpy as np
import pytest
from recording.streams import stream
from recording.test_recording import write_journal

from faults.header_changes import Message, Short
from faults.two_readers import OTHERS, other
from telemetry.recording.hdf5.object_headers import ObjectHeaders
from telemetry.recording.hdf5.reader import RecordingFile
from telemetry.recording.hdf5.root_header import read_root
from telemetry.recording.hdf5.visit import visit
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta

ROWS = 300


@pytest.fixture
def made(tmp_path: Path) -> Path:
    return make_recording(write_journal(tmp_path / "run.h5", [*stream(ROWS), b"1,no\n"], Meta()))[0]


def test_a_column_whose_header_hides_another_is_left_to_hdf5(made: Path) -> None:
    """The space takes in all that follows, and what follows stands once more behind it, with the place of another column."""
    short = Short(made.read_bytes())
    with closing(RecordingFile(made)) as file:
        document = file.document
    headers = {name: short.number(where) for name, (where, _) in short.links().items()}
    chunk, theirs = short.chunks(headers[b"refl"])[0], short.chunks(headers[b"red"])[0]
    messages, reds = short.messages(*chunk[1:]), short.messages(*theirs[1:])
    hidden = b"".join(one.packed() for one in messages[1:5])
    space = messages[0].body + hidden
    crafted = [Message(1, len(space), 0, space), *messages[1:3], *reds[3:5], *messages[5:]]
    short.rewrite(headers[b"refl"], chunk, crafted)
    made.write_bytes(short.data)
    with h5py.File(made) as found:
        assert (found["refl"][()] == found["red"][()]).all()
    root = read_root(bytes(short.data))
    assert root is not None
    assert document["rows"] == ROWS
    dtype = {"int": "<i8", "whole": "<i4", "float": "<f8"}[next(one[2] for one in document["columns"] if one[1] == "refl")]
    assert ObjectHeaders(bytes(short.data), root.links).place("refl", np.dtype(dtype), ROWS) is None


def test_a_name_that_is_a_path_for_hdf5_is_left_to_it(made: Path) -> None:
    data = made.read_bytes()
    root = read_root(data)
    assert root is not None
    headers = ObjectHeaders(data, {b"time": root.links[b"time"], b"a/b": root.links[b"time"]})
    assert headers.place("time", np.dtype("<i8"), ROWS) is not None
    assert headers.place("a/b", np.dtype("<i8"), ROWS) is None


def _heap_values(data: bytes, word: int) -> list[int]:
    """Where each value of the heap begins, its head included."""
    at = data.index(b"GCOL\x01\0\0\0")
    head, found = 8 + (word + 7) // 8 * 8, []
    at += head
    while data[at] or data[at + 1]:
        found.append(at)
        at += head + (int.from_bytes(data[at + 8 : at + 8 + word], "little") + 7) // 8 * 8
    return found


def test_a_text_that_ends_before_its_end_and_two_values_of_one_number_are_left_to_hdf5(made: Path) -> None:
    data = made.read_bytes()
    assert read_root(data) is not None
    text = bytearray(data)
    text[data.index(b"kind\tsample") + 20] = 0
    assert read_root(bytes(text)) is None
    twice = bytearray(data)
    values = _heap_values(data, data[9])
    number = next(at for at in values if data[at + 16 :].startswith(b"kind\tsample"))
    another = next(at for at in values if at != number)
    twice[another : another + 2] = data[number : number + 2]
    assert read_root(bytes(twice)) is None


def test_groups_in_one_another_are_visited_once(made: Path) -> None:
    with h5py.File(made, "r+", libver=("v110", "v110")) as file:
        inner = file.create_group("in")
        inner["out"], inner["in"] = file["/"], inner
    assert visit(made) == ""


@pytest.mark.parametrize("how", OTHERS)
def test_what_h5py_adds_costs_no_sample(made: Path, how: str, tmp_path: Path) -> None:
    with closing(RecordingFile(made, by_hdf5=True)) as file:
        right = file.columns()
    made.write_bytes(other(made.read_bytes(), how, tmp_path, random.Random(how).choice(["v108", "v110", "latest"])))
    with closing(RecordingFile(made)) as file:
        found = file.columns()
    assert right is not None
    assert found is not None
    assert all((found[name] == values).all() for name, values in right.items())


def test_a_large_chunk_is_unpacked_once_by_a_visit(made: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Of one larger than HDF5 keeps every part costs the whole: a few kB took minutes."""
    with h5py.File(made, "r+", libver=("v110", "v110")) as file:
        file.create_dataset("large", (1 << 20,), "<i8", chunks=(1 << 20,), compression=4)[:] = 0
    asked, real = [], h5py.Dataset.__getitem__
    monkeypatch.setattr(h5py.Dataset, "__getitem__", lambda one, part: (asked.append(one.name), real(one, part))[1])
    assert visit(made) == ""
    assert asked.count("/large") == 1
