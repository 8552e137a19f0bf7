"""A run cut out of a capture that goes on holds exactly the samples of its stretch."""

from __future__ import annotations

from bisect import bisect_left
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from telemetry.errors import RecordingError
from telemetry.recording.cut import cut
from telemetry.recording.journal import JournalWriter, journal_path
from telemetry.recording.load import load
from telemetry.recording.make import make_recording
from telemetry.recording.meta import Meta

HEADER = b"#n,t/ms,colour,refl/%\n#codes,0=none,3=rust\n"
LINES = 200
START_NS = 1_700_000_000_000_000_000
STEP_NS = 10_000_000


def captured(path: Path, piece: int) -> Path:
    """A capture of one line each 10 ms, its bytes in pieces that care for no line."""
    writer = JournalWriter(journal_path(path), Meta(), made_ns=START_NS)
    data = HEADER + b"".join(b"%d,%d,3,%d\n" % (number, number * 10, number % 100) for number in range(LINES))
    ends = [at + 1 - len(HEADER) for at, byte in enumerate(data) if byte == 10 and at >= len(HEADER)]
    for at in range(0, len(data), piece):
        # A piece arrives when the line does that its last byte belongs to.
        line = bisect_left(ends, min(at + piece, len(data)) - len(HEADER))
        writer.received(START_NS + line * STEP_NS, data[at : at + piece])
    writer.close()
    return path


@settings(max_examples=25, deadline=None)
@given(st.integers(7, 90), st.integers(0, 150), st.integers(10, 120))
def test_the_samples_of_the_stretch_and_no_others(
    tmp_path_factory: pytest.TempPathFactory, piece: int, first: int, many: int
) -> None:
    folder = tmp_path_factory.mktemp("cut")
    capture = captured(folder / "long.h5", piece)
    begin_us, end_us = START_NS // 1000 + first * 10_000, START_NS // 1000 + (first + many) * 10_000
    target = folder / "run.h5"
    made = cut(capture, target, begin_us, end_us, Meta(name="run"), marks=[(begin_us + 50_000, "here")])
    recording = load(target)
    numbers = recording.table.columns["n"].astype(np.int64)
    assert recording.meta.name == "run"
    assert (np.diff(numbers) == 1).all(), "nothing is missing in the middle"
    slack = piece // 7 + 2  # a piece holds so many lines, and the line that ends in it
    assert abs(int(numbers[0]) - first) <= slack
    assert abs(int(numbers[-1]) - min(first + many, LINES - 1)) <= slack
    assert recording.table.colours[1] == "rust", "the header before the stretch holds in it"
    assert made.summary.rejected == 0
    assert [mark.text for mark in recording.marks] == ["here"]


def test_the_capture_may_have_become_a_recording_in_the_meantime(tmp_path: Path) -> None:
    capture = captured(tmp_path / "long.h5", 40)
    begin_us = START_NS // 1000 + 500_000
    cut(capture, tmp_path / "early.h5", begin_us, begin_us + 500_000, Meta())
    make_recording(journal_path(capture))
    assert not journal_path(capture).exists()
    cut(capture, tmp_path / "late.h5", begin_us, begin_us + 500_000, Meta())
    early, late = load(tmp_path / "early.h5").table, load(tmp_path / "late.h5").table
    np.testing.assert_array_equal(early.columns["n"], late.columns["n"])


def test_a_time_in_which_nothing_came_is_refused(tmp_path: Path) -> None:
    capture = captured(tmp_path / "long.h5", 40)
    with pytest.raises(RecordingError, match="nothing arrived"):
        cut(capture, tmp_path / "none.h5", 1, 2, Meta())
    assert not (tmp_path / "none.h5").exists()
