"""What the serial driver counts. The structure is <linux/serial.h>'s; its answer is played, as no real port is at hand."""

from __future__ import annotations

import os
import struct
import sys
from typing import Any

import pytest

from telemetry.report.link_words import LineFlow, budget_words, connected_words, loss_words, totals_words
from telemetry.sources.link_health import SerialHealth, TellsHealth
from telemetry.sources.serial.line_counts import LineCounts, line_counts
from telemetry.sources.serial.port import SerialPort

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="TIOCGICOUNT is Linux's")


def told(**counts: int) -> bytes:
    """struct serial_icounter_struct: eleven counters by name, nine ints in reserve."""
    names = ("cts", "dsr", "rng", "dcd", "rx", "tx", "frame", "overrun", "parity", "brk", "buf_overrun")
    return struct.pack("20i", *(counts.get(name, 0) for name in names), *[0] * 9)


def test_overruns_are_those_of_the_chip_and_of_the_systems_buffer(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int]] = []

    def ioctl(descriptor: int, request: int, room: bytes) -> bytes:
        asked.append((descriptor, request))
        assert len(room) == 80
        return told(rx=1000, tx=7, frame=1, parity=2, overrun=3, buf_overrun=40, brk=9)

    monkeypatch.setattr("fcntl.ioctl", ioctl)
    assert line_counts(5) == LineCounts(overruns=43, damaged=3)
    assert asked == [(5, 0x545D)]


def test_counters_that_wrap_count_on() -> None:
    assert LineCounts(-(1 << 31), 0).since(LineCounts((1 << 31) - 1, 0)) == LineCounts(1, 0)


def test_a_pseudo_terminal_does_not_count() -> None:
    ours, theirs = os.openpty()
    try:
        assert line_counts(theirs) is None
        port = SerialPort(os.ttyname(theirs))
        port.open()
        assert isinstance(port, TellsHealth)
        assert port.health() is None
        port.close()
    finally:
        os.close(ours)
        os.close(theirs)


def test_a_port_tells_what_was_lost_since_it_was_opened(monkeypatch: pytest.MonkeyPatch) -> None:
    counts: list[Any] = [told(overrun=5), told(overrun=5), told(overrun=7, buf_overrun=2, frame=1), OSError("unplugged")]

    def ioctl(*_: object) -> bytes:
        answer = counts.pop(0)
        if isinstance(answer, OSError):
            raise answer
        return bytes(answer)

    ours, theirs = os.openpty()
    try:
        port = SerialPort(os.ttyname(theirs))
        monkeypatch.setattr("telemetry.sources.serial.line_counts._ask", ioctl)
        port.open()
        assert port.health() == SerialHealth(0, 0)
        assert port.health() == SerialHealth(overruns=4, damaged=1)
        assert port.health() == SerialHealth(overruns=4, damaged=1), "unplugged: what is known stays"
        port.close()
    finally:
        os.close(ours)
        os.close(theirs)


def test_what_was_lost_is_said_with_the_links_health() -> None:
    well, ill = SerialHealth(0, 0).to_dict(), SerialHealth(overruns=4, damaged=1).to_dict()
    assert "counted" in connected_words(well)
    assert totals_words(well) == "over a serial line: nothing was lost inside this computer"
    assert "at least 4 bytes were lost inside this computer" in totals_words(ill)
    assert "1 byte came damaged" in loss_words(ill)
    flow = LineFlow(41.0, 50.0, lost=False)
    assert budget_words("/dev/ttyUSB0", 115200, ill, flow) == loss_words(ill)
    assert budget_words("/dev/ttyUSB0", 115200, well, flow) == ""
