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
from telemetry.recording.journal.reader import JournalReader
from telemetry.recording.journal.records import JournalWriter, Record, RecordKind, journal_path
from telemetry.recording.journal.trail import MOST, Trail
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


EVENTS = st.lists(
    st.tuples(
        st.sampled_from(
            [b"1,2,3\n", b"4,5", b"\n", b"6\n7,8\n9", b"#codes,0=none,4=leaf\n", b"#n,t/ms,co", b"lour,refl/%\n", None]
        ),
        st.sampled_from([0, 1, 1, 2, 5, -3]),
    ),
    min_size=1,
    max_size=40,
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(EVENTS, st.integers(0, 40), st.integers(1, 30), st.integers(40, 400))
def test_from_a_trail_the_same_is_cut_as_from_the_beginning(
    tmp_path_factory: pytest.TempPathFactory,
    events: list[tuple[bytes | None, int]],
    first: int,
    many: int,
    most: int,
) -> None:
    """With half lines, headers that change, links that drop and clocks that are set back."""
    folder = tmp_path_factory.mktemp("trail")
    capture = folder / "long.h5"
    writer = JournalWriter(journal_path(capture), Meta(), made_ns=START_NS)
    writer.received(START_NS, HEADER)
    at_ns = START_NS
    for data, later in events:
        at_ns += later * STEP_NS
        if data is None:
            writer.gap(at_ns, "unplugged")
        else:
            writer.received(at_ns, data)
    writer.close()
    trail, reader = Trail(apart_ns=STEP_NS), JournalReader(journal_path(capture))
    while records := reader.read(most=most):
        trail.pass_by(records, reader.place, reader.number)
    reader.close()
    begin_us = START_NS // 1000 + first * STEP_NS // 1000
    end_us = begin_us + many * STEP_NS // 1000
    made: list[object] = []
    for name, given_trail in (("whole.h5", None), ("trail.h5", trail)):
        try:
            cut(capture, folder / name, begin_us, end_us, Meta(id="same"), trail=given_trail)
        except RecordingError as error:
            made.append(str(error))
            continue
        recording = load(folder / name)
        columns = {key: column.tolist() for key, column in recording.table.columns.items()}
        made.append((repr(columns), recording.summary, recording.meta))
    assert made[0] == made[1]


def test_a_trail_of_many_hours_takes_no_more_room() -> None:
    trail = Trail(apart_ns=STEP_NS)
    for number in range(20 * MOST):
        trail.pass_by([Record(RecordKind.BYTES, START_NS + number * STEP_NS, b"1\n")], number, number)
    assert MOST // 4 < len(trail._waypoints) <= MOST
    end_ns = START_NS + 20 * MOST * STEP_NS
    for before_ns in range(START_NS + 1, end_ns, 1000 * STEP_NS):
        found = trail.before(before_ns)
        assert found is not None
        assert 0 < before_ns - found.newest_ns < (end_ns - START_NS) / (MOST // 4)


def test_on_a_trail_what_was_before_is_not_read_again(tmp_path: Path) -> None:
    """What stands before the place is spoilt on purpose: nobody notices, because nobody looks."""
    capture = captured(tmp_path / "long.h5", 40)
    trail, reader = Trail(apart_ns=STEP_NS), JournalReader(journal_path(capture))
    while records := reader.read(most=200):
        trail.pass_by(records, reader.place, reader.number)
    reader.close()
    begin_us = START_NS // 1000 + 1_000_000
    waypoint = trail.before(begin_us * 1000)
    assert waypoint is not None
    assert waypoint.place > journal_path(capture).stat().st_size // 3
    spoilt = bytearray(journal_path(capture).read_bytes())
    begin = 1000  # behind the first record
    assert begin < waypoint.place
    spoilt[begin : waypoint.place] = bytes(waypoint.place - begin)
    journal_path(capture).write_bytes(spoilt)
    cut(capture, tmp_path / "run.h5", begin_us, begin_us + 500_000, Meta(), trail=trail)
    assert load(tmp_path / "run.h5").table.rows > 45


def test_the_first_and_the_last_moment_of_the_stretch_are_in_it(tmp_path: Path) -> None:
    capture = captured(tmp_path / "long.h5", 1)  # each byte comes alone, so the moment of a line is its own
    begin_us, end_us = (START_NS + number * STEP_NS for number in (40, 60))
    cut(capture, tmp_path / "run.h5", begin_us // 1000, end_us // 1000, Meta(name="run"))
    assert load(tmp_path / "run.h5").table.columns["n"].astype(int).tolist() == list(range(40, 61))
