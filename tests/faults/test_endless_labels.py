"""Labels that unpack into megabytes, or into lists in lists, are refused; a list holds the beginning of long ones."""

from __future__ import annotations

import json
import weakref
from collections.abc import Callable
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
from recording.streams import stream
from recording.test_recording import write_journal

from telemetry.commands import one_by_one
from telemetry.errors import RecordingError
from telemetry.recording.document import MOST_MOMENTS, unpacked_document
from telemetry.recording.hdf5.attributes import read_bytes, write_document
from telemetry.recording.library import MOST_OF_A_TRUTH, MOST_SHOWN, entries
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import MOST_CHARACTERS, Meta

MUCH = MOST_CHARACTERS + 1
GAP = {"row": 1, "byte": 1, "from_us": 1, "until_us": 2, "reason": ""}
DEEP = json.loads("[" * 900 + "]" * 900)
ENDLESS: dict[str, Callable[[dict[str, Any]], object]] = {
    "remarks": lambda one: one["meta"].update(remarks="a" * MUCH),
    "name": lambda one: one["meta"].update(name="a" * MUCH),
    "tags": lambda one: one["meta"].update(tags=["a"] * 20_000),
    "one tag": lambda one: one["meta"].update(tags=["a" * MUCH]),
    "truth": lambda one: one["meta"].update(truth=["a"] * 20_000),
    "course": lambda one: one["meta"].update(course="a" * (5 << 20)),
    "lists in lists": lambda one: one["meta"].update(theirs=DEEP),
    "colours": lambda one: one["summary"].update(colours=["none", *["a"] * 40_000]),
    "what is said": lambda one: one["summary"].update(remarks=["a"] * 2000),
    "gaps": lambda one: one["summary"].update(gaps=[GAP] * (MOST_MOMENTS + 1)),
    "the link": lambda one: one["summary"].update(link={str(k): k for k in range(2000)}),
    "lists in the link": lambda one: one["summary"].update(link={"theirs": DEEP}),
}


def _labelled(path: Path, change: Callable[[dict[str, Any]], object]) -> Path:
    made = make_recording(write_journal(path, stream(20), Meta(name="run")))[0]
    with h5py.File(made, "r+", libver=("v110", "v110")) as file:
        packed = read_bytes(file.id, "sidelong")
        assert packed is not None
        document = unpacked_document(packed)
        change(document)
        write_document(file, document)
    return made


@pytest.mark.parametrize("what", ENDLESS)
def test_endless_labels_are_refused_with_a_sentence(tmp_path: Path, what: str) -> None:
    made = _labelled(tmp_path / "run.h5", ENDLESS[what])
    assert made.stat().st_size < 1 << 17
    with pytest.raises(RecordingError):
        load(made)
    assert entries(tmp_path)[0].state == "damaged"


def test_a_list_holds_no_more_of_a_label_than_is_read_there(tmp_path: Path) -> None:
    long = "a" * 100_000
    labels = {"name": long, "remarks": long, "tags": ["b"] * 9_000, "truth": [long]}
    made = _labelled(tmp_path / "run.h5", lambda one: one["meta"].update(labels))
    assert load(made).meta.remarks == long
    one = entries(tmp_path)[0]
    assert (one.state, one.name, one.remarks) == ("whole", long[:MOST_SHOWN], long[:MOST_SHOWN])
    assert (one.tags, one.truth) == (("b",) * (MOST_SHOWN - 1), (long[:MOST_OF_A_TRUTH],))


def test_a_journal_with_such_labels_becomes_a_recording_that_can_be_read(tmp_path: Path) -> None:
    journal = write_journal(tmp_path / "run.h5", stream(20), Meta(name="run", more={"kept": [1]}))
    assert load(make_recording(journal)[0]).meta.more == {"kept": [1]}


def test_an_error_that_is_told_at_the_end_holds_nothing_of_its_file(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of hundreds of files that are refused each error held all that had been read of its file."""
    held: list[weakref.ref[np.ndarray[Any, Any]]] = []
    alive: list[list[bool]] = []

    def does(path: Path) -> None:
        read = np.zeros(1000)
        held.append(weakref.ref(read))
        try:
            int("no number")
        except ValueError as error:
            raise RecordingError("refused", where=str(path)) from error

    monkeypatch.setattr(one_by_one, "told", lambda _failed: alive.append([one() is not None for one in held]) or 3)
    assert one_by_one.one_by_one([Path("a"), Path("b")], does) == 3
    assert alive == [[False, False]]
