"""A capture keeps what came, whatever ends it."""

from __future__ import annotations

import errno
import os
import sys
import threading
from contextlib import suppress
from pathlib import Path

import pytest
from faults.faulty_disk import FaultyDisk
from faults.paced import Paced

from recording.sources import Scripted
from recording.streams import HEADER, line, stream
from telemetry.errors import LinkError, StorageError
from telemetry.recording.assemble import CUT_OFF, HEADLESS
from telemetry.recording.capture import Capture
from telemetry.recording.disk.storage import SystemDisk
from telemetry.recording.follow import Follower
from telemetry.recording.journal.records import JournalWriter
from telemetry.recording.load import load
from telemetry.recording.make import recover
from telemetry.recording.meta import Meta
from telemetry.sources.link_change import LinkChange
from telemetry.sources.source import EndOfStream


def wait(capture: Capture) -> None:
    while capture.running:
        capture.wait(1.0)


def captured(path: Path, script: list[bytes | Exception | threading.Event], **options: object) -> Capture:
    capture = Capture(Scripted(script), path, Meta(source="script"), **options)  # type: ignore[arg-type]
    capture.start()
    wait(capture)
    return capture


def test_every_byte_is_kept_to_the_end_of_the_stream(tmp_path: Path) -> None:
    pieces = stream(500)
    capture = captured(tmp_path / "run.h5", [*pieces])
    made = capture.close()
    assert made is not None
    assert made.summary.end == "the stream ended"
    run = load(tmp_path / "run.h5")
    assert run.table.rows == 500
    assert b"".join(data for _, data in run.raw()) == b"".join(pieces)
    assert [path.name for path in tmp_path.iterdir()] == ["run.h5"]


def test_a_drop_is_marked_and_never_bridged(tmp_path: Path) -> None:
    whole = line(10)
    pieces = [HEADER, *map(line, range(10)), whole[:9], LinkChange("dropped", "the cable was pulled"), b"",
              LinkChange("back", "there again", away_s=1.0), whole[9:], *map(line, range(20, 30))]  # fmt: skip
    captured(tmp_path / "run.h5", pieces).close()
    run = load(tmp_path / "run.h5")
    (gap,) = run.gaps
    assert (gap.row, gap.reason) == (10, "the cable was pulled")
    assert gap.until_us is not None
    assert run.table.rows == 20
    assert [(kept.raw, kept.reason) for kept in run.table.rejected] == [(whole[:9], CUT_OFF), (whole[9:-1], HEADLESS)]
    assert run.table.columns["n"].tolist() == [*range(10), *range(20, 30)]


def test_a_header_is_the_first_thing_worth_keeping_after_a_gap(tmp_path: Path) -> None:
    pieces = [HEADER, line(0), LinkChange("dropped", "gone"), LinkChange("back", "there"), HEADER, line(1)]
    captured(tmp_path / "run.h5", pieces).close()
    assert load(tmp_path / "run.h5").table.rows == 2


def test_a_link_lost_for_good_is_an_error_and_the_run_is_kept(tmp_path: Path) -> None:
    capture = captured(tmp_path / "run.h5", [*stream(50), LinkError("the robot is gone", where="COM3")])
    capture.close()
    assert isinstance(capture.error, LinkError)
    assert load(tmp_path / "run.h5").summary.end == "the robot is gone"
    assert load(tmp_path / "run.h5").table.rows == 50


def test_a_source_that_stumbles_ends_the_capture_in_words(tmp_path: Path) -> None:
    capture = captured(tmp_path / "run.h5", [*stream(50), ZeroDivisionError("oops")])
    capture.close()
    assert "ZeroDivisionError: oops" in str(capture.error)
    assert load(tmp_path / "run.h5").table.rows == 50


def test_nothing_arrived_leaves_nothing_behind(tmp_path: Path) -> None:
    assert captured(tmp_path / "run.h5", []).close() is None
    assert list(tmp_path.iterdir()) == []


def test_two_captures_into_one_file_the_second_is_refused(tmp_path: Path) -> None:
    go = threading.Event()
    first = Capture(Scripted([*stream(5), go]), tmp_path / "run.h5", Meta())
    first.start()
    source = Scripted([])
    with pytest.raises(StorageError, match="a capture into this file is running"):
        Capture(source, tmp_path / "run.h5", Meta()).start()
    assert source.closed
    go.set()
    wait(first)
    first.close()
    with pytest.raises(StorageError, match="there already"):
        Capture(Scripted([]), tmp_path / "run.h5", Meta()).start()


def test_any_number_of_followers_see_the_run_grow_and_end(tmp_path: Path) -> None:
    go = threading.Event()
    capture = Capture(Scripted([*stream(20), go, *map(line, range(20, 40))]), tmp_path / "run.h5", Meta(name="live"))
    capture.start()
    followers = [Follower(tmp_path / "run.h5") for _ in range(3)]
    for follower in followers:
        while follower.table.rows < 20:
            capture.wait(1.0)
            follower.poll()
        assert follower.state == "growing"
        assert follower.meta.name == "live"
    go.set()
    wait(capture)
    capture.close()
    for follower in followers:
        while follower.poll():
            pass
        assert (follower.state, follower.table.rows) == ("ended", 40)
        follower.close()


class SleepyClock:
    """A computer that slept for an hour after the hundredth question; its steady clock left the hour out."""

    def __init__(self) -> None:
        self._asked = 0

    def steady_ns(self) -> int:
        self._asked += 1
        return self._asked * 1_000_000

    def unix_ns(self) -> int:
        return 1_764_000_000_000_000_000 + self._asked * 1_000_000 + self.slept_ns()

    def slept_ns(self) -> int:
        return 3_600_000_000_000 if self._asked > 100 else 0


class SetClock(SleepyClock):
    """A wall clock that somebody, or the network, sets forward by an hour while the computer is awake."""

    def unix_ns(self) -> int:
        return 1_764_000_000_000_000_000 + self._asked * 1_000_000 + super().slept_ns()

    def slept_ns(self) -> int:
        return 0


def test_a_computer_that_slept_has_a_gap(tmp_path: Path) -> None:
    captured(tmp_path / "run.h5", [*stream(100)], clock=SleepyClock()).close()
    run = load(tmp_path / "run.h5")
    (gap,) = run.gaps
    assert "slept for 3600 s" in gap.reason
    arrivals = run.table.columns["arrival_us"]
    assert arrivals[-1] - arrivals[0] > 3_600_000_000
    assert (arrivals[1:] >= arrivals[:-1]).all()


def test_a_wall_clock_set_forward_makes_no_gap_and_rejects_no_sample(tmp_path: Path) -> None:
    captured(tmp_path / "run.h5", stream(100), clock=SetClock()).close()
    run = load(tmp_path / "run.h5")
    assert run.gaps == []
    assert run.table.rejected == []
    assert run.table.rows == 100
    arrivals = run.table.columns["arrival_us"]
    assert 0 <= arrivals[-1] - arrivals[0] < 60_000_000


class HeldClock:
    """Both clocks agree, and pass only when somebody moves them on."""

    def __init__(self) -> None:
        self.passed_ns = 0

    def steady_ns(self) -> int:
        return self.passed_ns

    def unix_ns(self) -> int:
        return 1_764_000_000_000_000_000 + self.passed_ns

    def slept_ns(self) -> int:
        return 0


def test_a_computer_that_stood_still_has_a_gap(tmp_path: Path) -> None:
    """A program that was stopped, a virtual machine on hold: no clock says so, but a read took ten seconds."""
    clock = HeldClock()

    class Halting(Scripted):
        def read(self, timeout_s: float) -> bytes:
            data = super().read(timeout_s)
            clock.passed_ns += 10_000_000_000 if data == line(60) else 1_000_000
            return data

    capture = Capture(Halting([HEADER, *map(line, range(100))]), tmp_path / "run.h5", Meta(), clock=clock)
    capture.start()
    wait(capture)
    capture.close()
    run = load(tmp_path / "run.h5")
    (gap,) = run.gaps
    assert "stood still for 10 s" in gap.reason
    assert run.table.rows == 99, "the line after it may be two halves"
    assert [rejected.reason for rejected in run.table.rejected] == [HEADLESS]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows lets nobody remove or rename a file that is open")
@pytest.mark.parametrize("how", ["removed", "renamed", "folder renamed"])
def test_a_journal_that_somebody_takes_away_is_put_back(tmp_path: Path, how: str) -> None:
    taken = threading.Event()
    folder = tmp_path / "runs"
    capture = Capture(Scripted([*stream(50), taken, *map(line, range(50, 80))]), folder / "run.h5", Meta())
    capture.start()
    journal = folder / "run.h5.journal"
    follower = Follower(folder / "run.h5")
    while follower.table.rows < 49:
        capture.wait(1.0)
        while follower.poll():
            pass
    if how == "removed":
        journal.unlink()
    elif how == "renamed":
        journal.rename(folder / "elsewhere.journal")
    else:
        folder.rename(tmp_path / "elsewhere")
    taken.set()
    wait(capture)
    capture.close()
    follower.close()
    assert load(folder / "run.h5").table.rows == 80


def test_a_follower_goes_on_in_a_journal_that_was_put_back(tmp_path: Path) -> None:
    now = [0.0]
    writer = JournalWriter(tmp_path / "run.h5.journal", Meta().begun(), made_ns=1)
    follower = Follower(tmp_path / "run.h5", clock=lambda: now[0])
    writer.received(1, b"".join([HEADER, *map(line, range(20))]))
    while follower.poll():
        pass
    assert not writer.keep_name()
    writer.path.rename(tmp_path / "elsewhere")
    assert writer.keep_name()
    writer.received(2, b"".join(map(line, range(20, 40))))
    for _ in range(4):
        now[0] += 1.0
        follower.poll()
    assert (follower.state, follower.table.rows) == ("growing", 40)
    writer.end(3)
    writer.close()
    while follower.poll():
        pass
    assert (follower.state, follower.table.rows) == ("ended", 40)


def test_a_name_that_no_disk_takes_is_said(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="too long"):
        Capture(Scripted([]), tmp_path / ("x" * 300 + ".h5"), Meta()).start()


def test_a_drive_that_vanishes_is_said_and_what_came_before_is_kept(tmp_path: Path) -> None:
    def gone(what: str) -> None:
        if what in {"append", "sync"}:
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    pieces = stream(50)
    capture = Capture(Paced(pieces), tmp_path / "run.h5", Meta(), disk=FaultyDisk(30, gone), sync_s=1.0)
    capture.start()
    wait(capture)
    with suppress(StorageError):
        capture.close()
    assert "the disk does not answer" in str(capture.error)
    recover(tmp_path)
    rows = load(tmp_path / "run.h5").table.rows
    assert 20 < rows < 50


class SmallDisk(SystemDisk):
    """A disk with little room, and less with every question."""

    def __init__(self, *free: int) -> None:
        self._free = list(free)

    def free_bytes(self, folder: Path) -> int:
        return self._free.pop(0) if len(self._free) > 1 else self._free[0]


def test_a_disk_that_hangs_holds_up_no_reading(tmp_path: Path) -> None:
    """However long one write takes, lines go on being read, and all of them are kept once the disk comes back."""
    begin, free, read_all = threading.Event(), threading.Event(), threading.Event()

    def hang(what: str) -> None:
        if what == "append" and begin.is_set():
            assert free.wait(60)

    class Told(Scripted):
        def read(self, timeout_s: float) -> bytes:
            try:
                return super().read(timeout_s)
            except EndOfStream:
                read_all.set()
                raise

    path = tmp_path / "run.h5"
    capture = Capture(Told([begin, *stream(3000)]), path, Meta(source="script"), disk=FaultyDisk(0, hang))
    capture.start()
    begin.set()
    came_through = read_all.wait(20)
    free.set()
    wait(capture)
    capture.close()
    assert came_through
    assert load(path).table.rows == 3000


def test_too_little_room_is_said_before(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="only 10 MB are free"):
        Capture(Scripted([]), tmp_path / "run.h5", Meta(), disk=SmallDisk(10 << 20)).start()
    assert list(tmp_path.iterdir()) == []


def test_a_disk_that_fills_up_ends_the_capture_and_keeps_it(tmp_path: Path) -> None:
    never = threading.Event()
    disk = SmallDisk(100 << 20, 5 << 20)
    capture = captured(tmp_path / "run.h5", [*stream(50), never], disk=disk, sync_s=0.01)
    capture.close()
    assert "nearly full (5 MB left)" in str(capture.error)
    assert load(tmp_path / "run.h5").table.rows == 50


@pytest.mark.skipif(sys.platform == "win32", reason="locks of POSIX")
def test_a_drive_without_locks_still_tells_a_running_capture_from_an_orphan(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import fcntl

    def unknown(fd: int, how: int) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(fcntl, "flock", unknown)
    go = threading.Event()
    capture = Capture(Scripted([*stream(20), go]), tmp_path / "run.h5", Meta(), sync_s=0.01)
    capture.start()
    assert recover(tmp_path) == []
    journal = tmp_path / "run.h5.journal"
    os.utime(journal, (1.0, 1.0))
    while journal.stat().st_mtime < 2:
        capture.wait(0.01)
    assert recover(tmp_path) == []
    go.set()
    wait(capture)
    capture.close()
    left = JournalWriter(tmp_path / "left.h5.journal", Meta(), made_ns=1)
    left.received(1, b"".join(stream(5)))
    left.close()
    assert recover(tmp_path) == []
    os.utime(left.path, (1.0, 1.0))
    assert [found.rows for found in recover(tmp_path)] == [5]
