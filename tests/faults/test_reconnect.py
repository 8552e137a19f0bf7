"""A cable pulled and plugged in again: the same recording goes on, the gap is marked, no line is made of two halves."""

from __future__ import annotations

import math
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from recording.streams import HEADER, line

from telemetry.recording.capture import Capture
from telemetry.recording.follow import Follower
from telemetry.recording.load import load
from telemetry.recording.meta import Meta
from telemetry.sources import open_source

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="pseudo-terminals stand for cables")


class Cable:
    """A pseudo-terminal behind a name of its own, as a board behind /dev/ttyACM0."""

    def __init__(self, name: Path) -> None:
        import tty

        self.master, self._slave = os.openpty()
        tty.setraw(self._slave)
        self.name = name
        name.symlink_to(os.ttyname(self._slave))

    def send(self, data: bytes) -> None:
        os.write(self.master, data)

    def pull(self) -> None:
        self.name.unlink()
        os.close(self._slave)
        os.close(self.master)


def until(true: Callable[[], bool]) -> None:
    end = time.monotonic() + 20
    while not true():
        assert time.monotonic() < end
        time.sleep(0.002)


def test_a_pulled_cable_is_a_gap_in_the_same_recording(tmp_path: Path) -> None:
    cable = Cable(tmp_path / "ttyACM0")
    source = open_source(str(cable.name), reconnect_s=math.inf)
    capture = Capture(source, tmp_path / "run.h5", Meta())
    capture.start()
    watcher = Follower(tmp_path / "run.h5")
    half = line(10)
    cable.send(HEADER + b"".join(map(line, range(10))) + half[:15])
    size = len(HEADER) + sum(len(line(i)) for i in range(10)) + 15
    until(lambda: capture.received == size)
    cable.pull()
    until(lambda: (watcher.poll(), watcher.link_is_down)[1])
    assert watcher.table.rows == 10
    again = Cable(tmp_path / "ttyACM0")
    again.send(half[15:] + b"".join(map(line, range(20, 30))))
    until(lambda: (watcher.poll(), watcher.table.rows == 20)[1])
    assert not watcher.link_is_down
    capture.stop()
    capture.close()
    again.pull()
    watcher.close()
    run = load(tmp_path / "run.h5")
    (gap,) = run.gaps
    assert (gap.row, gap.byte) == (10, size)
    assert run.table.columns["n"].tolist() == [*range(10), *range(20, 30)]
    assert [kept.raw for kept in run.table.rejected] == [half[:15], half[15:-1]]
